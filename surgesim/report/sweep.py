"""A sweep in words: what was run, and along its first axis where each choice holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import numbers
from surgesim.report.blocks import (
    Page,
    bullet,
    heading,
    indented,
    paragraph,
    plain_table,
    prose,
)
from surgesim.report.folding import fold
from surgesim.report.view import join_words
from surgesim.studies.curves import common, without

if TYPE_CHECKING:
    from surgesim.scenario.axes import Axis
    from surgesim.studies.curves import Choice, Curve, Reading
    from surgesim.studies.sweep import Sweep

CAUTION = "A simulation, not a design approval: local codes and a licensed person decide."

MOST_STRETCHES = 4
"""Changes of verdict along an axis that are told one by one."""


def render(
    sweep: Sweep, *, cases: int, failed: int, along: Axis | None, curves: Sequence[Curve]
) -> RenderableType:
    """What a sweep came to: ``cases`` finished ones, ``failed`` of them without a result."""
    return Page(_parts(sweep, cases, failed, along, curves))


def _parts(
    sweep: Sweep, cases: int, failed: int, along: Axis | None, curves: Sequence[Curve]
) -> Iterator[RenderableType]:
    yield heading("Sweep")
    for one in sweep.plan.axes:
        yield bullet(_levels(one, sampled=sweep.plan.method != "grid"), lead=one.name)
    yield paragraph(_counts(sweep, cases, failed))
    if along is not None:
        yield from _along(along, curves)
    yield from _worst(curves, along)
    yield heading("Before you use this")
    yield paragraph(CAUTION)
    yield paragraph(
        "Verdicts are those at the values that were run. Between two of them, where a line rings, "
        "a peak can be higher than at either."
    )


def _levels(one: Axis, *, sampled: bool) -> str:
    if one.spread is not None:
        how = "by ratio" if one.spread == "log" else "evenly"
        return f"{one.levels[0]} to {one.levels[-1]}, drawn {how}"
    number = len(one.levels)
    if number <= 5:
        return ", ".join(one.levels)
    drawn = ", drawn from" if sampled else ""
    return f"{one.levels[0]} to {one.levels[-1]}, {number} values{drawn}"


def _counts(sweep: Sweep, cases: int, failed: int) -> str:
    points = sweep.plan.number_of_points
    words = [f"{cases} cases at {points} {'point' if points == 1 else 'points'}"]
    words.append(f"{sweep.computed} computed now")
    if sweep.shared:
        words.append(f"{sweep.shared} the same circuit as another and not computed again")
    earlier = cases - sweep.computed - sweep.shared
    if earlier > 0:
        words.append(f"{earlier} finished before")
    if failed:
        words.append(f"{failed} WITHOUT A RESULT")
    return ", ".join(words) + "."


def _along(along: Axis, curves: Sequence[Curve]) -> Iterator[RenderableType]:
    yield heading("Where it holds", aside=f"along {along.name}")
    shared = common(curves)
    if any(level is not None for _, level in shared):
        yield paragraph(f"In all of them: {choice_words(shared)}.")
    curves = without(curves, shared)
    for name, group in by_terminal(curves, folded=False):
        yield Text("")
        yield Text(f"{name}, {_limit(group[0][1])}", style="bold")
        table = plain_table()
        for _ in range(2):
            table.add_column(overflow="fold")
        told = [(levels_of(curve), _stretches(curve, along)) for _, curve in group]
        names = [name for name, _ in group[0][1].choice]
        for row in fold(told):
            table.add_row(prose(words_of(names, row.cells)), prose(row.outcome))
        table.show_header = False
        yield indented(table, 2)


def by_terminal(
    curves: Sequence[Curve], *, folded: bool = True
) -> list[tuple[str, list[tuple[str, Curve]]]]:
    """Each terminal pair by its name with its curves by theirs; equal ones as one if ``folded``."""
    found: dict[tuple[str, str], list[Curve]] = {}
    for curve in curves:
        found.setdefault((curve.equipment, curve.pair), []).append(curve)
    return [
        (
            f"{equipment}, {pair}",
            _folded(group) if folded else [(choice_words(one.choice), one) for one in group],
        )
        for (equipment, pair), group in found.items()
    ]


def levels_of(curve: Curve) -> tuple[str | None, ...]:
    """The levels that tell a curve from others."""
    return tuple(level for _, level in curve.choice)


def _folded(group: Sequence[Curve]) -> list[tuple[str, Curve]]:
    names = [name for name, _ in group[0].choice]
    rows = fold([(levels_of(one), one.outcome) for one in group])
    return [(words_of(names, row.cells), group[row.members[0]]) for row in rows]


def words_of(names: Sequence[str], cells: Sequence[Sequence[str | None]]) -> str:
    """A choice as people read it: ``fitted both, card class I or class II``."""
    parts = []
    for name, levels in zip(names, cells, strict=True):
        named = [level for level in levels if level is not None]
        if named:
            few = join_words(named, "or") if len(named) <= 3 else f"{named[0]} … {named[-1]}"
            parts.append(f"{name} {few}")
    return ", ".join(parts) or "as described"


def _limit(curve: Curve) -> str:
    return f"{curve.limit_kind} {numbers.stated(curve.limit, 'V')}"


def choice_words(choice: Choice) -> str:
    """One choice as people read it."""
    return words_of([name for name, _ in choice], [(level,) for _, level in choice])


def _stretches(curve: Curve, along: Axis) -> str:
    stretches = curve.stretches()
    unit = f" {along.unit}" if along.unit else ""
    if len(stretches) > MOST_STRETCHES:
        held = [x for x, reading in curve.readings.items() if reading.verdict == "holds"]
        return (
            f"changes {len(stretches) - 1} times: holds at {len(held)} of {len(curve.readings)} "
            f"values; {_at(curve, unit)}"
        )
    words = [
        f"{verdict} at {first:g}{unit}" if first == last
        else f"{verdict} from {first:g} to {last:g}{unit}"
        for verdict, first, last in stretches
    ]  # fmt: skip
    return f"{', '.join(words)}; {_at(curve, unit)}"


def _at(curve: Curve, unit: str) -> str:
    x, reading = curve.worst
    return f"worst at {x:g}{unit}: {_outcome(reading)}"


def _outcome(reading: Reading) -> str:
    if reading.peak is None:
        return "its insulation fires"
    margin = numbers.margin(reading.margin)
    return f"{numbers.quantity(abs(reading.peak), 'V')}, margin {margin}"


def _worst(curves: Sequence[Curve], along: Axis | None) -> Iterator[RenderableType]:
    if not curves:
        return
    curve = max(curves, key=lambda one: one.worst[1].badness)
    x, reading = curve.worst
    at = "" if along is None else f" at {along.name} {x:g} {along.unit or ''}".rstrip()
    yield heading("Worst of all")
    yield paragraph(
        f"{curve.equipment}, {curve.pair}: {reading.verdict}, {_outcome(reading)}{at}, "
        f"{choice_words(curve.choice)}; {reading.surge} (case {reading.case})."
    )
