"""Limits in words: how far each alternative may go, and what ends it there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import numbers
from surgesim.report.blocks import Page, heading, indented, paragraph
from surgesim.report.folding import fold
from surgesim.report.sweep import CAUTION, words_of

if TYPE_CHECKING:
    from surgesim.studies.limit import Limit, Probe, Search, Stretch


def render(search: Search, limits: Sequence[Limit]) -> RenderableType:
    """What each alternative's limits are."""
    return Page(_parts(search, limits))


def _parts(search: Search, limits: Sequence[Limit]) -> Iterator[RenderableType]:
    low, high = search.along.levels
    yield heading("Limits", aside=f"of {search.along.name}, {low} to {high}")
    yield paragraph(f"Kept: {search.condition.words}.")
    names = [name for name, _ in limits[0].choice] if limits else []
    rows = [(tuple(level for _, level in one.choice), sentence(one)) for one in limits]
    for row in fold(rows):
        yield Text("")
        yield indented(Text(words_of(names, row.cells), style="bold"), 2)
        yield paragraph(row.outcome, indent=6)
    yield heading("Before you use this")
    yield paragraph(CAUTION)
    yield paragraph(
        f"{search.scan} values were run and each change between two of them closed in on. Where a "
        "line rings, a margin can break and come back between two values that both keep it: "
        "--scan runs more."
    )


def sentence(limit: Limit) -> str:
    """One alternative's limits as a sentence."""
    stretches = limit.stretches
    unknown = f" At {limit.unknown} values a case had no result." if limit.unknown else ""
    if not stretches:
        closest = min(limit.ordered, key=_room)
        return f"Nowhere. Closest at {closest.text}: {_why(closest.worst)}.{unknown}"
    told = " And ".join(_stretch(one) for one in stretches)
    return f"{told}{unknown}"


def _room(probe: Probe) -> float:
    """How far from the condition a probe is, for want of a better one by its margin."""
    margin = None if probe.worst is None else probe.worst["margin_percent"]
    return 1e9 if margin is None else -float(margin)


def _stretch(one: Stretch) -> str:
    if one.below is None and one.above is None:
        return f"Over the whole range; least room at {_worst_end(one)}."
    if one.below is None:
        assert one.above is not None
        return f"Up to {one.last.text}; at {one.above.text} {_why(one.above.worst)}."
    if one.above is None:
        return f"From {one.first.text} on; at {one.below.text} {_why(one.below.worst)}."
    return (
        f"From {one.first.text} to {one.last.text}; at {one.below.text} {_why(one.below.worst)}, "
        f"at {one.above.text} {_why(one.above.worst)}."
    )


def _worst_end(one: Stretch) -> str:
    end = min((one.first, one.last), key=lambda probe: -_room(probe))
    return f"{end.text}, {_why(end.worst)}"


def _why(record: Mapping[str, Any] | None) -> str:
    """What stands at a terminal: ``thin at inverter DC input, plus to pe, 5.1 kV, margin 18 %``."""
    if record is None:
        return "nothing was assessed"
    where = f"{record['verdict']} at {record['equipment']}, {record['pair']}"
    if record["peak_v"] is None:
        return f"{where}, whose insulation fires"
    peak = numbers.quantity(abs(record["peak_v"]), "V")
    on = f" ({record['conditional_on'][0]})" if record["conditional_on"] else ""
    return f"{where}, {peak}, margin {numbers.margin(record['margin_percent'])}{on}"
