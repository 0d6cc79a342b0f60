"""Resistance of earth electrodes from their shape and the soil, and inductance along them.

Uniform soil below a plane surface, remote earth far away, metal without resistance. What is no
round rod counts with its radius of equal field: a flat strip a quarter of its width, a post its
perimeter over 2 pi. Thin wires are taken at their average potential, as if they leaked evenly:
that reads their resistance a few percent high and is what the published formulas do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from surgesim.physics.conductors import wire_inductance
from surgesim.physics.constants import MU_0


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
    _check_soil(soil)
    return soil / (2.0 * math.pi * length) * (math.log(4.0 * length / radius) - 1.0)


def rods_resistance(
    positions: Sequence[tuple[float, float]], *, length: float, radius: float, soil: float
) -> float:
    """Resistance of equal rods joined above ground, at ``positions`` (x, y) in m, ohm.

    All are at one potential, the current divides accordingly: 1 / (sum of the inverse of the
    matrix of self and mutual resistances). Of two rods s apart, each with its image in the
    surface, the mutual resistance is the average potential of one in the field of the other::

        R12 = soil / (2 pi l) (asinh(2l/s) - sqrt(1 + (s/2l)^2) + s/2l)

    which is the integral that Dwight 1936 gives as the series soil/(2 pi s) (1 - l^2/3s^2 + …)
    for s > l (IEEE Std 142 prints it for two rods).
    """
    own = rod_resistance(length, radius, soil)
    spots = np.array(positions, dtype=np.float64).reshape(-1, 2)
    distance = np.hypot(*(spots[:, None, :] - spots[None, :, :]).transpose(2, 0, 1))
    apart = distance[~np.eye(len(spots), dtype=bool)]
    if np.any(apart <= 2.0 * radius):
        raise ValueError(f"rods {np.min(apart):g} m apart and {2 * radius:g} m thick touch")
    np.fill_diagonal(distance, 1.0)
    reach = distance / (2.0 * length)
    mutual = np.arcsinh(1.0 / reach) - np.sqrt(1.0 + reach**2) + reach
    matrix = soil / (2.0 * math.pi * length) * mutual
    np.fill_diagonal(matrix, own)
    return float(1.0 / np.linalg.solve(matrix, np.ones(len(spots))).sum())


def horizontal_resistance(length: float, radius: float, depth: float, soil: float) -> float:
    """Resistance of a straight bare conductor lying ``depth`` m deep, ohm; lengths in m.

    The conductor and its image 2 ``depth`` away, each at its average potential::

        R = soil/(2 pi l) (ln(2l/a) - 1 + asinh(l/2h) - sqrt(1 + (2h/l)^2) + 2h/l)

    Dwight 1936 (IEEE Std 142) prints its series for a conductor long against its depth.
    """
    _check_buried(length, radius, depth)
    _check_soil(soil)
    reach = 2.0 * depth / length
    image = math.asinh(1.0 / reach) - math.hypot(1.0, reach) + reach
    return soil / (2.0 * math.pi * length) * (math.log(2.0 * length / radius) - 1.0 + image)


def ring_resistance(length: float, radius: float, depth: float, soil: float) -> float:
    """Resistance of a bare conductor of ``length`` m laid as a ring, ``depth`` m deep, ohm.

    With D the diameter of the ring, d that of the conductor, s/2 the depth::

        R = soil / (2 pi^2 D) (ln(8D/d) + ln(4D/s))

    Dwight 1936; IEEE Std 142. A rectangle counts as the circle of its length.
    """
    _check_buried(length, radius, depth)
    _check_soil(soil)
    diameter = length / math.pi
    if depth > diameter / 4.0:
        raise ValueError(
            f"a ring {diameter:g} m wide does not lie {depth:g} m deep in this formula"
        )
    logs = math.log(4.0 * diameter / radius) + math.log(2.0 * diameter / depth)
    return soil / (2.0 * math.pi**2 * diameter) * logs


def star_resistance(arms: int, length: float, radius: float, depth: float, soil: float) -> float:
    """Resistance of ``arms`` equal straight conductors from one point, ``depth`` m deep, ohm.

    ``length`` is that of one arm::

        R = soil / (n pi l) (ln(2l / sqrt(2 a h)) - 1 + N)
        N = sum of ln((1 + sin(pi m/n)) / sin(pi m/n)) for m from 1 to n - 1

    Sunde 1949; Dwight 1936 prints the same with two terms more in h/l
    for n = 3, 4, 6 and 8 (IEEE Std 142).
    """
    if arms < 2:
        raise ValueError(f"expected at least 2 arms but got {arms}")
    _check_buried(length, radius, depth)
    _check_soil(soil)
    sines = [math.sin(math.pi * m / arms) for m in range(1, arms)]
    crowding = sum(math.log((1.0 + sine) / sine) for sine in sines)
    own = math.log(2.0 * length / math.sqrt(2.0 * radius * depth)) - 1.0
    return soil / (arms * math.pi * length) * (own + crowding)


def block_resistance(length: float, width: float, depth: float, soil: float) -> float:
    """Resistance of a foundation ``length`` by ``width``, reaching ``depth`` m down, ohm.

    As half an ellipsoid of revolution of the same area (radius a) and volume (depth b), whose
    resistance is exact::

        R = soil/(2 pi) arccos(b/a) / sqrt(a^2 - b^2), for b > a arcosh(b/a) / sqrt(b^2 - a^2)

    It lies between its published limits: a thin slab, soil/4a (Dwight 1936, disc at the
    surface), and the hemisphere of equal volume, soil/2 pi a (DIN VDE 0151, from memory). The
    concrete counts as metal: what it has of its own resistance comes on top.
    """
    for name, value in (("length", length), ("width", width), ("depth", depth)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
    _check_soil(soil)
    a = math.sqrt(length * width / math.pi)
    b = 1.5 * depth
    flat = abs(a * a - b * b)
    if flat < 1e-6 * a * a:
        return soil / (2.0 * math.pi * a)
    root = math.sqrt(flat)
    angle = math.acos(b / a) if b < a else math.acosh(b / a)
    return soil / (2.0 * math.pi) * angle / root


def plate_resistance(area: float, depth: float, soil: float) -> float:
    """Resistance of an upright plate of ``area`` m2 with its middle ``depth`` m deep, ohm.

    As the disc of equal area, a its radius and s twice the depth::

        R = soil/8a + soil/4 pi s (1 + 7/24 a^2/s^2 + 99/320 a^4/s^4)

    Dwight 1936; IEEE Std 142. Both faces give current.
    """
    if not (0.0 < area < math.inf and 0.0 < depth < math.inf):
        raise ValueError(f"expected a plate but got area={area} m2 and depth={depth} m")
    _check_soil(soil)
    radius = math.sqrt(area / math.pi)
    if depth < radius:
        raise ValueError(f"a plate of {2 * radius:g} m is not covered at {depth:g} m")
    reach = (radius / (2.0 * depth)) ** 2
    image = 1.0 + 7.0 / 24.0 * reach + 99.0 / 320.0 * reach**2
    return soil / (8.0 * radius) + soil / (8.0 * math.pi * depth) * image


def plates_resistance(
    count: int, *, area: float, depth: float, spacing: float, soil: float
) -> float:
    """Resistance of ``count`` equal upright plates in a row, ``spacing`` m apart, joined, ohm.

    Seen from each other they are points with images at the surface, soil/4 pi (1/s +
    1/sqrt(s^2 + 4h^2)); all are at one potential.
    """
    own = plate_resistance(area, depth, soil)
    if count > 1 and spacing <= math.sqrt(area):
        raise ValueError(f"plates of {area:g} m2 and {spacing:g} m apart touch")
    distance = spacing * np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    np.fill_diagonal(distance, 1.0)
    matrix = soil / (4.0 * math.pi) * (1.0 / distance + 1.0 / np.hypot(distance, 2.0 * depth))
    np.fill_diagonal(matrix, own)
    return float(1.0 / np.linalg.solve(matrix, np.ones(count)).sum())


def rod_inductance(length: float, radius: float) -> float:
    """Inductance of a driven rod, H: L = mu0 l / (2 pi) ln(2l/a).

    Grcev and Popov 2005 (from memory), one of several in use; Sunde's has 1 less than the
    logarithm.
    """
    if not 0.0 < radius < length < math.inf:
        raise ValueError(
            f"expected a rod longer than thick but got length={length} m and radius={radius} m"
        )
    return MU_0 * length / (2.0 * math.pi) * math.log(2.0 * length / radius)


def buried_inductance(length: float, radius: float) -> float:
    """Inductance of a straight bare conductor in soil, H: that of a wire without return.

    Soil that is no magnet has no image for the current, so that it is the same at any depth.
    Sunde 1949; Rosa 1908. Of what comes back through the soil nearby nothing is taken off.
    """
    return wire_inductance(length, radius)


def _check_buried(length: float, radius: float, depth: float) -> None:
    if not 0.0 < radius < length < math.inf:
        raise ValueError(
            f"expected a conductor longer than thick but got length={length} m, radius={radius} m"
        )
    if not radius < depth < math.inf:
        raise ValueError(f"a conductor {radius:g} m in radius is not covered at {depth:g} m")


def _check_soil(soil: float) -> None:
    if not 0.0 < soil < math.inf:
        raise ValueError(f"expected a positive, finite soil resistivity but got soil={soil}")
