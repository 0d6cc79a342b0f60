"""Tables in groups: one head, then under each group's name its rows, all columns aligned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from rich.console import RenderableType
from rich.text import Text

from surgesim.report.blocks import indented, plain_table, prose, verdict

_WIDTH = 78  # 80 columns less the rows' indent


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """The rows under one name: the first cell says what a row is about, the rest are numbers."""

    name: str
    cells: Sequence[Sequence[str]]
    aside: str = ""
    notes: Sequence[str] = ()


def grouped_table(heads: Sequence[str], groups: Sequence[Rows]) -> Iterator[RenderableType]:
    """The groups one under the other; a column whose head is ``verdict`` is coloured as such.

    The first column takes what the numbers leave of the line and breaks if that is too little.
    """
    rows = [heads, *(cells for group in groups for cells in group.cells)]
    widths = [
        max(cell_len(line) for cell in column for line in cell.split("\n"))
        for column in zip(*rows, strict=True)
    ]
    widths[0] = max(min(widths[0], _WIDTH - sum(widths[1:]) - len(widths) + 1), 8)
    yield indented(_aligned([heads], heads, widths, style="bold"), 2)
    for group in groups:
        if group.name:
            yield Text.assemble((group.name, "bold"), group.aside)
        yield indented(_aligned(group.cells, heads, widths), 2)
        yield from (indented(prose(note), 2) for note in group.notes)


def _aligned(
    rows: Sequence[Sequence[str]],
    heads: Sequence[str],
    widths: Sequence[int],
    *,
    style: str = "",
) -> RenderableType:
    table = plain_table(gap=1)
    table.show_header = False
    for position, (head, width) in enumerate(zip(heads, widths, strict=True)):
        # A number too wide for its column would go on in the next line; never is it cut off.
        left = position == 0 or head == "verdict"
        table.add_column(
            width=width,
            overflow="fold",
            justify="left" if left else "right",
            vertical="bottom" if style else "top",
            style=style,
        )
    for cells in rows:
        texts = [
            verdict(cell) if head == "verdict" and cell != head else prose(cell)
            for head, cell in zip(heads, cells, strict=True)
        ]
        table.add_row(*texts)
    return table
