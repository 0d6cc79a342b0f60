"""Inductance, capacitance and resistance of parallel conductors, per metre of line.

Two surroundings: in air over soil, and in a duct buried in soil. Voltages are to remote
earth. Conductors are taken thin against their distances, charge and current on their axes.
For conductors whose insulations touch, that reads the pair's inductance some 3 % high and,
the insulation being taken as if the field in it were radial, its capacitance up to 25 % low.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from surgesim.physics.constants import EPSILON_0, MU_0
from surgesim.physics.earth_return import deri_depth, saad_ground_impedance
from surgesim.physics.foster import Chain, fitted

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

BELOW, ABOVE = 1.0 / 3.0, 30.0
"""The band over which the soil is followed: from below the tail's frequency to well above the
front's, where what a steep corner or a flashover has is."""

TOUCHING = 1e-9
"""Overlap, as a share of the distance, that is rounding of touching surfaces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """One round conductor and its insulation.

    ``x``, ``y`` in m: over soil, ``y`` is the height; in a duct both are from its axis.
    ``radius`` of the metal and ``outer_radius`` over the insulation in m, ``permittivity``
    of the insulation relative to free space.
    """

    x: float
    y: float
    radius: float
    outer_radius: float
    permittivity: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.x) and math.isfinite(self.y)):
            raise ValueError(f"expected a finite position but got x={self.x}, y={self.y}")
        if not 0.0 < self.radius <= self.outer_radius < math.inf:
            raise ValueError(
                "expected 0 < radius <= outer_radius "
                f"but got radius={self.radius}, outer_radius={self.outer_radius}"
            )
        if not 1.0 <= self.permittivity < math.inf:
            raise ValueError(
                f"expected a relative permittivity of at least 1 but got {self.permittivity}"
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineConstants:
    """What a line of n conductors is per metre.

    ``inductance`` (n, n) H/m far above the front's frequency, ``capacitance`` (n, n) F/m,
    ``resistance`` (n,) ohm/m of the metal at direct current. ``earth`` is what the soil adds
    below, ohm/m, in the way of the sum of all currents; its own series inductance is in
    ``inductance`` already.
    """

    inductance: Array
    capacitance: Array
    resistance: Array
    earth: Chain


def wire_inductance(length: float, radius: float) -> float:
    """Inductance in H of a straight round wire of ``length`` and ``radius`` m, without return.

    L = mu0 length / (2 pi) (ln(2 length / radius) - 1), current on the surface.
    Rosa, Bulletin of the Bureau of Standards 4(2), 1908; Grover, Inductance Calculations.
    """
    _require_positive(length=length, radius=radius)
    if radius >= length:
        raise ValueError(f"a wire of {length:g} m is shorter than its radius of {radius:g} m")
    return MU_0 * length / (2.0 * math.pi) * (math.log(2.0 * length / radius) - 1.0)


def parallel_wires_mutual(length: float, distance: float) -> float:
    """Mutual inductance in H of two equal parallel filaments side by side, both in m.

    M = mu0 / (2 pi) (l asinh(l/d) - sqrt(l^2 + d^2) + d). Rosa 1908; Grover.
    """
    _require_positive(length=length, distance=distance)
    reach = length * math.asinh(length / distance)
    return MU_0 / (2.0 * math.pi) * (reach - math.hypot(length, distance) + distance)


def solid_radius(section: float) -> float:
    """Radius in m of a solid round conductor of ``section`` m2.

    A fine-stranded conductor of the same metal section is 10 to 15 % larger.
    """
    _require_positive(section=section)
    return math.sqrt(section / math.pi)


def aerial_constants(
    conductors: Sequence[Conductor],
    *,
    soil: float,
    front_frequency: float,
    tail_frequency: float,
    resistance: ArrayLike,
) -> LineConstants:
    """Constants of conductors in air over soil of ``soil`` ohm m.

    Series impedance by the complex depth p of Deri et al. 1981, with D' the distance to the
    image mirrored at that depth and d_ii the conductor's radius::

        R + j omega L = j omega mu0 / (2 pi) ln(D'_ij / d_ij)

    Capacitance by Maxwell's potential coefficients over a plane at the soil's surface, each
    conductor's insulation in series with the air around it. ``resistance`` (n,) in ohm/m,
    frequencies in Hz.
    """
    _check_apart(conductors)
    for k, conductor in enumerate(conductors):
        if conductor.y <= conductor.outer_radius:
            raise ValueError(f"conductor {k} at {conductor.y:g} m height is not clear of the soil")
    z = _positions(conductors)
    distance = _distances(conductors)
    across = z.real[:, None] - z.real[None, :]
    height = z.imag[:, None] + z.imag[None, :]

    def series_impedance(frequency: float) -> ComplexArray:
        image = np.sqrt((height + 2.0 * deri_depth(soil, frequency)) ** 2 + across**2)
        return np.asarray(1j * frequency * MU_0 * np.log(image / distance))

    return _assemble(
        conductors,
        geometry=np.log(np.hypot(height, across) / distance),
        series_impedance=series_impedance,
        front_frequency=front_frequency,
        tail_frequency=tail_frequency,
        resistance=resistance,
    )


def duct_constants(
    conductors: Sequence[Conductor],
    *,
    duct_radius: float,
    depth: float,
    soil: float,
    front_frequency: float,
    tail_frequency: float,
    resistance: ArrayLike,
) -> LineConstants:
    """Constants of conductors in a duct whose axis lies ``depth`` m deep in soil.

    The soil is the outer conductor and begins at ``duct_radius`` m, the duct's outer radius;
    the wall counts as air. Each conductor is mirrored in the soil's surface, b its radius and
    z the positions from the duct's axis, d_ii the conductor's radius::

        G_ij = ln(|b^2 - z_i conj(z_j)| / (b d_ij))

    for both inductance and potential coefficients, the insulation in series in the latter.
    The soil adds the impedance of Saad, Gaba, Giroux 1996, the same to every entry.
    ``resistance`` (n,) in ohm/m, ``soil`` in ohm m, frequencies in Hz.
    """
    _require_positive(duct_radius=duct_radius)
    _check_apart(conductors)
    for k, conductor in enumerate(conductors):
        reach = math.hypot(conductor.x, conductor.y) + conductor.outer_radius
        if reach > duct_radius * (1.0 + TOUCHING):
            raise ValueError(
                f"conductor {k} reaches {reach:g} m from the axis of a duct "
                f"of {duct_radius:g} m radius"
            )
    z = _positions(conductors)
    mirrored = np.abs(duct_radius**2 - z[:, None] * z[None, :].conj()) / duct_radius
    geometry = np.log(mirrored / _distances(conductors))

    def series_impedance(frequency: float) -> ComplexArray:
        ground = saad_ground_impedance(duct_radius, depth, soil, frequency)
        return np.asarray(1j * frequency * MU_0 * geometry + ground)

    return _assemble(
        conductors,
        geometry=geometry,
        series_impedance=series_impedance,
        front_frequency=front_frequency,
        tail_frequency=tail_frequency,
        resistance=resistance,
    )


def _assemble(
    conductors: Sequence[Conductor],
    *,
    geometry: Array,
    series_impedance: Callable[[float], ComplexArray],
    front_frequency: float,
    tail_frequency: float,
    resistance: ArrayLike,
) -> LineConstants:
    """Line constants from the logarithms of the geometry and the impedance at a frequency.

    What the impedance has beyond that of the geometry, as if the soil were a metal, is the
    soil's own. The conductors lie together and see it alike: its mean over all entries is taken
    for every one of them.
    """
    if not 0.0 < tail_frequency <= front_frequency < math.inf:
        raise ValueError(
            "expected 0 < tail_frequency <= front_frequency but got "
            f"tail_frequency={tail_frequency}, front_frequency={front_frequency}"
        )
    metal = np.array(resistance, dtype=np.float64)
    if metal.shape != (len(conductors),) or not np.all((metal >= 0.0) & np.isfinite(metal)):
        raise ValueError(
            f"expected {len(conductors)} finite resistances, none negative, but got {metal}"
        )
    outside = MU_0 / (2.0 * math.pi) * geometry

    def soil(frequency: float) -> complex:
        return complex(np.mean(series_impedance(frequency) - 2j * math.pi * frequency * outside))

    earth = fitted(soil, lowest=BELOW * tail_frequency, highest=ABOVE * front_frequency)
    potential = (geometry - np.diag(_insulation_relief(conductors))) / (2.0 * math.pi * EPSILON_0)
    capacitance = np.linalg.inv(potential)
    return LineConstants(
        inductance=outside + earth.inductance,
        capacitance=0.5 * (capacitance + capacitance.T),
        resistance=metal,
        earth=replace(earth, inductance=0.0),
    )


def _insulation_relief(conductors: Sequence[Conductor]) -> Array:
    """What each insulation takes off ln(image / radius), as if it were air otherwise, (n,)."""
    return np.array(
        [(1.0 - 1.0 / c.permittivity) * math.log(c.outer_radius / c.radius) for c in conductors]
    )


def _positions(conductors: Sequence[Conductor]) -> ComplexArray:
    return np.array([complex(c.x, c.y) for c in conductors])


def _distances(conductors: Sequence[Conductor]) -> Array:
    """Distances between axes, and each conductor's own radius on the diagonal, (n, n)."""
    z = _positions(conductors)
    return np.abs(z[:, None] - z[None, :]) + np.diag([c.radius for c in conductors])


def _check_apart(conductors: Sequence[Conductor]) -> None:
    if not conductors:
        raise ValueError("a line needs at least one conductor")
    for j, second in enumerate(conductors):
        for i, first in enumerate(conductors[:j]):
            distance = math.hypot(first.x - second.x, first.y - second.y)
            if distance < (first.outer_radius + second.outer_radius) * (1.0 - TOUCHING):
                raise ValueError(
                    f"conductors {i} and {j} overlap: their axes are {distance:g} m apart"
                )


def _require_positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
