"""Inductance, capacitance and resistance of parallel conductors, per metre of line.

Two surroundings: in air over soil, and in a duct buried in soil. Voltages are to remote
earth. Charge and current lie on the conductors' surfaces as the field of their neighbours has
them there, which is where those of a surge are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from surgesim.physics.constants import EPSILON_0, MU_0
from surgesim.physics.cross_section import (
    TOUCHING,
    Coefficients,
    Conductor,
    Surface,
    potential_coefficients,
)
from surgesim.physics.earth_return import deri_depth, saad_ground_impedance
from surgesim.physics.foster import Chain, fitted

Array = NDArray[np.float64]

__all__ = [
    "Conductor",
    "LineConstants",
    "aerial_constants",
    "assembled",
    "duct_constants",
    "in_duct",
    "over_soil",
    "parallel_wires_mutual",
    "soil_below",
    "solid_radius",
    "wire_inductance",
]

BELOW, ABOVE = 1.0 / 3.0, 30.0
"""The band over which the soil is followed: from below the tail's frequency to well above the
front's, where what a steep corner or a flashover has is."""


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

    Inductance and capacitance of the conductors over a plane at the soil's surface, and in
    series with that inductance what the soil adds, by the complex depth p of Deri et al. 1981;
    D and D' are the distances to the image in the surface and to the one that is 2p deeper::

        R + j omega L = j omega mu0 / (2 pi) ln(D'_ij / D_ij)

    ``resistance`` (n,) in ohm/m, frequencies in Hz.
    """
    return assembled(
        over_soil(conductors),
        in_soil=soil_below(conductors, soil),
        front_frequency=front_frequency,
        tail_frequency=tail_frequency,
        resistance=resistance,
    )


def over_soil(conductors: Sequence[Conductor]) -> Coefficients:
    """Field of conductors in air over soil as if it were a metal; ValueError where in it."""
    for k, conductor in enumerate(conductors):
        if conductor.y <= conductor.outer_radius:
            raise ValueError(f"conductor {k} at {conductor.y:g} m height is not clear of the soil")
    return potential_coefficients(tuple(conductors), Surface("plane"))


def soil_below(conductors: Sequence[Conductor], soil: float) -> Callable[[float], complex]:
    """What the soil adds to conductors over it, ohm/m at a frequency in Hz."""
    z = np.array([c.axis for c in conductors])
    across = z.real[:, None] - z.real[None, :]
    height = z.imag[:, None] + z.imag[None, :]

    def impedance(frequency: float) -> complex:
        deep = np.sqrt((height + 2.0 * deri_depth(soil, frequency)) ** 2 + across**2)
        return complex(1j * frequency * MU_0 * np.mean(np.log(deep / np.hypot(height, across))))

    return impedance


def in_duct(conductors: Sequence[Conductor], duct_radius: float) -> Coefficients:
    """Field of conductors in a duct, against its wall; ValueError where they reach beyond it.

    To a capacitance the soil is a metal. Their magnetic field it lets pass: a wall of soil is
    far thinner than the depth to which that gets into it. What the soil outside adds begins at
    the wall, and is that of a current on the duct's axis.
    """
    _require_positive(duct_radius=duct_radius)
    for k, conductor in enumerate(conductors):
        reach = abs(conductor.axis) + conductor.outer_radius
        if reach > duct_radius * (1.0 + TOUCHING):
            raise ValueError(
                f"conductor {k} reaches {reach:g} m from the axis of a duct "
                f"of {duct_radius:g} m radius"
            )
    passing = potential_coefficients(tuple(conductors), Surface("nothing", duct_radius))
    ending = potential_coefficients(tuple(conductors), Surface("cylinder", duct_radius))
    return Coefficients(bare=passing.bare, insulated=ending.insulated)


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

    The soil begins at ``duct_radius`` m, the duct's outer radius; the wall counts as air. It is
    the outer conductor of the capacitances, and adds to the inductances the impedance of Saad,
    Gaba, Giroux 1996, the same to every entry. ``resistance`` (n,) in ohm/m, ``soil`` in ohm m,
    frequencies in Hz.
    """
    return assembled(
        in_duct(conductors, duct_radius),
        in_soil=lambda frequency: saad_ground_impedance(duct_radius, depth, soil, frequency),
        front_frequency=front_frequency,
        tail_frequency=tail_frequency,
        resistance=resistance,
    )


def assembled(
    coefficients: Coefficients,
    *,
    in_soil: Callable[[float], complex],
    front_frequency: float,
    tail_frequency: float,
    resistance: ArrayLike,
) -> LineConstants:
    """Line constants from the field as if the soil were a metal, and what the soil adds.

    ``in_soil`` is that in ohm/m at a frequency in Hz. The conductors lie together and see it
    alike: it is the same for every entry.
    """
    if not 0.0 < tail_frequency <= front_frequency < math.inf:
        raise ValueError(
            "expected 0 < tail_frequency <= front_frequency but got "
            f"tail_frequency={tail_frequency}, front_frequency={front_frequency}"
        )
    metal = np.array(resistance, dtype=np.float64)
    if metal.shape != (len(coefficients.bare),) or not np.all((metal >= 0.0) & np.isfinite(metal)):
        raise ValueError(
            f"expected {len(coefficients.bare)} finite resistances, none negative, but got {metal}"
        )
    earth = fitted(in_soil, lowest=BELOW * tail_frequency, highest=ABOVE * front_frequency)
    capacitance = 2.0 * math.pi * EPSILON_0 * np.linalg.inv(coefficients.insulated)
    return LineConstants(
        inductance=MU_0 / (2.0 * math.pi) * coefficients.bare + earth.inductance,
        capacitance=0.5 * (capacitance + capacitance.T),
        resistance=metal,
        earth=replace(earth, inductance=0.0),
    )


def _require_positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
