"""Metal around conductors: what it lets through."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from surgesim.physics.constants import MU_0
from surgesim.physics.cross_section import Conductor, Surface, potential_coefficients
from surgesim.physics.shields import beside, enclosed, strip_radius, strip_transfer


def field_of_a_strip(width: float, x: float, y: float) -> float:
    """Potential of its current's field, of 1 A, by its density 1/(pi sqrt(w^2/4 - s^2)) in closed
    form, integrated; against the strip."""

    def at(x: float, y: float) -> float:
        # s = (w/2) cos t makes the density even
        value, _ = quad(
            lambda t: -math.log(math.hypot(x - 0.5 * width * math.cos(t), y)), 0.0, math.pi,
            points=[math.acos(max(-1.0, min(1.0, 2 * x / width)))], limit=200,
        )  # fmt: skip
        return float(value) / math.pi

    return MU_0 / (2 * math.pi) * (at(0.25 * width, 1e-12) - at(x, y))


@pytest.mark.parametrize(("x", "y"), [(0.0, 5e-3), (0.05, 5e-3), (0.08, 20e-3), (0.0, 0.3)])
def test_a_tray_lets_through_what_the_field_of_its_current_is(x: float, y: float) -> None:
    assert strip_transfer(0.2, x, y) == pytest.approx(field_of_a_strip(0.2, x, y), rel=1e-4)


def test_close_to_its_middle_a_tray_lets_through_its_distance() -> None:
    # the field at the middle of a strip is I / (pi w): mu0 y / (pi w)
    expected = MU_0 * 1e-3 / (math.pi * 0.2)
    assert strip_transfer(0.2, 0.0, 1e-3) == pytest.approx(expected, rel=1e-4)


def test_far_away_a_strip_is_a_wire_of_a_quarter_of_its_width() -> None:
    far = MU_0 / (2 * math.pi) * math.log(5.0 / strip_radius(0.2))
    assert strip_transfer(0.2, 0.0, 5.0) == pytest.approx(far, rel=1e-4)


def wire(x: float, y: float, radius: float) -> Conductor:
    return Conductor(x=x, y=y, radius=radius, outer_radius=radius, permittivity=1.0)


def test_conductors_in_different_metal_see_each_other_by_that_metal_alone() -> None:
    outside = potential_coefficients((wire(0.0, 1.0, 0.02), wire(0.1, 1.0, 0.02)), Surface("plane"))
    inside = potential_coefficients((wire(0.0, 0.0, 1e-3),), Surface("cylinder", 0.02))
    both = enclosed(enclosed(outside, 0, inside, [0.0]), 1, inside, [0.0])
    for matrix in (both.bare, both.insulated):
        assert matrix[2, 3] == pytest.approx(matrix[0, 1])
        assert matrix[2, 2] - matrix[0, 0] == pytest.approx(math.log(20.0), rel=1e-9)
        assert matrix[2, 1] == pytest.approx(matrix[0, 1])
        assert np.all(np.linalg.eigvalsh(matrix) > 0.0)


def test_what_leaks_in_is_seen_in_the_loop_and_not_in_its_own_inductance() -> None:
    outside = potential_coefficients((wire(0.0, 1.0, 0.02),), Surface("plane"))
    inside = potential_coefficients((wire(0.0, 0.0, 1e-3),), Surface("cylinder", 0.02))
    leaking = MU_0 / (2 * math.pi) * enclosed(outside, 0, inside, [1e-9]).bare
    assert leaking[0, 0] - leaking[0, 1] == pytest.approx(1e-9)
    loop = leaking[0, 0] + leaking[1, 1] - 2 * leaking[0, 1]
    assert loop == pytest.approx(MU_0 / (2 * math.pi) * math.log(20.0))


def test_cables_beside_each_other_in_soil_share_what_is_beyond_them() -> None:
    first = potential_coefficients((wire(0.0, 0.0, 1e-3),), Surface("nothing", 0.04))
    second = potential_coefficients((wire(0.0, 0.0, 2e-3),), Surface("nothing", 3e-3))
    both = beside(first, second, (0.04, 3e-3), 0.4).bare
    assert both[0, 0] == pytest.approx(math.log(0.4 / 1e-3))
    assert both[1, 1] == pytest.approx(math.log(0.4 / 2e-3))
    assert both[0, 1] == 0.0
