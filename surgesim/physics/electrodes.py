"""Resistance of earth electrodes from their shape and the soil."""

from __future__ import annotations

import math


def rod_resistance(length: float, radius: float, soil: float) -> float:
    """Resistance to remote earth of one driven rod in uniform soil, ohm.

    ``length`` and ``radius`` in m, ``soil`` resistivity in ohm m::

        R = soil / (2 pi length) (ln(4 length / radius) - 1)

    Dwight 1936; IEEE Std 142; BS 7430 writes it with the diameter.
    """
    if not 0.0 < radius < length < math.inf:
        raise ValueError(
            f"expected a rod longer than thick but got length={length} m and radius={radius} m"
        )
    if not 0.0 < soil < math.inf:
        raise ValueError(f"expected a positive, finite soil resistivity but got soil={soil}")
    return soil / (2.0 * math.pi * length) * (math.log(4.0 * length / radius) - 1.0)
