"""Surge wave shapes in closed form.

Every shape is a frozen record with ``value(t)``: its current in A or voltage in V at the times
``t`` in s, zero at and before t = 0. ``peak`` is signed and has the unit of the surge.
Different formulas with the same front and tail differ in their steepness by half as much
again, so ``formula`` goes into every result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

LONGEST_RINGING = 1e3
"""Largest time constant times angular frequency of a damped sine whose shape is measured."""


def _since_zero(t: ArrayLike) -> NDArray[np.float64]:
    """Times with everything before zero moved to zero, where every shape is zero."""
    return np.maximum(np.asarray(t, dtype=np.float64), 0.0)


def _check(peak: float, **positive: float) -> None:
    if not math.isfinite(peak):
        raise ValueError(f"expected a finite peak but got peak={peak}")
    for name, value in positive.items():
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heidler:
    """i(t) = (peak / correction) x / (1 + x) exp(-t / tail) with x = (t / front)^exponent.

    ``front`` (tau1) and ``tail`` (tau2) in s. IEC 62305-1:2010 Annex B with exponent 10; the
    forms of IEC 61000-4-5:2014 for 1.2/50 and 8/20 are the same with a real exponent.
    """

    peak: float
    correction: float
    front: float
    tail: float
    exponent: float

    def __post_init__(self) -> None:
        _check(
            self.peak,
            correction=self.correction,
            front=self.front,
            tail=self.tail,
            exponent=self.exponent,
        )

    @property
    def formula(self) -> str:
        """Name shown with results."""
        return f"Heidler, exponent {self.exponent:g}"

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        t = _since_zero(t)
        ratio = t / self.front
        # x/(1+x) as below/(below+above), so that no power of a large ratio is ever formed
        below = np.minimum(ratio, 1.0) ** self.exponent
        above = np.maximum(ratio, 1.0) ** -self.exponent
        rise: NDArray[np.float64] = below / (below + above)
        return self.peak / self.correction * rise * np.exp(-t / self.tail)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleExponential:
    """peak scale (exp(-decay t) - exp(-rise t)); ``decay`` < ``rise`` in 1/s.

    Kuffel, Zaengl, Kuffel, High Voltage Engineering. No choice of constants gives 8/20.
    """

    formula: ClassVar[str] = "double exponential"

    peak: float
    scale: float
    decay: float
    rise: float

    def __post_init__(self) -> None:
        _check(self.peak, scale=self.scale, decay=self.decay, rise=self.rise)
        if self.decay >= self.rise:
            raise ValueError(
                f"expected decay below rise but got decay={self.decay} and rise={self.rise}"
            )

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        t = _since_zero(t)
        # one exponential times 1 - exp(-x): no cancellation at the foot of the front
        growth = -np.expm1(-(self.rise - self.decay) * t)
        pulse: NDArray[np.float64] = np.exp(-self.decay * t) * growth
        return self.peak * self.scale * pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class CubicExponential:
    """peak scale t^3 exp(-t / time_constant); ``scale`` in 1/s^3, ``time_constant`` in s.

    IEEE Std C62.41.2-2002, the 8/20 current.
    """

    formula: ClassVar[str] = "cubic exponential"

    peak: float
    scale: float
    time_constant: float

    def __post_init__(self) -> None:
        _check(self.peak, scale=self.scale, time_constant=self.time_constant)

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        t = _since_zero(t)
        root: NDArray[np.float64] = t * np.exp(-t / (3.0 * self.time_constant))
        return self.peak * self.scale * root**3


@dataclass(frozen=True, slots=True, kw_only=True)
class DampedSine:
    """(peak / correction) exp(-t / time_constant) sin(angular_frequency t); s and rad/s.

    The current of a series R, L, C discharge into a short circuit, undershoot included.
    """

    formula: ClassVar[str] = "damped sine"

    peak: float
    correction: float
    time_constant: float
    angular_frequency: float

    def __post_init__(self) -> None:
        _check(
            self.peak,
            correction=self.correction,
            time_constant=self.time_constant,
            angular_frequency=self.angular_frequency,
        )

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        t = _since_zero(t)
        swing: NDArray[np.float64] = np.sin(self.angular_frequency * t)
        return self.peak / self.correction * np.exp(-t / self.time_constant) * swing


@dataclass(frozen=True, slots=True, kw_only=True)
class RingWave:
    """peak scale (1 - exp(-t / front)) exp(-t / tail) cos(angular_frequency t); s and rad/s.

    IEEE Std C62.41.2-2002 and IEC 61000-4-12, the 100 kHz ring wave.
    """

    formula: ClassVar[str] = "ring wave"

    peak: float
    scale: float
    front: float
    tail: float
    angular_frequency: float

    def __post_init__(self) -> None:
        _check(
            self.peak,
            scale=self.scale,
            front=self.front,
            tail=self.tail,
            angular_frequency=self.angular_frequency,
        )

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        t = _since_zero(t)
        envelope: NDArray[np.float64] = -np.expm1(-t / self.front) * np.exp(-t / self.tail)
        return self.peak * self.scale * envelope * np.cos(self.angular_frequency * t)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp:
    """Linear to ``peak`` in ``rise`` s, then constant."""

    formula: ClassVar[str] = "ramp"

    peak: float
    rise: float

    def __post_init__(self) -> None:
        _check(self.peak, rise=self.rise)

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        grown: NDArray[np.float64] = np.minimum(_since_zero(t) / self.rise, 1.0)
        return self.peak * grown


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Constant at ``peak`` after a front of half a cosine ``rise`` s long.

    A front of no length has no meaning to an engine that marches in time steps.
    """

    formula: ClassVar[str] = "step"

    peak: float
    rise: float

    def __post_init__(self) -> None:
        _check(self.peak, rise=self.rise)

    def value(self, t: ArrayLike) -> NDArray[np.float64]:
        """Current or voltage at the times ``t`` in s."""
        grown = np.minimum(_since_zero(t) / self.rise, 1.0)
        raised: NDArray[np.float64] = 0.5 * (1.0 - np.cos(math.pi * grown))
        return self.peak * raised


Waveform = Heidler | DoubleExponential | CubicExponential | DampedSine | RingWave | Ramp | Step


def rescaled(waveform: Waveform, peak: float) -> Waveform:
    """The same shape with another ``peak``, in the surge's own unit."""
    return replace(waveform, peak=peak)


def reversed(waveform: Waveform) -> Waveform:
    """The same shape with the opposite polarity."""
    return replace(waveform, peak=-waveform.peak)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeFigures:
    """The figures a surge shape is known by, as measured from the shape itself.

    ``peak``: signed crest, A or V, at ``time_to_peak`` s. ``front`` (T1) and ``tail`` (T2,
    half value on the tail) in s from the virtual origin. ``charge``: integral of |i|, C;
    ``specific_energy``: integral of i^2, J/ohm; both None for a voltage. ``steepest``: largest
    rate of change, A/s or V/s, without sign. ``origin`` is the virtual origin, s. What a shape
    that never falls does not have (tail, charge, specific energy) is None. Of a ring wave, whose
    every swing falls at once, the tail is that of its envelope.
    """

    peak: float
    time_to_peak: float
    origin: float
    front: float
    tail: float | None
    charge: float | None
    specific_energy: float | None
    steepest: float


def shape_figures(waveform: Waveform, *, kind: Literal["current", "voltage"]) -> ShapeFigures:
    """Measure a shape: T1 and T2 per IEC 62475:2010 (current) or IEC 60060-1:2010 (voltage).

    Current: T1 = 1.25 (t90 - t10), origin t10 - 0.1 T1. Voltage: T1 = (t90 - t30) / 0.6,
    origin t30 - 0.3 T1. The integrals run over the whole surge, an undershoot included.
    """
    if waveform.peak == 0.0:
        raise ValueError("a surge with a peak of zero has no shape to measure")
    unit = rescaled(waveform, 1.0)
    t = _sample_times(unit)
    found = sampled_figures(t, unit.value(t), kind=kind, crest=_crest(unit, t))
    size = abs(waveform.peak)
    scaled = replace(found, peak=waveform.peak * found.peak, steepest=size * found.steepest)
    if isinstance(waveform, Ramp | Step):
        return replace(scaled, tail=None, charge=None, specific_energy=None)
    if found.charge is not None and found.specific_energy is not None:
        scaled = replace(
            scaled, charge=size * found.charge, specific_energy=size**2 * found.specific_energy
        )
    if isinstance(waveform, RingWave):
        return replace(scaled, tail=math.log(2.0) * waveform.tail)
    return scaled


def sampled_figures(
    t: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    kind: Literal["current", "voltage"],
    crest: tuple[float, float] | None = None,
) -> ShapeFigures:
    """The same of values ``y`` (A or V) at the times ``t`` (s), from zero to the surge's end.

    ``crest`` is when and how high it peaks, where that is known better than from the samples.
    The tail is None where less than half of the crest is never reached again.
    """
    k = int(np.argmax(y))
    t_peak, top = crest or (float(t[k]), float(y[k]))
    low = 0.1 if kind == "current" else 0.3
    rising = t <= t_peak
    t_low, t_high = np.interp([low * top, 0.9 * top], y[rising], t[rising])
    front = float(t_high - t_low) / (0.9 - low)
    origin = float(t_low) - low * front
    half = _half_value_time(t, y, t_peak, top)
    return ShapeFigures(
        peak=top,
        time_to_peak=t_peak,
        origin=origin,
        front=front,
        tail=None if half is None else half - origin,
        charge=float(np.trapezoid(np.abs(y), t)) if kind == "current" else None,
        specific_energy=float(np.trapezoid(y * y, t)) if kind == "current" else None,
        steepest=float(np.max(np.abs(np.diff(y) / np.diff(t)))),
    )


def _sample_times(waveform: Waveform) -> NDArray[np.float64]:
    """Times from zero to the end of the surge, dense enough for five digits of every figure."""
    if isinstance(waveform, Ramp | Step):
        return np.linspace(0.0, waveform.rise, 40_001)
    shortest, longest = _time_scales(waveform)
    times = np.concatenate(([0.0], np.geomspace(1e-4 * shortest, 40.0 * longest, 40_000)))
    if isinstance(waveform, DampedSine | RingWave):
        if longest * waveform.angular_frequency > LONGEST_RINGING:
            raise ValueError(f"expected a surge that dies out but got a steady ringing: {waveform}")
        step = 2.0 * math.pi / waveform.angular_frequency / 600.0
        times = np.union1d(times, np.arange(0.0, times[-1], step))
    return times


def _crest(waveform: Waveform, t: NDArray[np.float64]) -> tuple[float, float]:
    """Time and value of the largest value, refined between its neighbours in ``t``."""
    k = int(np.argmax(waveform.value(t)))
    fine = np.linspace(t[max(k - 1, 0)], t[min(k + 1, len(t) - 1)], 2001)
    values = waveform.value(fine)
    best = int(np.argmax(values))
    return float(fine[best]), float(values[best])


def _half_value_time(
    t: NDArray[np.float64], y: NDArray[np.float64], t_peak: float, crest: float
) -> float | None:
    """First time after the crest at which half of it is left, s; None if that never comes."""
    below = (t > t_peak) & (y <= 0.5 * crest)
    if not np.any(below):
        return None
    k = int(np.argmax(below))
    share = (y[k - 1] - 0.5 * crest) / (y[k - 1] - y[k])
    return float(t[k - 1] + share * (t[k] - t[k - 1]))


def _time_scales(waveform: Waveform) -> tuple[float, float]:
    """Shortest and longest time constant of a shape, s."""
    match waveform:
        case Heidler():
            return min(waveform.front, waveform.tail), max(waveform.front, waveform.tail)
        case DoubleExponential():
            return 1.0 / waveform.rise, 1.0 / waveform.decay
        case CubicExponential():
            return waveform.time_constant, waveform.time_constant
        case DampedSine():
            period = 1.0 / waveform.angular_frequency
            return min(period, waveform.time_constant), max(period, waveform.time_constant)
        case RingWave():
            shortest = min(waveform.front, waveform.tail, 1.0 / waveform.angular_frequency)
            return shortest, max(waveform.front, waveform.tail)
        case Ramp() | Step():
            return waveform.rise, waveform.rise
