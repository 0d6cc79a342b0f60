"""Mutual inductance of loops with a channel or a straight conductor."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.physics.constants import MU_0
from surgesim.physics.induction import (
    Array,
    Channel,
    Conductor,
    Point,
    clearance,
    induced,
    neumann,
    polygon_inductance,
    rectangle_inductance,
)

HERE = Channel(0.0, 0.0)


def upright(length: float, distance: float, width: float) -> list[Point]:
    """A rectangle ``length`` high and ``width`` wide in the plane of a channel at the origin."""
    near, far = distance, distance + width
    return [(near, 0, length), (far, 0, length), (far, 0, 0), (near, 0, 0), (near, 0, length)]


@pytest.mark.parametrize(
    ("length", "distance", "width", "nanohenry"),
    [
        # mu0 l/(2 pi) ln((d + w)/d), evaluated
        (10, 1, 1, 1386.294),
        (10, 1, 0.1, 190.620),
        (10, 5, 1, 364.643),
        (5, 0.5, 2, 1609.438),
        (10, 0.5, 0.01, 39.605),
    ],
)
def test_rectangles_beside_a_long_straight_wire(
    length: float, distance: float, width: float, nanohenry: float
) -> None:
    loop = upright(length, distance, width)
    assert 1e9 * induced(loop, HERE) == pytest.approx(nanohenry, rel=1e-5)


@pytest.mark.parametrize(("above", "below", "nanohenry"), [(0, 0, 1201.2), (100, 10, 1382.5)])
def test_rectangles_beside_a_wire_of_some_length(
    above: float, below: float, nanohenry: float
) -> None:
    """10 m by 1 m, 1 m away; the wire as long as the loop, and with these overhangs."""
    loop = upright(10, 1, 1)
    found = neumann(loop, (0, 0, 10 + above), (0, 0, -below))
    assert abs(1e9 * found) == pytest.approx(nanohenry, rel=1e-4)


def test_parallel_wires() -> None:
    # 1 m, 0.1 m apart: Grover 1946, evaluated
    found = neumann([(0, 0.1, 0), (1, 0.1, 0)], (0, 0, 0), (1, 0, 0))
    assert 1e6 * found == pytest.approx(0.41865, rel=1e-5)


@pytest.mark.parametrize(
    ("area", "distance", "steepness", "volts"),
    [(10, 100, 100e9, 2000), (50, 100, 200e9, 20000), (100, 500, 100e9, 4000)],
)
def test_small_loops_far_from_a_stroke(
    area: float, distance: float, steepness: float, volts: float
) -> None:
    """U = mu0 A/(2 pi s) dI/dt, the loop's middle at that distance."""
    side = math.sqrt(area)
    loop = upright(side, distance - side / 2, side)
    # a loop of some width has the logarithm instead of w/s: 0.1 % for 10 m in 100 m
    assert induced(loop, HERE) * steepness == pytest.approx(volts, rel=1e-3)


def test_the_voltage_of_a_nearby_stroke() -> None:
    # IEC 62305-4:2010 Annex A (from memory): H0 = i0/(2 pi sa), 100 kA: 126.3 A/m at 126 m
    small = upright(0.1, 126.0 - 0.05, 0.1)
    field = induced(small, HERE) * 100e3 / 0.01 / MU_0
    assert field == pytest.approx(126.3, rel=1e-3)


def test_what_a_flat_loop_has_of_an_upright_channel() -> None:
    """Nothing, at any height; and a sloping one what its upright projection has."""
    flat: list[Point] = [(40, 0, 2), (54, 0, 2), (54, 1.1, 2), (40, 1.1, 2), (40, 0, 2)]
    assert induced(flat, HERE) == pytest.approx(0.0, abs=1e-20)
    sloping: list[Point] = [(40, 0, 0), (54, 0, 0), (54, 1, 1.1), (40, 1, 1.1), (40, 0, 0)]
    radii = np.hypot([40, 54], [1, 1])
    assert induced(sloping, HERE) == pytest.approx(
        -MU_0 / (2 * math.pi) * 1.1 * math.log(radii[1] / radii[0]), rel=1e-3
    )


def test_a_string_of_modules_near_a_stroke() -> None:
    # 14 m by 1.1 m at 40 m, 12 kA of 0.25/100 (67 kA/us): 5.1 kV, reckoned by hand
    steepest = 12 / 50 * 279.0e9
    assert abs(induced(upright(14, 40, 1.1), HERE)) * steepest == pytest.approx(5.1e3, rel=0.01)


point = st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 8))


@given(st.lists(point, min_size=3, max_size=5))
def test_against_the_flux_of_the_field(corners: list[Point]) -> None:
    """Upright strips below each edge, the field integrated over them directly."""
    channel = Channel(31.0, 5.0)
    loop = [*corners, corners[0]]

    nodes, weights = np.polynomial.legendre.leggauss(30)

    def through(a: Point, b: Point) -> float:
        """The field is the same at every height: the strip's height times it, along the edge."""
        shares = (nodes + 1) / 2
        x, y, z = (p + shares * (q - p) for p, q in zip(a, b, strict=True))
        dx, dy = x - channel.x, y - channel.y
        outward = dx * (b[0] - a[0]) + dy * (b[1] - a[1])
        return float(MU_0 / (4 * math.pi) * weights @ (z * outward / (dx * dx + dy * dy)))

    expected = sum(through(a, b) for a, b in itertools.pairwise(loop))
    assert induced(loop, channel) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    "path",
    [
        [(46.0, 10.0, 0.5), (101.0, 30.0, 3.0)],
        [(-46.0, 10.0, 0.5), (101.0, 30.0, 3.0)],
        [(5.0, 5.0, 4.0), (5.0, 5.0, 9.0), (2.0, -8.0, 9.0)],
    ],
)
def test_a_tall_conductor_is_a_channel(path: list[Point]) -> None:
    tall = Conductor((0.0, 0.0, 1e6), (0.0, 0.0, 0.0))
    assert induced(path, tall) == pytest.approx(induced(path, HERE), rel=1e-8)


def field(spots: Array, start: Point, end: Point) -> Array:
    """B of 1 A in a straight wire by Biot and Savart, integrated numerically, (n, 3)."""
    nodes, weights = np.polynomial.legendre.leggauss(60)
    along = np.subtract(end, start)
    total = np.zeros_like(spots)
    for node, weight in zip(nodes, weights, strict=True):
        r = spots - (np.asarray(start) + (node + 1) / 2 * along)
        total += weight / 2 * np.cross(along, r) / np.linalg.norm(r, axis=1)[:, None] ** 3
    return np.asarray(MU_0 / (4 * math.pi) * total)


def test_a_down_conductor_against_its_field() -> None:
    """Flux of the conductor and of its image through the strip between a cable and the ground."""
    conductor = Conductor((0.0, 0.9, 9.0), (1.5, 0.9, 0.5))
    image = (1.5, 0.9, -0.5), (0.0, 0.9, -9.0)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    x, z = np.meshgrid(-2 + 4.5 * (nodes + 1), 3 * (nodes + 1))
    spots = np.stack([x.ravel(), np.zeros(x.size), z.ravel()], axis=1)
    both = field(spots, conductor.start, conductor.end) + field(spots, *image)
    # the normal of a circuit that goes out along the cable and back along the ground is y
    flux = 4.5 * 3.0 * np.outer(weights, weights).ravel() @ both[:, 1]
    path: list[Point] = [(-2.0, 0.0, 6.0), (7.0, 0.0, 6.0)]
    assert induced(path, conductor) == pytest.approx(-flux, rel=1e-5)


def test_a_closed_loop_does_not_ask_where_it_begins() -> None:
    conductor = Conductor((0.0, 0.0, 9.0), (0.0, 0.0, 0.0))
    loop: list[Point] = [(1, 0, 2), (3, 1, 2), (3, 2, 5), (1, 0, 4)]
    first = induced([*loop, loop[0]], conductor)
    second = induced([*loop[2:], *loop[:3]], conductor)
    assert first == pytest.approx(second, rel=1e-9)
    assert induced([*loop, loop[0]][::-1], conductor) == pytest.approx(-first, rel=1e-9)


@pytest.mark.parametrize(
    ("length", "width", "radius", "microhenry"),
    [
        # IEC 62305-4:2010 Annex A (from memory), the same as Rosa's and Grover's rectangle
        (10, 1, 1e-3, 29.8614),
        (5, 2, 0.5e-3, 22.0984),
        (1, 1, 1e-3, 4.90699),
        (10, 0.1, 1.4e-3, 17.1932),
    ],
)
def test_inductance_of_rectangles(
    length: float, width: float, radius: float, microhenry: float
) -> None:
    found = rectangle_inductance(length, width, radius)
    assert 1e6 * found == pytest.approx(microhenry, rel=1e-5)
    assert rectangle_inductance(width, length, radius) == pytest.approx(found, rel=1e-12)


def test_a_rectangle_is_a_polygon_and_a_triangle_is_one_too() -> None:
    corners: list[Point] = [(0, 0, 1), (10, 0, 1), (10, 0, 2), (0, 0, 2)]
    assert polygon_inductance(corners, 1e-3) == pytest.approx(
        rectangle_inductance(10.0, 1.0, 1e-3), rel=1e-4
    )
    # equilateral, Grover 1946: L = mu0/2pi 3 s (ln(s/r) - 1.4055 + r/s), surface current (from
    # memory)
    side = 2.0
    triangle: list[Point] = [(0, 0, 0), (side, 0, 0), (side / 2, side * math.sqrt(0.75), 0)]
    expected = MU_0 / (2 * math.pi) * 3 * side * (math.log(side / 1e-3) - 1.4055)
    assert polygon_inductance(triangle, 1e-3) == pytest.approx(expected, rel=1e-3)
    with pytest.raises(ValueError, match="far longer than the wire is thick"):
        polygon_inductance(corners, 0.2)


def test_clearances() -> None:
    assert clearance([(3, 4, 0), (6, 8, 9)], HERE) == pytest.approx(5.0)
    down = Conductor((0, 0.9, 9), (0, 0.9, 0))
    assert clearance([(-5, 0, 3), (5, 0, 3)], down) == pytest.approx(0.9)
    assert clearance([(-5, 0, 12), (5, 0, 12)], down) == pytest.approx(math.hypot(0.9, 3.0))


def test_what_touches_is_refused() -> None:
    down = Conductor((0, 0, 9), (0, 0, 0))
    with pytest.raises(ValueError, match="touches the conductor"):
        induced([(-1, 0, 2), (1, 0, 4)], down)
    with pytest.raises(ValueError, match="meets the channel"):
        induced([(-1, 0, 3), (1, 0, 3)], HERE)
    with pytest.raises(ValueError, match="goes below"):
        induced([(1, 0, -3), (2, 0, 3)], HERE)
    with pytest.raises(ValueError, match="goes below"):
        Conductor((0, 0, 9), (0, 0, -1))
    with pytest.raises(ValueError, match="of none"):
        Conductor((0, 0, 9), (0, 0, 9))
    with pytest.raises(ValueError, match="wider than its wire"):
        rectangle_inductance(1.0, 0.01, 0.01)
