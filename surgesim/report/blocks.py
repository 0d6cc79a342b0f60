"""The few pieces every printed page is made of: headings, paragraphs, bullets, plain tables."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from surgesim.report.console import HEAD_RULE, VERDICT_STYLES
from surgesim.report.numbers import glued, unglued


class Page:
    """Blocks one under the other, numbers kept with their units."""

    def __init__(self, blocks: Iterable[RenderableType]) -> None:
        self._content = Group(*blocks)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for segment in console.render(self._content, options):
            yield Segment(unglued(segment.text), segment.style, segment.control)


def prose(text: str, *, style: str = "") -> Text:
    """Text whose lines do not break between a number and its unit."""
    return Text(glued(text), style=style)


def heading(title: str, *, aside: str = "", word: str = "") -> RenderableType:
    """A blank line and a heading in capitals; ``word`` colours it as that verdict."""
    text = prose(title.upper(), style=f"bold {VERDICT_STYLES.get(word, '')}".strip())
    if aside:
        text.append_text(prose(f"  ({aside})", style="default not bold"))
    return Group(Text(""), text)


def paragraph(text: str, *, indent: int = 0) -> RenderableType:
    """Running text."""
    return indented(prose(text), indent)


def hanging(head: str, text: str, *, indent: int = 0) -> RenderableType:
    """A paragraph with ``head`` before it and its lines aligned after the head."""
    return indented(_hanging(head, prose(text)), indent)


def bullet(text: str, *, lead: str = "") -> RenderableType:
    """One item of a list; ``lead`` is set off before it."""
    body = prose(text)
    if lead:
        body = Text.assemble((f"{lead}: ", "bold"), body)
    return indented(_hanging("- ", body), 2)


def indented(renderable: RenderableType, columns: int) -> RenderableType:
    """A block moved to the right."""
    return Padding(renderable, (0, 0, 0, columns))


def verdict(word: str) -> Text:
    """A verdict, always as a word; the colour only repeats it."""
    return Text(word, style=VERDICT_STYLES.get(word, ""))


def plain_table(*, rule: bool = False, gap: int = 2) -> Table:
    """A table without lines, columns ``gap`` apart; a rule under its head if ``rule``."""
    return Table(
        box=HEAD_RULE if rule else None,
        show_edge=False,
        pad_edge=False,
        padding=(0, gap, 0, 0),
        header_style="bold",
    )


def _hanging(head: str, body: Text) -> Table:
    grid = Table.grid(padding=0)
    grid.add_column(width=len(head), no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text(head), body)
    return grid
