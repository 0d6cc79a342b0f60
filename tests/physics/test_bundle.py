"""Packing of cables and reduction of parallel runs."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.physics.bundle import (
    close_packed,
    packed_in_air,
    packed_in_duct,
    parallel_reduced,
    transposed,
)
from surgesim.physics.conductors import Conductor, LineConstants, aerial_constants, duct_constants
from surgesim.physics.modes import surge_impedance

diameters = st.lists(st.floats(1e-3, 40e-3), min_size=1, max_size=30)


@given(diameters)
def test_packed_cables_do_not_overlap(sizes: list[float]) -> None:
    z = close_packed(sizes) @ np.array([1.0, 1.0j])
    distance = np.abs(z[:, None] - z[None, :])
    touching = 0.5 * np.add.outer(sizes, sizes)
    apart = ~np.eye(len(sizes), dtype=bool)
    assert np.all(distance[apart] >= touching[apart] * (1.0 - 1e-9))


@given(st.integers(2, 40), st.floats(1e-3, 40e-3))
def test_neighbours_in_the_list_touch(count: int, diameter: float) -> None:
    steps = np.diff(close_packed([diameter] * count), axis=0)
    np.testing.assert_allclose(np.hypot(*steps.T), diameter, rtol=1e-9)


@pytest.mark.parametrize(
    ("count", "diameters_across"),
    # radius of the circle round the bundle's middle, in diameters; the densest packings known
    # of 2, 3 and 7 circles take 1, 1.0774 and 1.5: whole rows are wider
    [(1, 0.5), (2, 1.0), (3, 1.0774), (4, 1.366), (7, 2.0)],
)
def test_bundles_are_round(count: int, diameters_across: float) -> None:
    reach = np.max(np.hypot(*close_packed([1.0] * count).T)) + 0.5
    assert reach <= diameters_across + 1e-3


@given(diameters, st.floats(0.5, 10.0))
def test_in_air_the_middle_hangs_at_its_height(sizes: list[float], height: float) -> None:
    positions = packed_in_air(sizes, height=height)
    assert positions.mean(axis=0) == pytest.approx([0.0, height], abs=1e-9)


def test_a_bundle_that_would_lie_in_the_soil_is_refused() -> None:
    with pytest.raises(ValueError, match="not clear of the soil"):
        packed_in_air([20e-3] * 4, height=15e-3)


@given(diameters)
def test_in_a_duct_cables_lie_inside_and_one_touches_the_floor(sizes: list[float]) -> None:
    positions = packed_in_duct(sizes, inner_radius=0.3)
    reach = np.hypot(*positions.T) + 0.5 * np.array(sizes)
    assert np.max(reach) == pytest.approx(0.3, rel=1e-9)
    floor = positions[np.argmax(reach), 1]
    assert floor < 0.0


def test_a_pair_rests_on_the_floor_side_by_side() -> None:
    (x1, y1), (x2, y2) = packed_in_duct([6e-3, 6e-3], inner_radius=22e-3)
    assert (x1, x2) == pytest.approx((-3e-3, 3e-3))
    assert y1 == y2 == pytest.approx(-math.sqrt(19e-3**2 - 3e-3**2))


def test_one_cable_as_wide_as_the_duct_fits_and_one_wider_does_not() -> None:
    assert packed_in_duct([50e-3], inner_radius=25e-3) == pytest.approx(np.zeros((1, 2)))
    with pytest.raises(ValueError, match=r"do not fit.*50 mm inner diameter"):
        packed_in_duct([50.1e-3], inner_radius=25e-3)


def test_too_many_cables_do_not_fit() -> None:
    packed_in_duct([10e-3] * 7, inner_radius=25e-3)
    with pytest.raises(ValueError, match="20 cables of up to 10 mm do not fit"):
        packed_in_duct([10e-3] * 20, inner_radius=25e-3)
    with pytest.raises(ValueError, match="do not fit"):
        packed_in_duct([24e-3] * 4, inner_radius=25e-3)


@pytest.mark.parametrize("bad", [[], [0.0], [6e-3, -1e-3], [math.nan]])
def test_diameters_must_be_positive(bad: list[float]) -> None:
    with pytest.raises(ValueError, match="positive, finite diameters"):
        close_packed(bad)


def bare(x: float, y: float, radius: float) -> Conductor:
    return Conductor(x=x, y=y, radius=radius, outer_radius=radius, permittivity=1.0)


def over_metal(conductors: list[Conductor], resistance: list[float]) -> LineConstants:
    return aerial_constants(
        conductors,
        soil=1e-12,
        front_frequency=3e5,
        tail_frequency=3e5,
        resistance=resistance,
    )


def test_two_distant_equal_runs_are_half_the_impedance() -> None:
    # 1 km apart and 1 m high: no coupling to speak of
    line = over_metal([bare(0.0, 1.0, 1e-3), bare(1e3, 1.0, 1e-3)], [2e-3, 2e-3])
    one = parallel_reduced(line, [[0, 1]])
    assert one.inductance[0, 0] == pytest.approx(0.5 * line.inductance[0, 0], rel=1e-5)
    assert one.capacitance[0, 0] == pytest.approx(2.0 * line.capacitance[0, 0], rel=1e-5)
    assert one.resistance == pytest.approx([1e-3])


def test_two_near_runs_are_a_bundle_conductor() -> None:
    # two wires of radius r a distance D apart act as one of radius sqrt(r D): transmission-line
    # texts, geometric mean radius; exact for charge on the axes, 5e-6 from it at D = 100 r
    radius, apart, height = 1e-3, 0.1, 50.0
    pair = over_metal([bare(0.0, height, radius), bare(apart, height, radius)], [0.0, 0.0])
    one = parallel_reduced(pair, [(0, 1)])
    same = over_metal([bare(0.0, height, math.sqrt(radius * apart))], [0.0])
    assert one.inductance == pytest.approx(same.inductance, rel=1e-5)
    assert one.capacitance == pytest.approx(same.capacitance, rel=1e-5)


def test_a_reduced_line_in_air_is_the_whole_line_joined_at_its_ends() -> None:
    line = over_metal(
        [bare(0.0, 1.0, 1e-3), bare(0.02, 1.0, 1e-3), bare(0.04, 1.02, 2e-3), bare(0.1, 1.1, 1e-3)],
        [1e-3] * 4,
    )
    groups = [[0, 2], [1, 3]]
    one = parallel_reduced(line, groups)
    joined = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 0.0], [0.0, 1.0]])
    # in air all modes travel together, so joining the ends adds admittances exactly
    whole = np.linalg.inv(surge_impedance(line.inductance, line.capacitance))
    expected = np.linalg.inv(joined.T @ whole @ joined)
    np.testing.assert_allclose(
        surge_impedance(one.inductance, one.capacitance), expected, rtol=1e-6
    )


def test_the_soils_share_of_a_duct_is_the_same_for_one_and_for_all() -> None:
    positions = packed_in_duct([6.4e-3] * 4, inner_radius=22e-3)
    line = duct_constants(
        [
            Conductor(x=x, y=y, radius=1.38e-3, outer_radius=3.2e-3, permittivity=3.0)
            for x, y in positions
        ],
        duct_radius=25e-3,
        depth=0.7,
        soil=170.0,
        front_frequency=3e5,
        tail_frequency=5e3,
        resistance=[2.87e-3, 2.87e-3, 0.0, 1e-3],
    )
    pair = parallel_reduced(line, [[0, 1], [3, 2]])
    assert pair.earth is line.earth
    # the whole series impedance of joined conductors is (A^T Z^-1 A)^-1, at any frequency
    joined = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
    for frequency in (5e3, 3e5):
        given, found = (
            2j * np.pi * frequency * each.inductance + each.earth.impedance(frequency)
            for each in (line, pair)
        )
        exact = np.linalg.inv(joined.T @ np.linalg.solve(given, joined))
        np.testing.assert_allclose(found, exact, rtol=1e-9)
    assert pair.resistance == pytest.approx([1.435e-3, 0.0])
    assert pair.capacitance.sum() == pytest.approx(line.capacitance.sum())


def test_groups_of_one_change_nothing_but_the_order() -> None:
    line = over_metal([bare(0.0, 1.0, 1e-3), bare(0.1, 1.2, 2e-3)], [1e-3, 2e-3])
    swapped = parallel_reduced(line, [[1], [0]])
    np.testing.assert_allclose(swapped.inductance, line.inductance[::-1, ::-1], rtol=1e-12)
    np.testing.assert_allclose(swapped.capacitance, line.capacitance[::-1, ::-1], rtol=1e-12)
    assert list(swapped.resistance) == [2e-3, 1e-3]


@pytest.mark.parametrize("groups", [[[0]], [[0, 1], [1]], [[0, 1], []], [[0, 2]], []])
def test_every_conductor_must_be_in_exactly_one_group(groups: list[list[int]]) -> None:
    line = over_metal([bare(0.0, 1.0, 1e-3), bare(0.1, 1.0, 1e-3)], [0.0, 0.0])
    with pytest.raises(ValueError, match="exactly one group"):
        parallel_reduced(line, groups)


def test_transposed_is_the_mean_over_all_orders_of_a_group() -> None:
    """By its definition: every order of the group's members, averaged; the rest stays."""
    spots = [(0.0, 1.0), (7e-3, 1.0), (15e-3, 1.004), (40e-3, 1.02)]
    wires = [
        Conductor(x=x, y=y, radius=1e-3, outer_radius=3e-3, permittivity=2.5) for x, y in spots
    ]
    given_ = aerial_constants(
        wires, soil=100.0, front_frequency=3e5, tail_frequency=1e3, resistance=[1.0, 2.0, 3.0, 4.0]
    )
    found = transposed(given_, [[0, 1, 2]])
    orders = [[*order, 3] for order in itertools.permutations(range(3))]
    for name in ("inductance", "capacitance"):
        matrix = getattr(given_, name)
        mean = np.mean([matrix[np.ix_(order, order)] for order in orders], axis=0)
        np.testing.assert_allclose(getattr(found, name), mean, rtol=1e-12)
    np.testing.assert_allclose(found.resistance, [2.0, 2.0, 2.0, 4.0])
