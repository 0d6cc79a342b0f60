"""Fields in the cross-section of a line by finite elements (scikit-fem), for tests.

Nothing here knows the closed forms it is held against: the section is cut into triangles and
Laplace's equation, or that of a current's field in a conducting soil, is solved on them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri, condense
from skfem import solve as solved
from skfem.helpers import dot, grad

from surgesim.physics.conductors import Conductor
from surgesim.physics.constants import EPSILON_0, MU_0

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

ROUND = 64
"""Corners of a conductor's circle; it is drawn with the circle's own area."""


@dataclass(frozen=True, kw_only=True)
class Section:
    """A cross-section cut into triangles, and which of their corners lie on which metal."""

    basis: Basis
    metal: list[NDArray[np.int64]]
    outside: NDArray[np.int64]
    permittivity: Array


def capacitance(section: Section, permittivity: Array) -> Array:
    """Capacitance matrix (n, n) in F/m of the conductors against the outside."""
    stiffness = _stiffness(section.basis, permittivity)
    fixed = np.concatenate([*section.metal, section.outside])
    fields = []
    for nodes in section.metal:
        volts = np.zeros(section.basis.N)
        volts[nodes] = 1.0
        fields.append(solved(*condense(stiffness, x=volts, D=fixed)))
    field = np.array(fields)
    return np.asarray(EPSILON_0 * field @ (stiffness @ field.T), dtype=np.float64)


def matrices(section: Section) -> tuple[Array, Array]:
    """Inductance (H/m, all current on the surfaces) and capacitance (F/m), both (n, n)."""
    in_air = capacitance(section, np.ones_like(section.permittivity))
    inductance = np.asarray(MU_0 * EPSILON_0 * np.linalg.inv(in_air), dtype=np.float64)
    return inductance, capacitance(section, section.permittivity)


def over_plane(conductors: Sequence[Conductor], *, reach: float) -> Section:
    """Conductors in air over a metal plane at y = 0, cut off ``reach`` m away."""
    middle = _middle(conductors)
    rings = middle + _rings(_span(conductors), reach)
    ground = np.concatenate([rings.real, [middle.real - reach, middle.real + reach]])
    points = np.concatenate([rings[rings.imag > 0.02 * np.abs(rings - middle)], ground + 0j])
    return _section(conductors, points, lambda z: (z.imag > 0) & (abs(z - middle) < reach))


def in_cylinder(conductors: Sequence[Conductor], *, radius: float) -> Section:
    """Conductors in a metal cylinder about the origin."""
    wall = radius * np.exp(2j * math.pi * np.arange(4 * ROUND) / (4 * ROUND))
    rings = _middle(conductors) + _rings(_span(conductors), 2 * radius)
    shells = np.concatenate([0.97 * wall, 0.93 * wall[::2], rings[abs(rings) < 0.91 * radius]])
    points = np.concatenate([wall, shells])
    return _section(conductors, points, lambda z: abs(z) < radius * math.cos(math.pi / 256))


def buried_wire(
    *, radius: float, wall: float, depth: float, soil: float, frequency: float, below: float = 0.0
) -> complex:
    """Impedance in ohm/m of a wire of ``radius`` in a duct of outer radius ``wall``.

    It lies ``below`` m under the duct's axis, and that ``depth`` m deep in soil of ``soil`` ohm m,
    air above; ``frequency`` in Hz. The current's field A along the wire, laplacian A = j omega
    mu0 A / soil in the soil, with one ampere in the wire and A = 0 far away, gives Z = j omega A
    on the wire.
    """
    depth += below
    skin = math.sqrt(soil / (math.pi * frequency * MU_0))
    reach = 25.0 * skin
    turned = np.exp(2j * math.pi * (np.arange(64) + 0.5) / 64)
    distances = np.concatenate([_growing(radius, wall, 64), _growing(wall, reach, 64)[1:]])
    rings = np.outer(distances, turned).ravel()
    rings = rings[abs(rings.imag - depth) > 0.02 * abs(rings)]
    # corners on the soil's surface, as far from the wire as the rings are
    beyond = distances[distances > 1.01 * depth]
    across = np.sqrt(beyond**2 - depth**2)
    surface = 1j * depth + np.concatenate([-across, [0.0], across])
    points = np.concatenate([rings, surface])
    corners = Delaunay(np.column_stack([points.real, points.imag])).simplices
    centre = points[corners].mean(axis=1)
    sides = np.abs(np.diff(points[corners[:, [0, 1, 2, 0]]], axis=1))
    # corners on one circle make triangles of no area
    flat = 2.0 * sides.max(axis=1) > (1.0 - 1e-6) * sides.sum(axis=1)
    kept = ~flat & (abs(centre) > radius * math.cos(math.pi / 64))
    mesh = MeshTri(np.array([points.real, points.imag]), np.ascontiguousarray(corners[kept].T))
    basis = Basis(mesh, ElementTriP2())
    in_soil = (centre[kept].imag < depth) & (abs(centre[kept] - 1j * below) > wall)
    loss = np.where(in_soil, 2j * math.pi * frequency * MU_0 / soil, 0.0)
    system = _stiffness(basis, np.ones(len(loss))) + _mass(basis, loss)
    facets = mesh.boundary_facets()
    at = mesh.p[:, mesh.facets[:, facets]].mean(axis=1)
    on_wire = np.hypot(*at) < 2 * radius
    wire, far = (basis.get_dofs(facets[which]).all() for which in (on_wire, ~on_wire))
    field = np.zeros(basis.N, dtype=np.complex128)
    field[wire] = 1.0
    field = solved(*condense(system.astype(complex), x=field, D=np.concatenate([wire, far])))
    ampere = complex(field @ (system @ field)) / MU_0
    return 2j * math.pi * frequency / ampere


def _section(
    conductors: Sequence[Conductor], around: Complex, inside: Callable[[Complex], Any]
) -> Section:
    """Triangles between the conductors' surfaces and the points ``around``, where ``inside``."""
    own = [_layers(c) for c in conductors]
    grid = _grid(conductors)
    loose = np.concatenate([grid[inside(grid)], around])
    for c in conductors:
        loose = loose[abs(loose - complex(c.x, c.y)) > 1.03 * c.outer_radius]
    points = np.unique(np.round(np.concatenate([*own, loose]), 9))
    corners = Delaunay(np.column_stack([points.real, points.imag])).simplices
    centre = points[corners].mean(axis=1)
    kept = inside(centre)
    permittivity = np.ones(len(centre))
    for c in conductors:
        distance = abs(centre - complex(c.x, c.y))
        kept &= distance > _drawn(c.radius) * math.cos(math.pi / ROUND)
        permittivity[distance < c.outer_radius] = c.permittivity
    mesh = MeshTri(np.array([points.real, points.imag]), np.ascontiguousarray(corners[kept].T))
    basis = Basis(mesh, ElementTriP2())
    facets = mesh.boundary_facets()
    at = mesh.p[0, mesh.facets[:, facets]].mean(0) + 1j * mesh.p[1, mesh.facets[:, facets]].mean(0)
    on = [abs(at - complex(c.x, c.y)) < 1.02 * c.radius for c in conductors]
    return Section(
        basis=basis,
        metal=[basis.get_dofs(facets[which]).all() for which in on],
        outside=basis.get_dofs(facets[~np.any(on, axis=0)]).all(),
        permittivity=permittivity[kept],
    )


def _drawn(radius: float) -> float:
    """Radius of the corners of a polygon of a circle's area."""
    return radius * math.sqrt(2 * math.pi / ROUND / math.sin(2 * math.pi / ROUND))


def _layers(c: Conductor) -> Complex:
    """Points on a conductor's metal, through its insulation and just outside it."""
    radii = [1.1 * c.radius, 1.25 * c.radius]
    if c.outer_radius > c.radius:
        layers = max(2, round(math.log(c.outer_radius / c.radius) / 0.12) + 1)
        radii = list(np.geomspace(c.radius, c.outer_radius, layers)[1:])
    turned = np.exp(2j * math.pi * np.arange(ROUND) / ROUND)
    rings = [_drawn(r) * turned for r in (c.radius, *radii)]
    return complex(c.x, c.y) + np.concatenate(rings)


def _middle(conductors: Sequence[Conductor]) -> complex:
    return complex(np.mean([complex(c.x, c.y) for c in conductors]))


def _span(conductors: Sequence[Conductor]) -> float:
    reach = max(abs(complex(c.x, c.y) - _middle(conductors)) for c in conductors)
    return reach + max(c.outer_radius for c in conductors)


def _grid(conductors: Sequence[Conductor]) -> Complex:
    """A lattice over the bundle and a little around it."""
    pitch = min(c.outer_radius for c in conductors) / 6
    half = _span(conductors) * 1.2
    x, y = np.meshgrid(np.arange(-half, half, pitch), np.arange(-half, half, pitch * 0.87))
    x[::2] += pitch / 2
    return np.asarray((_middle(conductors) + x + 1j * y).ravel())


def _rings(start: float, stop: float, *, corners: int = 48) -> Complex:
    """Points on circles about 0 from beyond ``start`` to ``stop``."""
    turned = np.exp(2j * math.pi * np.arange(corners) / corners)
    return np.asarray(np.outer(_growing(start, stop, corners)[1:], turned).ravel())


def _growing(start: float, stop: float, corners: int) -> Array:
    """Radii of circles that lie as far apart as the corners on them."""
    count = math.ceil(math.log(stop / start) / (2 * math.pi / corners))
    return np.geomspace(start, stop, count + 1)


def _stiffness(basis: Basis, weight: Array) -> Any:
    form = BilinearForm(lambda u, v, w: w.weight * dot(grad(u), grad(v)))
    return form.assemble(basis, weight=np.repeat(weight[:, None], len(basis.W), axis=1))


def _mass(basis: Basis, weight: Complex) -> Any:
    form = BilinearForm(lambda u, v, w: w.weight * u * v, dtype=np.complex128)
    return form.assemble(basis, weight=np.repeat(weight[:, None], len(basis.W), axis=1))
