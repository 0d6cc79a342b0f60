"""What the arresters carry in each alternative, side by side: the table that shows what a bond,
another placement or another card does to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.cells import cell_len
from rich.console import RenderableType
from rich.text import Text

from surgesim.report import numbers
from surgesim.report.blocks import heading, indented, plain_table
from surgesim.report.view import Record, View

_FACTORS = 42
"""Columns beyond which the alternatives are named in one column."""


def table(view: View) -> Iterator[RenderableType]:
    """The largest charge through one element of each slot, one row an alternative.

    Nothing where fewer than two alternatives have an arrester.
    """
    rows = [(entry, _largest(view.cases_of(entry))) for entry in view.entries]
    rows = [(entry, largest) for entry, largest in rows if largest]
    slots = list(dict.fromkeys(name for _, largest in rows for name in largest))
    if len(rows) < 2:
        return
    yield heading(
        "Charge through the arresters", aside="the hardest worked element, and of its rating"
    )
    heads = list(view.factors)
    names = [[level or "-" for level in view.levels(entry)] for entry, _ in rows]
    if _width([heads, *names]) > _FACTORS:
        heads, names = ["alternative"], [[view.label(entry)] for entry, _ in rows]
    drawn = plain_table()
    for head in heads:
        drawn.add_column(head, overflow="fold", max_width=34)
    for slot in slots:
        drawn.add_column(slot, overflow="fold", justify="right")
    for (_, largest), cells in zip(rows, names, strict=True):
        charges = [_cell(largest.get(slot)) for slot in slots]
        drawn.add_row(*map(Text, [*cells, *charges]))
    yield indented(drawn, 2)


def _largest(cases: Sequence[Record]) -> dict[str, Record]:
    """Of each slot the element that carries most over all cases of an alternative."""
    found: dict[str, Record] = {}
    for case in cases:
        for record in case["arresters"]:
            known = found.get(record["name"])
            if known is None or record["charge_c"] > known["charge_c"]:
                found[record["name"]] = record
    return found


def _cell(record: Record | None) -> str:
    if record is None:
        return numbers.ABSENT
    charge, share = numbers.quantity(record["charge_c"], "C"), record["shares"].get("charge")
    return charge if share is None else f"{charge}, {numbers.share(share)}"


def _width(rows: Sequence[Sequence[str]]) -> int:
    return sum(max(cell_len(text) for text in column) + 2 for column in zip(*rows, strict=True))
