"""Whether a peak is one: what still grows where the record ends has not reached it."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from surgesim.findings.measured import Measured
from surgesim.findings.record import Array

LAST_TENTH = 0.9
STILL_RISING = 0.01
"""A peak at the very end that outgrew by 1 % all before the last tenth is no peak yet."""


def peak_reached(
    time: Array, values: Array, *, negligible: float, unit: Literal["V", "A"], where: str
) -> Measured:
    """By how much of itself the peak grew in the last tenth of the record.

    Where it lies at the very end, and counted by its deviation from what stood before the
    surge: a standing voltage regained at the end is not a growing one, and one that turned
    around is growing however much stood there before. Below ``negligible``, in ``unit``, a
    deviation is not worth refusing.
    """
    quantity = {"V": "voltage", "A": "current"}[unit]
    return Measured(
        name="peak within the window",
        worst=_growth(time, values, negligible),
        limit=STILL_RISING,
        unit="share",
        where=where,
        told=f"the {quantity} is still rising at the end of the window ({time[-1]:.3g} s), "
        "its peak is not known",
        hint="lengthen the tail window",
    )


def _growth(time: Array, values: Array, negligible: float) -> float:
    size = float(abs(values[-1]))
    deviation = float(values[-1] - values[0])
    if size < 0.999 * float(np.max(abs(values))) or abs(deviation) <= negligible:
        return 0.0
    same_way = (values[time <= LAST_TENTH * time[-1]] - values[0]) * np.sign(deviation)
    earlier = float(np.max(same_way, initial=0.0))
    if earlier <= 0.0:
        return math.inf
    return max(abs(deviation) / earlier - 1.0, 0.0)
