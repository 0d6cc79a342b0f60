"""Voltage that a current in a straight conductor or a lightning channel induces in a loop.

Mutual inductances in H from positions alone. Positions are (x, y, z) in m, z up from the
surface of the earth, which counts as a perfectly conducting plane for the magnetic field above
it; what field enters the soil is in :mod:`surgesim.physics.soil_field`. Fields are those of a
current that is the same all along its conductor at any moment: slow against light.

A *path* runs from point to point above that plane. What is induced in it is the change of the
flux between the path and the plane below it, down to the plane at either end. Upright parts so
have nothing, and the sum over the parts of any closed circuit is the flux through it (the gauge
in which the vector potential has no upright component).

``induced`` gives M so that the voltage that drives current along the path is M dI/dt.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.conductors import wire_inductance
from surgesim.physics.constants import MU_0

Array = NDArray[np.float64]
Point = tuple[float, float, float]

NODES = 12
"""Of Gauss's rule in each panel of a path, none longer than its distance from the current: that
leaves 1e-9 of the integral."""

MOST_PANELS = 4096


@dataclass(frozen=True, slots=True)
class Channel:
    """An upright lightning channel that meets the ground at ``x``, ``y`` in m.

    Its current flows down into the ground and spreads there evenly to all sides, so that above
    ground the field is mu0 I / (2 pi r), that of an endless straight wire (Ampère's law).
    """

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Conductor:
    """A straight conductor whose current flows from ``start`` to ``end``, both above ground.

    Its field is that of these metres alone (Biot and Savart) and of their image in the ground,
    not of whatever carries the current to the start and away from the end.
    """

    start: Point
    end: Point

    def __post_init__(self) -> None:
        if min(self.start[2], self.end[2]) < 0.0:
            raise ValueError("expected a conductor above ground but got one that goes below")
        if self.start == self.end:
            raise ValueError("expected a conductor of some length but got one of none")


Source = Channel | Conductor


def induced(path: Sequence[Point], source: Source) -> float:
    """M in H of a ``path`` above ground with the current of ``source``.

    A closed path (its last point the first) is a loop of its own, whatever its shape.
    """
    if min(point[2] for point in path) < 0.0:
        raise ValueError("expected a path above ground but got one that goes below")
    edges = itertools.pairwise(path)
    if isinstance(source, Channel):
        return MU_0 / (2.0 * math.pi) * math.fsum(_over_channel(a, b, source) for a, b in edges)
    drops = ((path[-1], _below(path[-1])), (_below(path[0]), path[0]))
    parts = [*edges, *(drop for drop in drops if drop[0] != drop[1])]
    return -math.fsum(_neumann_with_image(a, b, source) for a, b in parts)


def neumann(path: Sequence[Point], start: Point, end: Point) -> float:
    """Neumann's integral in H: the vector potential of 1 A from ``start`` to ``end``, without any
    image, along a path."""
    return math.fsum(_neumann(a, b, start, end) for a, b in itertools.pairwise(path))


def clearance(path: Sequence[Point], source: Source) -> float:
    """Shortest distance between a path and the axis of the current, m."""
    return min(_distance(a, b, source) for a, b in itertools.pairwise(path))


def rectangle_inductance(length: float, width: float, radius: float) -> float:
    """Inductance in H of a rectangle of round wire, lengths in m, current on its surface.

    Rosa 1908, Grover 1946; the formula of IEC 62305-4:2010 Annex A is the same (from memory)::

        L = mu0/pi (l ln(2l/r) + b ln(2b/r) - l asinh(l/b) - b asinh(b/l)
                    + 2 sqrt(l^2 + b^2) - 2 (l + b))
    """
    if not 0.0 < radius < min(length, width) / 2.0 < math.inf:
        raise ValueError(
            "expected a rectangle wider than its wire"
            f" but got length={length}, width={width}, radius={radius}"
        )
    logs = length * math.log(2.0 * length / radius) + width * math.log(2.0 * width / radius)
    corners = length * math.asinh(length / width) + width * math.asinh(width / length)
    around = 2.0 * math.hypot(length, width) - 2.0 * (length + width)
    return MU_0 / math.pi * (logs - corners + around)


def polygon_inductance(corners: Sequence[Point], radius: float) -> float:
    """Inductance in H of a closed loop of round wire with straight sides, lengths in m.

    Each side's own (Rosa 1908) and Neumann's integral between every two of them (Grover 1946).
    """
    sides = list(itertools.pairwise([*corners, corners[0]]))
    if min(math.dist(a, b) for a, b in sides) < 10.0 * radius:
        raise ValueError(f"expected sides far longer than the wire is thick, {2e3 * radius:g} mm")
    own = math.fsum(wire_inductance(math.dist(a, b), radius) for a, b in sides)
    between = math.fsum(
        _neumann(*first, *second, touching=True)
        for first, second in itertools.combinations(sides, 2)
    )
    return own + 2.0 * between


def _below(point: Point) -> Point:
    return point[0], point[1], 0.0


def _over_channel(a: Point, b: Point, channel: Channel) -> float:
    """Integral of z dr/r along a straight edge, m, in closed form.

    With r^2 = c + 2 f s + g s^2 and z = az + dz s, s from 0 to 1 along the edge.
    """
    px, py = a[0] - channel.x, a[1] - channel.y
    qx, qy = b[0] - a[0], b[1] - a[1]
    c, f, g = px * px + py * py, px * qx + py * qy, qx * qx + qy * qy
    if g <= (1e-12) ** 2 * c:
        return 0.0  # upright: a strip of no width
    across = abs(px * qy - py * qx)
    end = c + 2.0 * f + g
    if min(c, end) == 0.0 or (across == 0.0 and -g < f < 0.0):
        raise ValueError("the path meets the channel")
    log = math.log1p((2.0 * f + g) / c)
    turned = math.atan2(across * g, across * across + f * (f + g)) if across else 0.0
    level = 0.5 * a[2] * log
    slope = 1.0 - f / (2.0 * g) * log - across / g * turned
    return level + (b[2] - a[2]) * slope


def _neumann_with_image(a: Point, b: Point, source: Conductor) -> float:
    (sx, sy, sz), (ex, ey, ez) = source.start, source.end
    image = _neumann(a, b, (ex, ey, -ez), (sx, sy, -sz))
    return _neumann(a, b, source.start, source.end) + image


def _neumann(a: Point, b: Point, start: Point, end: Point, *, touching: bool = False) -> float:
    """Integral of the vector potential of 1 A from ``start`` to ``end`` along a straight edge,
    which may begin where that ends if it is ``touching``."""
    along = np.subtract(b, a)
    direction = np.subtract(end, start)
    length = float(np.linalg.norm(direction))
    aligned = float(along @ direction) / length
    if abs(aligned) < 1e-15 * float(np.linalg.norm(along)):
        return 0.0
    spots, weights = _panels(a, b, start, end, touching=touching)
    points = np.asarray(a) + spots[:, None] * along
    near = np.linalg.norm(points - np.asarray(start), axis=1)
    far = np.linalg.norm(points - np.asarray(end), axis=1)
    # ln((r1 + r2 + L) / (r1 + r2 - L)), the potential of a straight wire (Grover 1946)
    potential = 2.0 * np.arctanh(length / (near + far))
    return MU_0 / (4.0 * math.pi) * aligned * float(weights @ potential)


def _panels(a: Point, b: Point, start: Point, end: Point, *, touching: bool) -> tuple[Array, Array]:
    """Places from 0 to 1 along an edge and their weights, finer where the current is near."""
    length = math.dist(a, b)
    bounds = [0.0, 1.0]
    for _ in range(40):
        halved = list(_halved(bounds, a, b, start, end, length))
        if len(halved) == len(bounds):
            break
        bounds = halved
        if len(bounds) > MOST_PANELS:
            raise ValueError("the path touches the conductor")
    else:
        if not touching:
            raise ValueError("the path touches the conductor")
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    edges = np.array(bounds)
    half = np.diff(edges)[:, None] / 2.0
    spots = edges[:-1, None] + half * (nodes + 1.0)
    return spots.ravel(), (half * weights).ravel()


def _halved(
    bounds: list[float], a: Point, b: Point, start: Point, end: Point, length: float
) -> Iterator[float]:
    """The bounds with every panel longer than twice its distance cut in two."""
    for first, last in itertools.pairwise(bounds):
        yield first
        here, there = _along(a, b, first), _along(a, b, last)
        apart = _between(here, there, start, end)
        if (last - first) * length > 2.0 * apart:
            yield (first + last) / 2.0
    yield bounds[-1]


def _along(a: Point, b: Point, share: float) -> Point:
    x, y, z = (p + share * (q - p) for p, q in zip(a, b, strict=True))
    return x, y, z


def _distance(a: Point, b: Point, source: Source) -> float:
    if isinstance(source, Conductor):
        return _between(a, b, source.start, source.end)
    top = max(a[2], b[2]) + 1.0
    return _between(a, b, (source.x, source.y, 0.0), (source.x, source.y, top))


def _between(a: Point, b: Point, c: Point, d: Point) -> float:
    """Shortest distance between two straight edges, m (Ericson, Real-Time Collision Detection)."""
    u, v, w = np.subtract(b, a), np.subtract(d, c), np.subtract(a, c)
    uu, uv, vv, uw, vw = (float(p @ q) for p, q in ((u, u), (u, v), (v, v), (u, w), (v, w)))
    spread = uu * vv - uv * uv
    s = min(max((uv * vw - vv * uw) / spread, 0.0), 1.0) if spread > 1e-12 * uu * vv else 0.0
    t = (uv * s + vw) / vv if vv > 0.0 else 0.0
    if t < 0.0 or t > 1.0:
        t = min(max(t, 0.0), 1.0)
        s = min(max((uv * t - uw) / uu, 0.0), 1.0) if uu > 0.0 else 0.0
    return float(np.linalg.norm(w + s * u - t * v))
