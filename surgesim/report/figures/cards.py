"""Plots of model cards: an arrester's voltage over current, a surge's shape over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter
from numpy.typing import NDArray

from surgesim.report import numbers
from surgesim.report.figures.style import FAINT, INK, LIMIT, caption, look, new_figure

_SIZE = (7.0, 4.2)
_SHAPE_SIZE = (9.0, 3.6)


def varistor_curve(
    current: NDArray[np.float64],
    voltage: NDArray[np.float64],
    *,
    name: str,
    level: float,
    nominal_current: float,
    continuous: float | None = None,
    footer: str = "",
) -> Figure:
    """Voltage over current of an arrester, the current on a logarithmic axis.

    ``current`` in A and ``voltage`` in V, shape (n,); only positive currents are drawn.
    ``level`` is the declared voltage protection level Up, V, at ``nominal_current`` In, A;
    ``continuous`` the maximum continuous operating voltage, V.
    """
    forward = current > 0.0
    with look():
        figure = new_figure(*_SIZE)
        ax = figure.subplots()
        ax.semilogx(current[forward], voltage[forward] / 1e3, color=INK)
        ax.axhline(level / 1e3, color=LIMIT, linestyle=(0, (8, 2)), linewidth=1.1)
        ax.axvline(nominal_current, color=FAINT, linestyle=":", linewidth=1.2)
        ax.plot([nominal_current], [level / 1e3], "o", color=LIMIT, ms=6, mfc="white", mew=1.5)
        up, at = numbers.stated(level, "V"), numbers.stated(nominal_current, "A")
        _on_left(ax, level / 1e3, f"Up {up} at In {at}")
        if continuous is not None:
            ax.axhline(continuous / 1e3, color=FAINT, linestyle="--", linewidth=1.0)
            _on_left(ax, continuous / 1e3, f"Ucpv {numbers.stated(continuous, 'V')}", below=True)
        ax.set_xlim(float(current[forward][0]), float(current[forward][-1]))
        ax.set_ylim(0.0, 1.12 * max(float(voltage[forward].max()), level) / 1e3)
        ax.xaxis.set_major_formatter(FuncFormatter(_amperes))
        ax.xaxis.set_minor_formatter(NullFormatter())
        ax.set_xlabel("current (A), logarithmic")
        ax.set_ylabel("voltage (kV)")
        caption(figure, name, footer)
    return figure


def surge_shape(
    time: NDArray[np.float64],
    value: NDArray[np.float64],
    *,
    name: str,
    unit: str,
    front: float | None,
    tail: float | None,
    footer: str = "",
) -> Figure:
    """A surge over time, its front and the whole of it, with T1 and T2 drawn in.

    ``time`` in s, ``value`` in ``unit`` (A or V), shape (m,). ``front`` T1 and ``tail`` T2 in s
    as measured: T1 runs from the virtual origin, where the line through 10 and 90 % (a current)
    or 30 and 90 % (a voltage) cuts zero, and T2 from there to half the peak (IEC 60060-1,
    IEC 62475). None where the shape has no such time.
    """
    shape = value * np.sign(value[np.argmax(np.abs(value))])
    scale, symbol = (1e3, f"k{unit}") if shape.max() >= 1e3 else (1.0, unit)
    ends = [_end(time, front, 4.0), _end(time, tail, 3.0)]
    with look():
        figure = new_figure(*_SHAPE_SIZE)
        axes = figure.subplots(1, 2, sharey=True)
        for ax, end, part in zip(axes, ends, ("front", "whole"), strict=True):
            seconds, word = (1e-3, "ms") if end >= 2e-3 else (1e-6, "us")
            ax.plot(time / seconds, shape / scale, color=INK)
            ax.set_xlim(0.0, end / seconds)
            ax.set_xlabel(f"time, {part} ({word})")
        axes[0].set_ylabel(f"{'current' if unit == 'A' else 'voltage'} ({symbol})")
        axes[0].set_ylim(min(0.0, 1.1 * shape.min() / scale), 1.28 * shape.max() / scale)
        _times(axes, ends, time, shape, scale, front=front, tail=tail, unit=unit)
        caption(figure, name, footer)
    return figure


def _times(
    axes: Sequence[Axes],
    ends: Sequence[float],
    time: NDArray[np.float64],
    shape: NDArray[np.float64],
    scale: float,
    *,
    front: float | None,
    tail: float | None,
    unit: str,
) -> None:
    """T1 over the front and T2 over the whole shape, as dimension lines."""
    peak = float(shape.max())
    if front is None:
        return
    low = 0.1 if unit == "A" else 0.3
    crest = int(np.argmax(shape))
    start = float(np.interp(low * peak, shape[: crest + 1], time[: crest + 1])) - low * front
    seconds = _seconds(ends[0])
    axes[0].plot(
        np.array([start, start + front]) / seconds,
        [0.0, peak / scale],
        color=LIMIT,
        linestyle="--",
        linewidth=1.0,
    )
    _dimension(axes[0], start / seconds, (start + front) / seconds, 1.1 * peak / scale, "T1", front)
    if tail is not None:
        seconds = _seconds(ends[1])
        left, right = start / seconds, (start + tail) / seconds
        swings = abs(float(np.interp(start + tail, time, shape)) - 0.5 * peak) > 0.05 * peak
        height = 1.1 * peak / scale
        _dimension(axes[1], left, right, height, "T2", tail, of_what=", of its envelope" * swings)
        if not swings:
            axes[1].plot([right], [0.5 * peak / scale], "o", color=LIMIT, ms=5)
            axes[1].plot([right, right], [0.5 * peak / scale, height], color=LIMIT, lw=0.7)


def _dimension(
    ax: Axes, left: float, right: float, height: float, sign: str, of: float, *, of_what: str = ""
) -> None:
    arrow = {"arrowstyle": "<->", "color": LIMIT, "shrinkA": 0.0, "shrinkB": 0.0}
    ax.annotate("", (right, height), (left, height), arrowprops=arrow)
    label = f"{sign} {numbers.quantity(of, 's')}{of_what}"
    ax.text(max(left, 0.0), 1.03 * height, label, color=LIMIT, va="bottom")


def _on_left(ax: Axes, height: float, text: str, *, below: bool = False) -> None:
    """A label just above or below a level line, at the left edge."""
    ax.annotate(
        text,
        (0.0, height),
        xycoords=("axes fraction", "data"),
        xytext=(4.0, -3.0 if below else 3.0),
        textcoords="offset points",
        va="top" if below else "bottom",
        color=INK,
        fontsize=8.0,
    )


def _amperes(value: float, _position: int) -> str:
    """A tick of the current axis: ``1 mA``, ``10 kA``."""
    return numbers.stated(value, "A").replace(".0 ", " ")


def _end(time: NDArray[np.float64], of: float | None, times: float) -> float:
    last = float(time[-1])
    return last if of is None else min(times * of, last)


def _seconds(end: float) -> float:
    return 1e-3 if end >= 2e-3 else 1e-6
