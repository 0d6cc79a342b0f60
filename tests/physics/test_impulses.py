"""Charge and specific energy of the impulses that rate arresters."""

from __future__ import annotations

import pytest

from surgesim.physics.impulses import (
    CUBIC_SCALE,
    CUBIC_TIME_CONSTANT,
    class_one_charge,
    class_one_specific_energy,
    eight_twenty_charge,
    eight_twenty_specific_energy,
)
from surgesim.physics.waveforms import CubicExponential, Heidler, shape_figures


@pytest.mark.parametrize(
    ("kiloampere", "coulomb", "kilojoule_per_ohm"),
    # IEC 61643-11:2011, preferred values for class I: Iimp, Q, W/R, rounded there
    [
        (1, 0.5, 0.25),
        (2, 1, 1),
        (5, 2.5, 6.25),
        (10, 5, 25),
        (12.5, 6.25, 39),
        (20, 10, 100),
        (25, 12.5, 156),
    ],
)
def test_class_one_table(kiloampere: float, coulomb: float, kilojoule_per_ohm: float) -> None:
    assert class_one_charge(1e3 * kiloampere) == pytest.approx(coulomb, rel=5e-3)
    energy = class_one_specific_energy(1e3 * kiloampere)
    assert energy == pytest.approx(1e3 * kilojoule_per_ohm, rel=5e-3)


def test_class_one_values_are_near_the_10_350_wave() -> None:
    # IEC 62305-1:2010 Annex B gives 0.5012 As and 0.2569 kJ/ohm a kA: within 5 and 7 %
    wave = Heidler(peak=1e3, correction=0.93, front=19e-6, tail=485e-6, exponent=10)
    figures = shape_figures(wave, kind="current")
    assert figures.charge == pytest.approx(0.5012, rel=1e-3)
    assert figures.specific_energy == pytest.approx(0.2569e3, rel=1e-3)
    assert figures.charge == pytest.approx(class_one_charge(1e3), rel=0.05)
    assert figures.specific_energy == pytest.approx(class_one_specific_energy(1e3), rel=0.07)


def test_8_20_integrals_in_closed_form() -> None:
    # 6 A tau^4 and 720 A^2 (tau/2)^7 with the constants of IEEE Std C62.41.2-2002
    assert eight_twenty_charge(1.0) == pytest.approx(17.449e-6, rel=1e-4)
    assert eight_twenty_specific_energy(1.0) == pytest.approx(12.164e-6, rel=1e-4)


def test_8_20_integrals_are_those_of_the_wave() -> None:
    wave = CubicExponential(peak=20e3, scale=CUBIC_SCALE, time_constant=CUBIC_TIME_CONSTANT)
    figures = shape_figures(wave, kind="current")
    assert figures.charge == pytest.approx(eight_twenty_charge(20e3), rel=1e-5)
    assert figures.specific_energy == pytest.approx(eight_twenty_specific_energy(20e3), rel=1e-5)
