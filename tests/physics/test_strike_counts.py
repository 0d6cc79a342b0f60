"""Collection areas and pulse lives, against published numbers."""

from __future__ import annotations

import math

import pytest

from surgesim.physics.pulse_life import LEAST, MOST, pulses
from surgesim.physics.strike_counts import (
    line_area,
    near_line_area,
    near_structure_area,
    strikes_per_year,
    structure_area,
)

# IEC 62305-2:2010 Annex E.2, the country house (from memory): 15 x 20 x 6 m, lines of 1000 m, 4
# flashes per km2 and year. Three digits are published.
HOUSE = {"length": 15.0, "width": 20.0, "height": 6.0}


def test_a_country_house() -> None:
    area = structure_area(**HOUSE)
    assert area == pytest.approx(2.58e3, rel=2e-3)
    assert strikes_per_year(area, 4.0, 1.0) == pytest.approx(1.03e-2, rel=5e-3)


def test_its_lines() -> None:
    assert line_area(1000.0) == pytest.approx(4.0e4)
    assert near_line_area(1000.0) == pytest.approx(4.0e6)
    # buried, 0.5
    assert strikes_per_year(line_area(1000.0), 4.0, 0.5) == pytest.approx(8.0e-2)
    assert strikes_per_year(near_line_area(1000.0), 4.0, 0.5) == pytest.approx(8.0)


def test_near_a_structure() -> None:
    """2 x 500 (L + W) + pi 500^2, the same annex."""
    assert near_structure_area(15.0, 20.0) == pytest.approx(820.4e3, rel=1e-3)


def test_fifteen_pulses_of_half_the_rating() -> None:
    """Class II stands 15 of In and one of Imax, about 2 In (IEC 61643-11, from memory)."""
    slope = math.log(15.0) / math.log(2.0)
    assert slope == pytest.approx(3.9, abs=0.01)
    assert LEAST < slope < MOST
    assert pulses(0.5, slope) == pytest.approx(15.0)


def test_beyond_the_rating_the_first_one_does_it() -> None:
    assert pulses(1.0, 3.5) == pulses(3.0, 3.5) == 1.0
    assert pulses(0.0, 3.5) == math.inf
    with pytest.raises(ValueError, match="at least 0"):
        pulses(-0.1, 3.5)
