"""Mutual resistance of electrodes, and the resistors that stand for a matrix."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from surgesim.physics.common_soil import (
    LEFT_OUT,
    Array,
    Conductances,
    as_resistors,
    hemisphere_radius,
    mutual_resistance,
    struck_radius,
)
from surgesim.physics.electrodes import rod_resistance


@pytest.mark.parametrize(
    ("spacing", "published"),
    [
        # IEEE Std 142, two rods of 3 m by 16 mm in 100 ohm m, exact average potential (from memory)
        (6.0, 17.986),
        (12.0, 17.397),
    ],
)
def test_two_rods_in_parallel(spacing: float, published: float) -> None:
    own = rod_resistance(3.0, 0.008, 100.0)
    mutual = mutual_resistance(spacing, 100.0, first=3.0, second=3.0)
    assert (own + mutual) / 2 == pytest.approx(published, rel=1e-4)


def test_rods_as_far_apart_as_long() -> None:
    # IEEE Std 142 prints a factor of 1.16 for two rods (from memory), from a series that is
    # 3.4 % high where rods are as far apart as long
    own = rod_resistance(3.0, 0.008, 100.0)
    mutual = mutual_resistance(3.0, 100.0, first=3.0, second=3.0)
    assert (own + mutual) / own == pytest.approx(1.16, rel=0.034)


def test_dwights_series() -> None:
    length, spacing = 2.0, 9.0
    ratio = (length / spacing) ** 2
    series = 100 / (2 * math.pi * spacing) * (1 - ratio / 3 + 2 / 5 * ratio**2)
    found = mutual_resistance(spacing, 100.0, first=length, second=length)
    assert found == pytest.approx(series, rel=1e-4)


@pytest.mark.parametrize(("first", "second"), [(2.4, 2.4), (1.0, 6.0), (54.0, 1.5)])
def test_against_the_double_integral(first: float, second: float) -> None:
    distance = 4.0

    def potential(below: float, leak: float) -> float:
        up = math.hypot(distance, below - leak)
        image = math.hypot(distance, below + leak)
        return (1 / up + 1 / image) / (4 * math.pi * first * second)

    expected, _ = dblquad(potential, 0, first, 0, second, epsrel=1e-8)
    found = mutual_resistance(distance, 1.0, first=first, second=second)
    assert found == pytest.approx(expected, rel=1e-6)


def test_a_point_is_a_short_rod() -> None:
    for other in (0.0, 5.0):
        point = mutual_resistance(4.0, 100.0, first=0.0, second=other)
        assert point == pytest.approx(
            mutual_resistance(4.0, 100.0, first=0.01, second=other), rel=1e-5
        )
    assert mutual_resistance(4.0, 100.0) == pytest.approx(100.0 / (8.0 * math.pi))


def test_sizes() -> None:
    assert hemisphere_radius(38.0, 170.0) == pytest.approx(0.712, rel=1e-3)
    # 300 kV/m at the rim: soil I / (2 pi r^2)
    assert 170.0 * 12e3 / (2 * math.pi * struck_radius(-12e3, 170.0) ** 2) == pytest.approx(300e3)


def test_resistors_have_the_matrix() -> None:
    matrix = np.array([[38.0, 0.4, 0.3], [0.4, 9.0, 0.5], [0.3, 0.5, 2.0]])
    assert inverse(as_resistors(matrix)) == pytest.approx(matrix, rel=1e-9)


def inverse(found: Conductances) -> Array:
    nodal = np.diag(found.to_earth) - found.between - found.between.T
    nodal += np.diag(found.between.sum(axis=0) + found.between.sum(axis=1))
    return np.asarray(np.linalg.inv(nodal))


@given(st.lists(st.tuples(st.floats(-80, 80), st.floats(-80, 80)), min_size=2, max_size=5))
def test_hemispheres_apart_always_have_resistors(spots: list[tuple[float, float]]) -> None:
    places = np.array(spots)
    apart = np.hypot(*(places[:, None] - places[None, :]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    if apart.min() < 0.1:
        return
    radii = 0.35 * apart.min(axis=1)  # gaps of 0.3 of the distance
    matrix = 1.0 / (2 * math.pi * apart)
    np.fill_diagonal(matrix, 1.0 / (2 * math.pi * radii))
    found = as_resistors(matrix)
    assert np.all(found.between >= 0)
    assert np.all(found.to_earth >= 0)
    size = np.sqrt(np.diag(matrix))
    assert np.max(np.abs(inverse(found) - matrix) / np.outer(size, size)) <= LEFT_OUT


def test_electrodes_on_top_of_each_other_are_refused() -> None:
    with pytest.raises(ValueError, match="too close"):
        as_resistors(np.array([[10.0, 11.0], [11.0, 10.0]]))


@pytest.mark.parametrize(("distance", "soil"), [(0.0, 100.0), (5.0, 0.0), (math.inf, 1.0)])
def test_what_is_no_spacing(distance: float, soil: float) -> None:
    with pytest.raises(ValueError, match="expected a positive"):
        mutual_resistance(distance, soil)
