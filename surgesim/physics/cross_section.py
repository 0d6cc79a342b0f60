"""Static field of round, insulated conductors beside each other and beside one metal surface.

The potential outside the insulations is a sum of charges and multipoles on the conductors' axes,
each with its image in the surface; inside each insulation it is the matching series, which on
the metal is constant. Field and flux are matched on every insulation's surface, harmonic by
harmonic (W. R. Smythe, Static and Dynamic Electricity, ch. 4, from memory; for ribbon cables
C. R. Paul, Analysis of Multiconductor Transmission Lines, ch. 5, from memory). Currents that
flow on the surfaces, as those of a surge do, have the same field without insulation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

ORDER = 16
"""Highest harmonic. Between touching insulations the coefficients then stand to 0.1 %."""

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

    @property
    def axis(self) -> complex:
        """Its axis as a complex number x + jy, in m."""
        return complex(self.x, self.y)


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Potential coefficients (n, n) times 2 pi epsilon0; of one thin wire h over a plane ln(2h/r).

    ``bare`` as if there were no insulation, which is also inductance times 2 pi / mu0;
    ``insulated`` with it.
    """

    bare: Array
    insulated: Array


@dataclass(frozen=True, slots=True)
class Surface:
    """What all voltages are against.

    ``plane``: metal at y = 0, conductors above it. ``cylinder``: metal of ``radius`` m about the
    origin, conductors inside. ``nothing``: no metal, but the circle of ``radius`` that the field
    of all conductors together has far from them.
    """

    shape: Literal["plane", "cylinder", "nothing"]
    radius: float = math.inf

    def from_image(self, z: ComplexArray, axis: complex) -> ComplexArray:
        """1 / (image of each point - axis), conjugated fields being those of images."""
        if self.shape == "plane":
            return np.asarray(1.0 / (z.conj() - axis))
        if self.shape == "nothing":
            return np.zeros_like(z)
        return np.asarray(z.conj() / (self.radius**2 - axis * z.conj()))

    def image_distance(self, z: ComplexArray, axis: complex) -> Array:
        """What stands over the distance to an axis in the logarithm of a charge there."""
        if self.shape == "plane":
            return np.abs(z.conj() - axis)
        if self.shape == "nothing":
            return np.full(z.shape, self.radius)
        return np.abs(self.radius**2 - axis * z.conj()) / self.radius


@lru_cache(maxsize=64)
def potential_coefficients(conductors: tuple[Conductor, ...], surface: Surface) -> Coefficients:
    """The coefficients of conductors that do not overlap. Raises ValueError where they do."""
    check_apart(conductors)
    count, own = len(conductors), 2 * ORDER
    projected = _incident(conductors, surface).reshape(count, 1 + own, count, 1 + own)
    found = []
    for permittivities in ([1.0] * count, [c.permittivity for c in conductors]):
        reflection = _each(_reflection, conductors, permittivities)
        onto = projected[:, 1:, :, 1:].reshape(count * own, count * own)
        from_charge = projected[:, 1:, :, 0].reshape(count * own, count)
        poles = np.linalg.solve(
            np.eye(count * own) + reflection.ravel()[:, None] * onto,
            -reflection.ravel()[:, None] * from_charge,
        )
        matrix = projected[:, 0, :, 0] + projected[:, 0, :, 1:].reshape(count, -1) @ poles
        matrix += np.diag(_each(_of_itself, conductors, permittivities))
        found.append(0.5 * (matrix + matrix.T))
    return Coefficients(*found)


def _each(
    of: Callable[[Conductor, float], Array], conductors: Sequence[Conductor], eps: list[float]
) -> Array:
    return np.array([of(c, e) for c, e in zip(conductors, eps, strict=True)])


def _of_itself(conductor: Conductor, permittivity: float) -> Array:
    """Potential of the metal by its own unit charge, up to the logarithm of the image."""
    through = math.log(conductor.outer_radius / conductor.radius) / permittivity
    return np.asarray(through - math.log(conductor.outer_radius))


def _reflection(conductor: Conductor, permittivity: float) -> Array:
    """Minus the multipole that answers an incident harmonic of size 1, cosines then sines.

    With s = (radius / outer)^2m and Y = permittivity (1 + s)/(1 - s): (Y - 1)/(Y + 1).
    """
    s = (conductor.radius / conductor.outer_radius) ** (2.0 * np.arange(1, ORDER + 1))
    ratio = (permittivity * (1 + s) - (1 - s)) / (permittivity * (1 + s) + (1 - s))
    return np.concatenate([ratio, ratio])


def _incident(conductors: Sequence[Conductor], surface: Surface) -> Array:
    """Harmonics on each insulation's surface of the field of all charges and multipoles but
    its own: rows by conductor and harmonic, columns by conductor and source.
    """
    angle = 2 * math.pi * np.arange(4 * ORDER) / (4 * ORDER)
    waves = np.outer(np.arange(1, ORDER + 1), angle)
    harmonics = np.vstack([np.ones(4 * ORDER), 2 * np.cos(waves), 2 * np.sin(waves)]) / len(angle)
    rows = []
    for k, here in enumerate(conductors):
        points = here.axis + here.outer_radius * np.exp(1j * angle)
        fields = [_field(points, c, surface, direct=j != k) for j, c in enumerate(conductors)]
        rows.append(harmonics @ np.hstack(fields))
    return np.vstack(rows)


def _field(z: ComplexArray, source: Conductor, surface: Surface, *, direct: bool) -> Array:
    """Potential at ``z`` of a conductor's charge and multipoles (columns) and their images."""
    order = np.arange(1, ORDER + 1)
    poles = -((source.outer_radius * surface.from_image(z, source.axis))[:, None] ** order)
    charge = np.log(surface.image_distance(z, source.axis))
    if direct:
        poles = poles + (source.outer_radius / (z - source.axis))[:, None] ** order
        charge = charge - np.log(np.abs(z - source.axis))
    return np.column_stack([charge, poles.real, -poles.imag])


def check_apart(conductors: Sequence[Conductor]) -> None:
    """Raise ValueError where there are none, or where two take up the same space."""
    if not conductors:
        raise ValueError("a line needs at least one conductor")
    for j, second in enumerate(conductors):
        for i, first in enumerate(conductors[:j]):
            distance = abs(first.axis - second.axis)
            if distance < (first.outer_radius + second.outer_radius) * (1.0 - TOUCHING):
                raise ValueError(
                    f"conductors {i} and {j} overlap: their axes are {distance:g} m apart"
                )
