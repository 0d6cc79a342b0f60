"""The model cards as tables: what there is, and one card with the source of every number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from rich.console import RenderableType
from rich.text import Text

from surgesim.report.blocks import Page, heading, indented, plain_table, prose

Card = Mapping[str, str]


def render_list(cards: Sequence[Card]) -> RenderableType:
    """The cards by kind. Each has ``name``, ``kind`` and ``line``, what it is in one line."""
    return Page(_list(cards))


def render_card(name: str, fields: Iterable[Card]) -> RenderableType:
    """One card. Each field has ``field``, ``value`` (with its unit) and ``source``."""
    return Page(_card(name, fields))


def _list(cards: Sequence[Card]) -> Iterator[RenderableType]:
    widest = max((len(card["name"]) for card in cards), default=0)
    for kind in dict.fromkeys(card["kind"] for card in cards):
        yield heading(kind)
        table = plain_table()
        table.show_header = False
        table.add_column(min_width=min(widest, 34), max_width=34, overflow="fold")
        table.add_column(overflow="fold", ratio=1)
        for card in cards:
            if card["kind"] == kind:
                table.add_row(Text(card["name"], style="bold"), prose(card["line"]))
        yield indented(table, 2)


def _card(name: str, fields: Iterable[Card]) -> Iterator[RenderableType]:
    yield Text(name, style="bold")
    table = plain_table(rule=True)
    for column, widest in (("field", 28), ("value", 26)):
        table.add_column(column, max_width=widest, overflow="fold")
    table.add_column("source", overflow="fold", ratio=1)
    for field in fields:
        table.add_row(Text(field["field"]), prose(field["value"]), prose(field["source"]))
    yield table
