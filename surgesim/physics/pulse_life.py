"""How many pulses a varistor stands: N ~ (Imax/I)^m, a straight line in logarithms.

Pulse-rating charts of discs have slopes m of 2.5 to 4, about 3.5 (from memory). One pulse of the
rating is one life; that an arrester of class II stands 15 pulses of In and one of twice as much
makes m = ln 15 / ln 2 = 3.9.
"""

from __future__ import annotations

import math

USUAL, LEAST, MOST = 3.5, 2.5, 4.0
"""Slopes of pulse-rating charts: the usual one, and between which they lie."""


def pulses(share: float, slope: float) -> float:
    """Pulses that use a life up, each of ``share`` of the largest rated one: at least the first."""
    if not share >= 0.0:
        raise ValueError(f"expected a share of at least 0 but got {share}")
    return math.inf if share == 0.0 else max(1.0, share**-slope)
