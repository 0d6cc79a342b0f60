"""Peaks along the axis of a sweep, and a map over two of its axes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullLocator

from surgesim.report import numbers
from surgesim.report.figures.style import INK, LIMIT, LINES, broken, caption, look, new_figure

if TYPE_CHECKING:
    from surgesim.studies.curves import Curve

_WIDTH, _HEIGHT, _LINE = 9.0, 4.0, 0.17
"""Inches: of a figure, without its legend, and a line of that."""

_LABEL = 110
"""Characters of a line of a legend."""

_MOST_MARKED = 60
"""Values along an axis up to which each is marked."""

_MOST_CELLS = 100
"""Of a map up to which each is given its number."""

_MOST_NAMED = 10
"""Values along a side of a map up to which each is named."""

_BRIGHT = 60.0
"""Percent from which a map's colour is bright."""

_MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")


Named = Sequence[tuple[str, "Curve"]]
"""Curves with their names."""


def curve_figure(
    curves: Named,
    *,
    axis: str,
    unit: str,
    title: str,
    footer: str,
    log: bool,
    scattered: bool = False,
) -> Figure:
    """Worst peaks of one terminal pair along an axis, a line a choice, with the pair's limit.

    Points that are ``scattered`` have no line between them.
    Where the insulation fires there is no peak: such values are marked at the upper edge.
    """
    with look():
        labels = [broken(name, _LABEL) for name, _ in curves]
        lines = sum(label.count("\n") + 1 for label in labels) + 2
        figure = new_figure(_WIDTH, _HEIGHT + _LINE * lines)
        ax = figure.subplots()
        for k, (name, curve) in enumerate(zip(labels, (one for _, one in curves), strict=True)):
            _line(ax, name, curve, k, scattered=scattered)
        first = curves[0][1]
        limit = first.limit
        ax.axhline(limit / 1e3, color=LIMIT, linewidth=1.4)
        ax.annotate(
            first.limit_kind, (1.0, limit / 1e3), xycoords=("axes fraction", "data"),
            xytext=(-2, 3), textcoords="offset points", ha="right", color=LIMIT, fontsize=8.0,
        )  # fmt: skip
        if log:
            _by_ratio(ax, "x")
        ax.set_ylim(bottom=0.0, top=_top(curves))
        ax.set_xlabel(f"{axis} ({unit})" if unit else axis)
        ax.set_ylabel("worst peak, kV")
        if any(reading.peak is None for _, one in curves for reading in one.readings.values()):
            ax.plot([], [], "x", color=INK, markersize=6.0, label="insulation fires, no peak")
        if any(reading.verdict == "void" for _, one in curves for reading in one.readings.values()):
            ax.plot(
                [], [], "o", markersize=7.0, markerfacecolor="white", markeredgecolor=INK,
                label="void: something else has failed first",
            )  # fmt: skip
        # in inches below the axis, whatever the height
        below = -0.62 / _HEIGHT
        ax.legend(loc="upper left", bbox_to_anchor=(0.0, below), borderaxespad=0.0)
        caption(figure, title, footer)
    return figure


def _top(curves: Named) -> float:
    peaks = [abs(r.peak) for _, c in curves for r in c.readings.values() if r.peak is not None]
    return 1.15 * max([curves[0][1].limit, *peaks]) / 1e3


def _line(ax: Axes, name: str, curve: Curve, k: int, *, scattered: bool) -> None:
    points = sorted(curve.readings.items())
    x = np.array([value for value, _ in points])
    y = np.array([math.nan if r.peak is None else abs(r.peak) / 1e3 for _, r in points])
    style: dict[str, Any] = {**LINES[k % len(LINES)], **({"linestyle": ""} if scattered else {})}
    mark = _MARKS[k % len(_MARKS)] if scattered or len(points) <= _MOST_MARKED else ""
    ax.plot(x, y, marker=mark, markersize=4.0, label=name, **style)
    void = np.array([reading.verdict == "void" for _, reading in points])
    ax.plot(
        x[void], y[void], "o", markersize=7.0, markerfacecolor="white",
        markeredgecolor=style["color"],
    )  # fmt: skip
    fired = [value for value, reading in points if reading.peak is None]
    if fired:
        ax.plot(
            fired, [0.985] * len(fired), "x", color=style["color"], markersize=6.0,
            transform=ax.get_xaxis_transform(), clip_on=False,
        )  # fmt: skip


def margin_map(
    x: Sequence[float], y: Sequence[float], margins: np.ndarray, *, x_label: str, y_label: str,
    title: str, footer: str, log: tuple[bool, bool],
) -> Figure:  # fmt: skip
    """The least margin in percent over two axes; ``margins`` (len(y), len(x)), NaN where insulation
    fires or nothing is known. Contours at 0 % and 25 %."""
    with look():
        figure = new_figure(7.5, 5.2)
        ax = figure.subplots()
        drawn = ax.pcolormesh(
            _edges(x, log=log[0]), _edges(y, log=log[1]), margins,
            shading="flat", cmap="cividis", vmin=-100.0, vmax=200.0,
        )  # fmt: skip
        ax.set_facecolor("white")
        known = np.nan_to_num(margins, nan=-100.0)
        if margins.size > _MOST_CELLS and min(known.shape) > 1 and known.min() < 25.0 < known.max():
            lines = ax.contour(x, y, known, levels=[0.0, 25.0], colors=[LIMIT, INK])
            ax.clabel(lines, fmt="%g %%", fontsize=8.0)
        for name, spread in zip("xy", log, strict=True):
            if spread:
                _by_ratio(ax, name)
        _ticks(ax.xaxis, x)
        _ticks(ax.yaxis, y)
        if margins.size <= _MOST_CELLS:
            _numbers(ax, x, y, margins)
        ax.set_xlabel(x_label)
        ax.set_ylabel(y_label)
        ax.grid(visible=False)
        figure.colorbar(drawn, ax=ax, label="least margin, %", extend="both")
        caption(figure, title, footer)
    return figure


def _by_ratio(ax: Axes, name: str) -> None:
    """An axis by ratio with plain numbers at 1, 2 and 5."""
    getattr(ax, f"set_{name}scale")("log")
    axis = ax.xaxis if name == "x" else ax.yaxis
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_locator(NullLocator())


def _edges(values: Sequence[float], *, log: bool) -> np.ndarray:
    """The edges of cells around values, half-way between them as the axis shows it."""
    at = np.log(values) if log else np.asarray(values, dtype=np.float64)
    if len(at) == 1:
        at = np.array([at[0] - 0.5, at[0] + 0.5])
        return np.exp(at) if log else at
    middle = 0.5 * (at[1:] + at[:-1])
    edges = np.concatenate(([2.0 * at[0] - middle[0]], middle, [2.0 * at[-1] - middle[-1]]))
    return np.exp(edges) if log else edges


def _ticks(axis: Axis, values: Sequence[float]) -> None:
    """Few values are named themselves."""
    if len(values) <= _MOST_NAMED:
        axis.set_major_locator(FixedLocator(list(values)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.4g}"))


def _numbers(ax: Axes, x: Sequence[float], y: Sequence[float], margins: np.ndarray) -> None:
    """The margin in each cell."""
    for row, second in zip(margins, y, strict=True):
        for percent, first in zip(row, x, strict=True):
            words = "fires" if math.isnan(percent) else numbers.margin(float(percent))
            bright = math.isnan(percent) or percent > _BRIGHT
            ax.text(
                first, second, words, ha="center", va="center", fontsize=7.5,
                color=INK if bright else "white",
            )  # fmt: skip
