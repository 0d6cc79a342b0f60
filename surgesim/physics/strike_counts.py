"""How often lightning strikes a structure or a line, or near one, in a year.

Collection areas of IEC 62305-2:2010 Annex A (from memory): N = Ng A C 1e-6 with the flash density
Ng per km2 and year, the area A in m2, and a factor C for what stands around.
"""

from __future__ import annotations

import math

NEAR = 500.0
"""m from a structure within which a stroke counts as near it."""

BESIDE, FAR_BESIDE = 40.0, 4000.0
"""m of width over which strokes count as to a line, and as near it."""


def structure_area(length: float, width: float, height: float) -> float:
    """m2 of an isolated block on flat ground: L W + 2 (3H) (L + W) + pi (3H)^2. In m."""
    reach = 3.0 * height
    return length * width + 2.0 * reach * (length + width) + math.pi * reach**2


def near_structure_area(length: float, width: float) -> float:
    """m2 around a structure: 2 x 500 (L + W) + pi 500^2. In m."""
    return 2.0 * NEAR * (length + width) + math.pi * NEAR**2


def line_area(length: float) -> float:
    """m2 in which strokes hit a line of ``length`` m: 40 L."""
    return BESIDE * length


def near_line_area(length: float) -> float:
    """m2 in which strokes act on a line of ``length`` m: 4000 L."""
    return FAR_BESIDE * length


def strikes_per_year(area: float, flash_density: float, factor: float) -> float:
    """Of an ``area`` in m2; ``flash_density`` per km2 and year, ``factor`` for surroundings."""
    return flash_density * area * factor * 1e-6
