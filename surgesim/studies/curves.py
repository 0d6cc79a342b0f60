"""The results of a sweep along one axis: the worst at each value, each choice a curve.

The axis is the first one of numbers. What else is swept or stands under the file's alternatives
tells the curves apart; over surges and what is ``worst of`` the worst counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from surgesim.scenario.axes import Axis, number_of
from surgesim.scenario.factors import ALTERNATIVES, read_factors
from surgesim.studies.points import Plan
from surgesim.studies.worst import Badness, terminal_badness

Choice = tuple[tuple[str, str | None], ...]
"""What tells a curve from others: each factor or axis and its level, None where that makes no
difference."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A terminal at its worst: ``peak`` in V, None where its insulation fires; the verdict, the
    margin in percent, None likewise; the case."""

    peak: float | None
    margin: float | None
    verdict: str
    case: str
    surge: str
    badness: Badness


@dataclass(slots=True, kw_only=True)
class Curve:
    """One choice at one terminal pair: the worst reading at each value of the axis.

    ``limit`` in V is what the pair withstands, or its highest voltage; ``limit_kind`` which.
    """

    equipment: str
    pair: str
    limit: float
    limit_kind: str
    choice: Choice
    readings: dict[float, Reading] = field(default_factory=dict)

    @property
    def worst(self) -> tuple[float, Reading]:
        """Where it is worst, and how bad."""
        return max(self.readings.items(), key=lambda item: item[1].badness)

    @property
    def outcome(self) -> tuple[tuple[float, float | None, str], ...]:
        """What is drawn of it: value, size of the peak to three digits and verdict, in order."""
        return tuple(
            (x, None if r.peak is None else float(f"{abs(r.peak):.3g}"), r.verdict)
            for x, r in sorted(self.readings.items())
        )

    def stretches(self) -> list[tuple[str, float, float]]:
        """Verdicts along the axis: each with the first and the last value that has it."""
        found: list[tuple[str, float, float]] = []
        for x, reading in sorted(self.readings.items()):
            if found and found[-1][0] == reading.verdict:
                found[-1] = reading.verdict, found[-1][1], x
            else:
                found.append((reading.verdict, x, x))
        return found


def main_axis(plan: Plan) -> Axis | None:
    """The axis along which curves run: the first one whose levels are numbers."""
    return next((one for one in plan.axes if one.unit is not None), None)


def curves(plan: Plan, records: Iterable[Mapping[str, Any]], *, along: Axis) -> list[Curve]:
    """The curves of a sweep's finished cases ``along`` one of its axes.

    Where points are sampled, what else is drawn does not tell curves apart: they are one cloud.
    """
    factors = [f.name for f in read_factors(plan.tree, plan.file) if f.role == ALTERNATIVES]
    others = [one.name for one in plan.axes if one != along and one.spread is None]
    found: dict[tuple[str, str, Choice], Curve] = {}
    for record in records:
        case = record["case_found"]
        if "error" in case:
            continue
        levels = {**record["levels"], **case["axes"]}
        choice = tuple((name, levels.get(name)) for name in (*others, *factors))
        x = number_of(record["levels"][along.name])
        for terminal in case["terminals"]:
            key = terminal["equipment"], terminal["pair"], choice
            curve = found.setdefault(key, _curve(terminal, choice))
            _add(curve, x, terminal, case)
    return list(found.values())


def common(curves: Sequence[Curve]) -> Choice:
    """What all curves have in common of what could tell them apart."""
    first = curves[0].choice if curves else ()
    return tuple(item for item in first if all(item in one.choice for one in curves))


def without(curves: Iterable[Curve], shared: Choice) -> list[Curve]:
    """The curves with what they have in common left out of their choices."""
    return [replace(c, choice=tuple(i for i in c.choice if i not in shared)) for c in curves]


def _curve(terminal: Mapping[str, Any], choice: Choice) -> Curve:
    return Curve(
        equipment=terminal["equipment"],
        pair=terminal["pair"],
        limit=terminal["withstand_v"],
        limit_kind=terminal["limit"]["kind"],
        choice=choice,
    )


def _add(curve: Curve, x: float, terminal: Mapping[str, Any], case: Mapping[str, Any]) -> None:
    badness = terminal_badness(terminal)
    held = curve.readings.get(x)
    if held is None or (badness, case["id"]) > (held.badness, held.case):
        curve.readings[x] = Reading(
            peak=terminal["peak_v"],
            margin=terminal["margin_percent"],
            verdict=terminal["verdict"],
            case=case["id"],
            surge=case["surge"],
            badness=badness,
        )
