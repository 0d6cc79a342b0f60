"""The guesses of a study as a table: by how much each, alone, moves the deciding margin."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import bullet, heading, indented, paragraph, plain_table, prose

Record = Mapping[str, Any]
Blocks = Iterator[RenderableType]

TITLE = "Guesses, by how much the deciding margin moves"
HINT = (
    "The guesses among these are not ranked: --influence varies each and shows how far the margin"
    " moves."
)
ALONE = (
    "One guess at a time, in this case alone: two together may move it further, and at the end of"
    " a range another case may be the worst."
)

NOTHING = 0.1
"""Percentage points below which a guess does not count."""


def table(influence: Record) -> Blocks:
    """What decides, each guess that moves it, those that do not, those that cannot be varied."""
    yield heading(TITLE)
    yield paragraph(_deciding(influence))
    moving = [entry for entry in influence["varied"] if moves(entry)]
    if moving:
        yield indented(_rows(moving, influence["base"]), 2)
    still = [entry["what"] for entry in influence["varied"] if not moves(entry)]
    if still:
        yield bullet("; ".join(still), lead=f"moved by less than {NOTHING:g} points by")
    yield from _not_varied(influence["not_varied"])
    yield paragraph(ALONE)


def moves(entry: Record) -> bool:
    """Whether a guess is worth a row: it flips the verdict, or moves the margin."""
    change = entry["change_points"]
    return bool(entry["flips"]) or (change is not None and abs(change) >= NOTHING)


def _deciding(influence: Record) -> str:
    base = influence["base"]
    levels = [level for level in influence["axes"].values() if level is not None]
    where = f" ({' + '.join(levels)})" if levels else ""
    return (
        f"The answer rests on case {influence['case']}{where}, {influence['surge']}:"
        f" {base['equipment']}, {base['pair']}, {_margin(base)}"
        f" ({numbers.percentage(base['asked_percent'])} asked), {base['verdict']}."
        " Each guess was moved to the ends of its range and the case run again by the second"
        " solver."
    )


def _rows(entries: Sequence[Record], base: Record) -> RenderableType:
    rows = plain_table(rule=True)
    rows.add_column("points", justify="right", no_wrap=True)
    rows.add_column("guess", overflow="fold", ratio=1)
    rows.add_column("used", overflow="fold", max_width=13)
    rows.add_column("at each end", overflow="fold", max_width=29)
    for entry in entries:
        ends = "; ".join(_end(end, base) for end in entry["ends"])
        change = entry["change_points"]
        points = numbers.ABSENT if change is None else f"{change:+.1f}"
        words = f"{entry['what']} ({entry['kind']})"
        rows.add_row(prose(points), prose(words), prose(entry["used"]), prose(ends))
    return rows


def _end(end: Record, base: Record) -> str:
    """The value, its margin, the terminal where it is another, the verdict where it flips."""
    if "reason" in end:
        return f"{end['value']}: no result"
    text = f"{end['value']}: {_percent(end)}"
    if (end["equipment"], end["pair"]) != (base["equipment"], base["pair"]):
        text += f" at {end['equipment']}, {end['pair']}"
    return f"{text}, {end['verdict']}" if end["verdict"] != base["verdict"] else text


def _margin(outcome: Record) -> str:
    if outcome["margin_percent"] is None:
        return "no margin"
    return f"margin {_percent(outcome)}"


def _percent(outcome: Record) -> str:
    if outcome["margin_percent"] is None:
        return "fires"
    return f"{outcome['margin_percent']:.1f} %"


def _not_varied(entries: Sequence[Record]) -> Blocks:
    by_reason: dict[str, list[str]] = {}
    for entry in entries:
        by_reason.setdefault(entry["reason"], []).append(entry["what"])
    for reason, names in by_reason.items():
        yield bullet(f"{'; '.join(names)}: {reason}", lead="not varied")


def ranges(influence: Record) -> Blocks:
    """Why each range, for the disclosures."""
    by_reason: dict[str, list[str]] = {}
    for entry in influence["varied"]:
        by_reason.setdefault(entry["range"], []).append(entry["what"])
    for reason, names in by_reason.items():
        yield bullet(reason, lead="; ".join(names))
