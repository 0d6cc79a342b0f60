"""How a number is written into a deck: plain exponent form, never a unit letter."""

from __future__ import annotations

import math


def number(value: float) -> str:
    """Write a finite number for ngspice, ten significant digits.

    In a deck ``5M`` is five thousandths and ``1F`` is 1e-15, so no letter other than the
    exponent's may ever appear; ``inf`` and ``nan`` would be read as names.
    """
    value = float(value)
    if not math.isfinite(value):
        raise ValueError(f"a deck cannot hold the number {value}")
    return f"{value:.10g}"
