"""Who fails and who holds: every equipment by its worst terminal, what fires first comes first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.numerical import marked
from surgesim.report.view import VERDICTS, Record, View, badness, fired, severity

TITLE = "Who fails, who holds"
ASIDE = "each by its worst terminal; what fires first comes first"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """One equipment under one alternative.

    Of ``cases`` run its insulation fired in ``fires``, and in ``first`` of them no other's had
    fired before.
    """

    equipment: str
    worst: Record
    fires: int
    first: int
    cases: int


def fates(entry: Record, view: View) -> list[Fate]:
    """Every equipment of an alternative: those that fire first, then by how badly they fare."""
    cases = view.cases_of(entry)
    fires: dict[str, int] = {}
    first: dict[str, int] = {}
    for case in cases:
        times = _fired_at(case)
        for name, at in times.items():
            fires[name] = fires.get(name, 0) + 1
            first[name] = first.get(name, 0) + (at == min(times.values()))
    worst: dict[str, Record] = {}
    for record in entry["terminals"]:
        name = str(record["equipment"])
        if name not in worst or badness(record) > badness(worst[name]):
            worst[name] = record
    found = [
        Fate(
            equipment=name, worst=record, fires=fires.get(name, 0), first=first.get(name, 0),
            cases=len(cases),
        )
        for name, record in worst.items()
    ]  # fmt: skip
    return sorted(
        found, key=lambda fate: (fate.first, fate.fires, badness(fate.worst)), reverse=True
    )


def sentence(entry: Record, view: View) -> str:
    """All equipment of an alternative in one line: what fires, and in which order, then the rest.

    ``modules fire first in 8 of 8 cases; exceeded: controller; holds: data port``
    """
    found = fates(entry, view)
    parts = [f"{fate.equipment}: {firing(fate)}" for fate in found if fate.fires]
    for verdict in reversed(VERDICTS):
        names = [f.equipment for f in found if not f.fires and f.worst["verdict"] == verdict]
        if names:
            parts.append(f"{verdict}: {', '.join(names)}")
    return "; ".join(parts)


def firing(fate: Fate) -> str:
    """In how many cases its insulation fires, and in how many before any other."""
    if not fate.fires:
        return numbers.ABSENT
    of = f"of {fate.cases} case{'' if fate.cases == 1 else 's'}"
    if fate.first == fate.fires:
        return f"fires first in {fate.first} {of}"
    order = f"first in {fate.first}" if fate.first else "never first"
    return f"fires in {fate.fires} {of}, {order}"


def table(entry: Record, view: View) -> Iterator[RenderableType]:
    """One alternative's equipment, a row each."""
    found = fates(entry, view)
    if not found:
        return
    yield heading(TITLE, aside=ASIDE)
    heads = ["worst terminal", "verdict", "peak", "limit", "margin", "first"]
    yield from grouped_table(heads, [Rows(name="", cells=[_cells(fate) for fate in found])])
    if any(fate.fires for fate in found):
        yield paragraph("First: in how many of the cases its insulation fires before any other.")


def _cells(fate: Fate) -> list[str]:
    worst = fate.worst
    margin = worst["margin_percent"]
    void = severity(worst["verdict"]) == VERDICTS.index("void")
    if fired(worst):
        peak = f"fires {numbers.stated(worst['insulation']['level_v'], 'V')}"
    else:
        peak = numbers.apart(abs(worst["peak_v"]), worst["withstand_v"], "V")
        peak = marked(peak, worst, "peak_v")
    return [
        f"{fate.equipment}, {worst['pair']}",
        str(worst["verdict"]),
        peak,
        numbers.stated(worst["withstand_v"], "V"),
        numbers.ABSENT if margin is None or void else numbers.margin(margin),
        f"{fate.first} of {fate.cases}" if fate.fires else numbers.ABSENT,
    ]


def _fired_at(case: Record) -> dict[str, float]:
    """When the insulation of each equipment first fired in a case, s."""
    times: dict[str, float] = {}
    terminals: Sequence[Record] = case["terminals"]
    for record in terminals:
        if fired(record) and record["insulation"].get("fired_at_s") is not None:
            name, at = str(record["equipment"]), float(record["insulation"]["fired_at_s"])
            times[name] = min(times.get(name, at), at)
    return times
