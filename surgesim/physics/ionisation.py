"""Ionisation of the soil round a compact electrode."""

from __future__ import annotations

import math


def critical_current(resistance: float, soil: float, field: float) -> float:
    """Current Ig in A from which an electrode's resistance falls visibly.

    ``resistance`` R0 in ohm at small currents, ``soil`` resistivity in ohm m, ``field`` E0 in
    V/m at which the soil ionises::

        Ig = soil E0 / (2 pi R0^2),    R = R0 / sqrt(1 + I/Ig)

    Weck, in CIGRE Technical Brochure 63, 1991, and IEC 60071-2, from memory; E0 there 300 to 400
    kV/m. It takes the electrode for the hemisphere of its resistance, at whose surface E0 stands
    at Ig, and is meant for electrodes within some 30 m.
    """
    for name, value in (("resistance", resistance), ("soil", soil), ("field", field)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
    return soil * field / (2.0 * math.pi * resistance**2)
