"""Resistance of earth rods."""

from __future__ import annotations

import math

import pytest

from surgesim.physics.electrodes import rod_resistance

INCH, FOOT = 0.0254, 0.3048


def test_the_handbook_example() -> None:
    # MIL-HDBK-419A Vol. II sec. 1.2.2.2: 10 ft by 3/4 in in 100 ohm m reads 32 ohm
    resistance = rod_resistance(10 * FOOT, 0.75 * INCH / 2, 100.0)
    assert resistance == pytest.approx(32.0, rel=0.01)
    assert resistance == pytest.approx(32.14, rel=2e-4)


@pytest.mark.parametrize(
    ("length", "diameter", "soil", "ohm"),
    [
        # Dwight 1936, IEEE Std 142, evaluated
        (1.5, 0.014, 100.0, 61.05),
        (2.4, 0.016, 100.0, 40.39),
        (3.0, 0.016, 100.0, 33.49),
        (3.0, 0.016, 300.0, 100.48),
        (3.0, 0.016, 1000.0, 334.9),
    ],
)
def test_single_rods(length: float, diameter: float, soil: float, ohm: float) -> None:
    assert rod_resistance(length, diameter / 2, soil) == pytest.approx(ohm, rel=2e-4)


@pytest.mark.parametrize(
    ("length", "radius", "soil"),
    [(0.0, 0.01, 100.0), (1.0, 0.0, 100.0), (0.01, 1.0, 100.0), (math.inf, 0.01, 100.0)],
)
def test_shapes_that_are_no_rod(length: float, radius: float, soil: float) -> None:
    with pytest.raises(ValueError, match="rod longer than thick"):
        rod_resistance(length, radius, soil)


@pytest.mark.parametrize("soil", [0.0, -1.0, math.nan, math.inf])
def test_soils_that_are_none(soil: float) -> None:
    with pytest.raises(ValueError, match="soil resistivity"):
        rod_resistance(2.0, 0.01, soil)
