"""The voltage that a surge's current induces somewhere, over time.

``mutual`` dI/dt of a current that is the same all along its conductor, in closed form from the
current's own formula, or a table: what a return stroke induces
(:mod:`surgesim.physics.stroke_voltage`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import singledispatch

import numpy as np
from numpy.typing import ArrayLike, NDArray

from surgesim.physics.waveforms import CubicExponential, Heidler, Step, Waveform

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Induced:
    """v(t) = mutual dI/dt + table(t), in volt.

    ``mutual`` in H, of either sign; ``table`` holds points (s, V) with straight lines
    between them, from t = 0 on, the last two going on beyond; empty where there is none.
    """

    current: Waveform
    mutual: float
    table: tuple[tuple[float, float], ...] = ()

    def value(self, t: ArrayLike) -> Array:
        """Voltage at the times ``t`` in s."""
        time = np.asarray(t, dtype=np.float64)
        volts: Array = self.mutual * rate(self.current, time)
        if self.table:
            instants, values = np.array(self.table).T
            volts = volts + np.interp(time, instants, values)
        return volts


def times(induced: Induced, factor: float) -> Induced:
    """The same voltage ``factor`` times."""
    points = tuple((time, factor * volts) for time, volts in induced.table)
    return Induced(current=induced.current, mutual=factor * induced.mutual, table=points)


THIN = 5e-4
"""Share of a table's largest voltage by which points may lie off the lines between those kept."""


def thinned(time: Array, volts: Array) -> tuple[tuple[float, float], ...]:
    """The points of a table that its shape needs (Ramer 1972, Douglas and Peucker 1973)."""
    limit = THIN * float(np.max(np.abs(volts)))
    kept, open_ends = {0, len(time) - 1}, [(0, len(time) - 1)]
    while open_ends:
        first, last = open_ends.pop()
        inner = slice(first + 1, last)
        straight = np.interp(time[inner], time[[first, last]], volts[[first, last]])
        off = np.abs(volts[inner] - straight)
        if off.size and off.max() > limit:
            middle = first + 1 + int(np.argmax(off))
            kept.add(middle)
            open_ends += [(first, middle), (middle, last)]
    at = sorted(kept)
    return tuple(zip(time[at].tolist(), volts[at].tolist(), strict=True))


def starts_gently(waveform: Waveform) -> bool:
    """Whether a current's rate of change is zero at its beginning, so that what it induces does
    not jump."""
    return isinstance(waveform, Heidler | CubicExponential | Step)


@singledispatch
def rate(waveform: object, time: Array) -> Array:  # noqa: ARG001
    """Rate of change of a current in A/s at the times ``time`` in s."""
    raise ValueError(f"a {type(waveform).__name__} begins with its steepest rise, at once")


@rate.register
def _(waveform: Heidler, time: Array) -> Array:
    """I/k exp(-t/tau2) (n x/(1+x)^2 / t - x/(1+x) / tau2)."""
    t = np.maximum(time, 1e-30)  # zero has no logarithm; there every power is none
    ratio = t / waveform.front
    below = np.minimum(ratio, 1.0) ** waveform.exponent
    above = np.maximum(ratio, 1.0) ** -waveform.exponent
    rise = below / (below + above)
    left = above / (below + above)
    slope: Array = rise * (waveform.exponent * left / t - 1.0 / waveform.tail)
    return waveform.peak / waveform.correction * slope * np.exp(-t / waveform.tail)


@rate.register
def _(waveform: CubicExponential, time: Array) -> Array:
    t = np.maximum(time, 0.0)
    slope: Array = t**2 * (3.0 - t / waveform.time_constant) * np.exp(-t / waveform.time_constant)
    return waveform.peak * waveform.scale * slope


@rate.register
def _(waveform: Step, time: Array) -> Array:
    rising = (time > 0.0) & (time < waveform.rise)
    turn = np.pi / waveform.rise
    slope: Array = np.where(rising, 0.5 * turn * np.sin(turn * time), 0.0)
    return waveform.peak * slope
