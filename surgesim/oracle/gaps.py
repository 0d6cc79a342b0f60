"""Spark gaps in the march: their law a second time, and one step of it.

Within a step a gap's discharge z goes by the trapezoidal rule, with the voltage at the step's end
for its unknown. What the gap would hold at that end depends on the current there, and falls as it
grows: taken as an unknown too, a step would have several solutions. So it is foreseen, the step is
solved, and both are repeated with what came of it until nothing changes any more.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.oracle.compiled import compiled
from surgesim.oracle.records import Discharges, Gaps

Array = NDArray[np.float64]

SOUND = 1e-10
MOST_OVERVOLTAGE = 50.0
DENSEST = 60.0
"""The constants of :mod:`surgesim.physics.spark_gap`, in its order; a test holds them equal."""

SETTLED = 1e-8
"""Last change of what is foreseen, relative to it, and of z."""

LEAST_OF_A_DISCHARGE = 0.25
"""Of z, by which a discharge may change in a step: a quarter more or less conductance."""


@compiled
def held(i: float, each: Gaps, k: int) -> float:
    """What gap ``k`` would hold at ``i`` ampere for ever, V."""
    size = abs(i)
    share = size / each.transition_current[k]
    arc = each.arc_voltage[k] + each.arc_resistance[k] * size
    glow = (each.glow_voltage[k] - each.arc_voltage[k]) / (1.0 + share * share)
    dark = (each.sparkover[k] - each.glow_voltage[k]) / (1.0 + size / each.glow_current[k])
    return float(arc + glow + dark)


@compiled
def pace(v: float, stands: float, z: float, each: Gaps, k: int) -> tuple[float, float]:
    """dz/dt of gap ``k`` at ``v`` volt where it would hold ``stands``, in 1/s; and d/dv."""
    n, slow = each.exponent[k], 1.0 / each.recovery[k]
    share = abs(v) / stands
    over = share**n - 1.0
    slope = math.copysign(n * share ** (n - 1.0) / stands, v)
    if over <= 0.0:
        left = 1.0 - math.exp(-z)
        return over * slow * left, slope * slow * left
    bent = 1.0 + over / MOST_OVERVOLTAGE
    x = over / bent
    quick = 1.0 / each.collapse[k] - slow
    square = x * x
    steep = slow + quick * square * (3.0 + square) / ((1.0 + square) * (1.0 + square))
    rate = x * (slow + quick * square / (1.0 + square))
    return rate, steep * slope / (bent * bent)


@compiled
def siemens(z: float) -> float:
    """Conductance of a gap whose discharge has come to ``z``."""
    return SOUND * math.exp(min(z, DENSEST))


@compiled
def gap(
    w: float, half: float, going: Discharges, each: Gaps, k: int
) -> tuple[float, float, float, float]:
    """Gap ``k`` at ``w`` volt at the end of a step: v, dv/dw, i, di/dw."""
    rate, slope = pace(w, going.stands[k], going.seen[k], each, k)
    z = going.known[k] + half * rate
    conductance = siemens(z)
    stiffening = w * half * slope if z < DENSEST else 0.0
    return w, 1.0, w * conductance, conductance * (1.0 + stiffening)


@compiled
def begin(w: Array, z: Array, half: float, each: Gaps, going: Discharges) -> None:
    """What a step's beginning, at ``w`` volt and ``z``, settles and foresees for its end."""
    for k in range(len(z)):
        going.stands[k] = held(w[k] * siemens(z[k]), each, k)
        rate, _ = pace(w[k], going.stands[k], z[k], each, k)
        going.known[k] = z[k] + half * rate
        going.seen[k] = going.known[k] + half * rate


@compiled
def foresee(w: Array, half: float, each: Gaps, going: Discharges) -> bool:
    """Foresee again from a step's end solved at ``w`` volt; True where that changes nothing."""
    settled = True
    for k in range(len(w)):
        rate, _ = pace(w[k], going.stands[k], going.seen[k], each, k)
        z = going.known[k] + half * rate
        stands = held(w[k] * siemens(z), each, k)
        near = abs(stands - going.stands[k]) <= SETTLED * stands
        settled = settled and bool(near and abs(z - going.seen[k]) <= SETTLED * max(z, 1.0))
        going.stands[k], going.seen[k] = stands, z
    return settled
