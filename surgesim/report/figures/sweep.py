"""The figures of a sweep: curves of each terminal pair, and maps over two axes of numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from surgesim.report.figures.curves import curve_figure, margin_map
from surgesim.report.figures.style import save
from surgesim.report.sweep import CAUTION, by_terminal, choice_words
from surgesim.scenario.axes import number_of
from surgesim.studies.curves import common, main_axis, without

if TYPE_CHECKING:
    from surgesim.scenario.axes import Axis
    from surgesim.studies.curves import Choice, Curve
    from surgesim.studies.points import Plan

MOST_CURVES = 8
"""In one figure: the worst ones."""

MOST_MAPS = 12
"""Of a sweep: the worst ones."""


def sweep_figures(plan: Plan, curves: Sequence[Curve], folder: Path) -> Iterator[Path]:
    """Draw a sweep's ``curves`` into ``folder`` and yield each figure's path.

    Nothing where no axis is one of numbers.
    """
    along = main_axis(plan)
    if along is None or not curves:
        return
    folder.mkdir(exist_ok=True)
    shared = common(curves)
    always = "" if all(level is None for _, level in shared) else f" ({choice_words(shared)})"
    told = without(curves, shared)
    for number, (name, group) in enumerate(by_terminal(told), start=1):
        drawn = sorted(group, key=lambda item: item[1].worst[1].badness, reverse=True)[:MOST_CURVES]
        some = (
            f": the worst {MOST_CURVES} of {len(group)} choices" if len(group) > MOST_CURVES else ""
        )
        figure = curve_figure(
            drawn, axis=along.name, unit=along.unit or "",
            title=name + always + some, footer=CAUTION,
            log=_by_ratio(along), scattered=plan.method != "grid",
        )  # fmt: skip
        path = folder / f"terminal-{number}.png"
        save(figure, path)
        yield path
    across = next((one for one in plan.axes if one != along and one.unit is not None), None)
    if across is not None and plan.method == "grid":
        yield from _maps(along, across, told, always, folder)


def _maps(
    along: Axis, across: Axis, curves: Sequence[Curve], always: str, folder: Path
) -> Iterator[Path]:
    """A map a terminal pair and choice of everything else."""
    found: dict[tuple[str, str, Choice], dict[float, Curve]] = {}
    for curve in curves:
        levels = dict(curve.choice)
        second = levels.pop(across.name)
        assert second is not None
        key = curve.equipment, curve.pair, tuple(levels.items())
        found.setdefault(key, {})[number_of(second)] = curve
    worst_first = sorted(
        found.items(),
        key=lambda item: max(c.worst[1].badness for c in item[1].values()),
        reverse=True,
    )
    for number, ((equipment, pair, choice), rows) in enumerate(worst_first[:MOST_MAPS], start=1):
        x, y = sorted(along.numbers), sorted(rows)
        figure = margin_map(
            x, y, np.array([[_margin(rows[second], first) for first in x] for second in y]),
            x_label=_label(along), y_label=_label(across),
            title=f"{equipment}, {pair}: {choice_words(choice)}{always}", footer=CAUTION,
            log=(_by_ratio(along), _by_ratio(across)),
        )  # fmt: skip
        path = folder / f"map-{number}.png"
        save(figure, path)
        yield path


def _margin(curve: Curve, x: float) -> float:
    reading = curve.readings.get(x)
    return math.nan if reading is None or reading.margin is None else reading.margin


def _label(one: Axis) -> str:
    return f"{one.name} ({one.unit})" if one.unit else one.name


def _by_ratio(one: Axis) -> bool:
    """Whether an axis is spread by ratio rather than evenly."""
    ordered = sorted(one.numbers)
    if ordered[0] <= 0.0:
        return False
    if one.spread is not None or len(ordered) < 3:
        return one.spread == "log"
    return (ordered[-1] - ordered[-2]) > 3.0 * (ordered[1] - ordered[0])
