"""Spark gaps and gas discharge tubes: one memory from the first avalanche to the arc and back.

How far a discharge has come is one number z, the logarithm of the gap's conductance over that of
the sound gap. It grows while the voltage is above what the gap would hold at its present current,
and decays below that. This one equation gives a sparkover that comes the later, and the higher,
the steeper the voltage (an integral of overvoltage over time), the collapse, the glow, the arc,
its extinction and its return. Its form and its defaults are this project's own; its collapse is
that of Rompe and Weizel, its arc that of Cassie (Z. Phys. 122, 1944; CIGRE report 102, 1939; both
from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SOUND = 1e-10
"""Siemens of a gap in which nothing burns."""

MOST_OVERVOLTAGE = 50.0
"""Where the pace of a discharge stops growing, in units of the overvoltage b."""

DENSEST = 60.0
"""Largest z: 1e16 S, which no discharge comes near. It keeps iterations from overflowing."""

RAMP_RESISTANCE = 50.0
"""Ohm behind the ramp on which an impulse sparkover voltage is defined here."""

RATED_SLOPE = 1e9
"""V/s at which tubes are rated (1 kV/us; ITU-T K.12, from memory)."""

UP_SLOPE = 5e9
"""V/s: 6 kV of a 1.2/50 wave in its front of 1.2 us, at which a gap's Up is tested."""

STATIC_SLOPE = 100.0
"""V/s at which static sparkover voltages are measured (ITU-T K.12, from memory)."""

_FINEST, _SLOWEST = 1e-11, 1e-4
"""Bounds of the time of collapse searched, s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapLaw:
    """Stationary characteristic of a gap and the pace at which its discharge follows.

    With Vs ``sparkover``, Vg ``glow_voltage``, Va ``arc_voltage`` in volt, Ra ``arc_resistance``
    in ohm, Ih ``glow_current`` and It ``transition_current`` in ampere, the gap would hold ::

        Vst(i) = Va + Ra |i| + (Vg - Va)/(1 + (i/It)^2) + (Vs - Vg)/(1 + |i|/Ih)

    and with n ``exponent``, Td ``recovery`` and T0 ``collapse`` in s::

        i = v SOUND e^z,   b = (|v|/Vst(i))^n - 1
        b > 0:  dz/dt = x (1/Td + (1/T0 - 1/Td) x^2/(1 + x^2)),   x = b/(1 + b/50)
        b < 0:  dz/dt = b/Td (1 - e^-z)

    At z = 0 below Vs nothing moves, exactly: a long standing voltage never creeps to a sparkover.
    """

    sparkover: float
    collapse: float
    glow_voltage: float = 80.0
    arc_voltage: float = 20.0
    arc_resistance: float = 5e-3
    glow_current: float = 5e-3
    transition_current: float = 0.5
    recovery: float = 20e-6
    exponent: float = 2.0

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
        if not self.arc_voltage < self.glow_voltage < self.sparkover:
            raise ValueError(
                "expected an arc below the glow below the sparkover voltage but got"
                f" {self.arc_voltage:g} V, {self.glow_voltage:g} V, {self.sparkover:g} V"
            )
        if self.collapse > self.recovery:
            raise ValueError(f"a collapse in {self.collapse:g} s is slower than its recovery")

    @property
    def lit(self) -> float:
        """The z from which a gap counts as fired: it conducts as its glow does, Ih/Vg."""
        return math.log(self.glow_current / self.glow_voltage / SOUND)

    def held(self, i: ArrayLike) -> Array:
        """What the gap would hold at the current ``i`` (A) for ever, V."""
        size = np.abs(np.asarray(i, dtype=np.float64))
        arc = self.arc_voltage + self.arc_resistance * size
        glow = (self.glow_voltage - self.arc_voltage) / (
            1.0 + (size / self.transition_current) ** 2
        )
        dark = (self.sparkover - self.glow_voltage) / (1.0 + size / self.glow_current)
        return np.asarray(arc + glow + dark)[()]

    def current(self, v: ArrayLike, z: ArrayLike) -> Array:
        """Current in A at the voltage ``v`` (V) with the discharge at ``z``."""
        grown = np.exp(np.minimum(np.asarray(z, dtype=np.float64), DENSEST))
        return np.asarray(np.asarray(v) * SOUND * grown)[()]

    def rate(self, v: float, z: float) -> float:
        """dz/dt in 1/s at the voltage ``v`` (V) with the discharge at ``z``."""
        i = abs(v) * SOUND * math.exp(min(z, DENSEST))
        arc = self.arc_voltage + self.arc_resistance * i
        glow = (self.glow_voltage - self.arc_voltage) / (1.0 + (i / self.transition_current) ** 2)
        dark = (self.sparkover - self.glow_voltage) / (1.0 + i / self.glow_current)
        b = (abs(v) / (arc + glow + dark)) ** self.exponent - 1.0
        if b <= 0.0:
            return float(b / self.recovery * (1.0 - math.exp(-z)))
        x = b / (1.0 + b / MOST_OVERVOLTAGE)
        quick = 1.0 / self.collapse - 1.0 / self.recovery
        return float(x * (1.0 / self.recovery + quick * x * x / (1.0 + x * x)))


def ramp_sparkover(law: GapLaw, slope: float) -> float:
    """Largest voltage across a gap on a ramp of ``slope`` V/s behind 50 ohm, in V.

    Classical Runge-Kutta in steps of a twentieth of the time since it passed the static level, or
    a tenth of an e-fold of the conductance.
    """

    def volts(time: float, z: float) -> float:
        return slope * time / (1.0 + RAMP_RESISTANCE * SOUND * math.exp(min(z, DENSEST)))

    def rate(time: float, z: float) -> float:
        return law.rate(volts(time, z), z)

    passed = time = law.sparkover / slope
    z, crest = 0.0, law.sparkover
    while (now := volts(time, z)) > 0.5 * crest:
        crest = max(crest, now)
        pace = rate(time, z)
        h = min(1e-5 * passed + 0.05 * (time - passed), 0.1 / pace if pace > 0.0 else math.inf)
        first = pace
        second = rate(time + h / 2, z + h / 2 * first)
        third = rate(time + h / 2, z + h / 2 * second)
        fourth = rate(time + h, z + h * third)
        z += h / 6 * (first + 2 * second + 2 * third + fourth)
        time += h
    return crest


def calibrated(law: GapLaw, *, impulse: float, slope: float) -> GapLaw:
    """The law whose time of collapse makes it fire at ``impulse`` V on a ramp of ``slope`` V/s.

    The sparkover voltage rises with that time: bisection on its logarithm. Raises ValueError
    where no time gives it.
    """
    low, high = _FINEST, min(_SLOWEST, law.recovery)
    if not ramp_sparkover(replace(law, collapse=low), slope) < impulse:
        raise ValueError(
            f"{impulse:g} V at {slope / 1e9:g} kV/us is too close to the static"
            f" {law.sparkover:g} V: no gap is that quick"
        )
    if not ramp_sparkover(replace(law, collapse=high), slope) > impulse:
        raise ValueError(
            f"{impulse:g} V at {slope / 1e9:g} kV/us is too far above the static"
            f" {law.sparkover:g} V for a gap that recovers in {law.recovery:.2g} s"
        )
    while high > low * (1.0 + 1e-6):
        middle = math.sqrt(low * high)
        if ramp_sparkover(replace(law, collapse=middle), slope) < impulse:
            low = middle
        else:
            high = middle
    return replace(law, collapse=math.sqrt(low * high))


def recovery_for(follow_current: float) -> float:
    """The recovery time (s) of a gap that just ends a follow current of so many A (50 Hz, 230 V).

    4.3 us (100 A / Ifi)^0.75: four fifths of the time at which a gap of 20 V arc no longer goes
    out at the first zero of a follow current behind a power factor of 0.25 to 0.5; computed, own.
    """
    return float(4.3e-6 * (100.0 / follow_current) ** 0.75)
