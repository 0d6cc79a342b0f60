"""The varistor law: published curves, energies, and what every law must satisfy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from surgesim.physics.varistor import VaristorLaw, fit_four_numbers, fit_three_numbers
from surgesim.physics.waveforms import CubicExponential, Heidler, Waveform

# a generic disc of the 34/40 mm class: 430 V at 1 mA, 1350 V at 20 kA 8/20
DISC = fit_three_numbers(430.0, 20e3, 1350.0)


def energy(law: VaristorLaw, wave: Waveform, until: float) -> float:
    """Energy in J that ``wave`` (A) leaves in the varistor up to ``until`` s."""

    def power(t: float) -> float:
        current = wave.value(t)
        return float(current * law.voltage(current))

    marks = [until * share for share in (1e-3, 1e-2, 0.03, 0.1, 0.3)]
    joule, _ = quad(power, 0.0, until, points=marks, limit=500, epsrel=1e-9)
    return float(joule)


def laws() -> st.SearchStrategy[VaristorLaw]:
    """Any law a card could give: signal to high voltage, nominal or at its tolerance."""
    return st.builds(
        lambda v1, nominal, ratio, scale: replace(
            fit_three_numbers(v1, nominal, ratio * v1), scale=scale
        ),
        st.floats(5.0, 5e3),
        st.floats(50.0, 50e3),
        st.floats(1.5, 4.5),
        st.floats(0.7, 1.3),
    )


def test_the_law_of_a_generic_disc() -> None:
    current = np.array([1e-3, 1.0, 100.0, 1e3, 5e3, 10e3, 20e3, 40e3])
    # the law's equations evaluated by bracketed root finding, printed to two decimals
    expected = [429.99, 524.32, 613.53, 718.54, 916.29, 1084.62, 1350.0, 1772.87]
    np.testing.assert_allclose(DISC.voltage(current), expected, rtol=1e-5)


@pytest.mark.parametrize("i", [1e-9, 1e-6, 1e-3, 1.0, 5e3, 2e5, 5e6])
def test_the_voltage_solves_the_equations_as_they_are_written(i: float) -> None:
    v1, alpha, leak = DISC.reference_voltage, DISC.exponent, DISC.leakage_resistance
    limit = v1 * (1e6 / 1e-3) ** (1 / alpha)

    def core(u: float) -> float:
        if u <= limit:
            return float(1e-3 * (u / v1) ** alpha + u / leak)
        return float(1e6 + (u - limit) * alpha * 1e6 / limit + u / leak)

    u = float(brentq(lambda u: core(u) - i, 0.0, 1e4, xtol=1e-13, rtol=1e-14))
    x = i / DISC.nominal_current
    v = u + DISC.upturn * x * (x * x + 1e-8) ** ((DISC.gamma - 1.0) / 2.0)
    # the absolute term is the bracket of the root finder, in volt
    assert float(DISC.voltage(i)) == pytest.approx(v, rel=1e-11, abs=1e-12)


@pytest.mark.parametrize(
    ("alpha", "microseconds"),
    # A^s Gamma(3s+1) (tau/s)^(3s+1) with s = 1 + 1/alpha: closed form for i = A Ip t^3 exp(-t/tau)
    [(10.0, 16.603), (20.0, 17.014), (35.0, 17.199)],
)
def test_energy_of_a_bare_power_law(alpha: float, microseconds: float) -> None:
    law = VaristorLaw(
        reference_voltage=430.0,
        exponent=alpha,
        upturn=0.0,
        nominal_current=20e3,
        gamma=0.7,
        leakage_resistance=1e15,
    )
    peak = 5e3
    wave = CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)
    joule = energy(law, wave, 300e-6)
    per_peak = joule / (peak * float(law.voltage(peak)))
    s = 1.0 + 1.0 / alpha
    scale, tau = 0.01243, 3.911
    closed = scale**s * math.gamma(3 * s + 1) * (tau / s) ** (3 * s + 1)
    assert closed == pytest.approx(microseconds, rel=2e-3)
    assert per_peak == pytest.approx(1e-6 * closed, rel=1e-6)


@pytest.mark.parametrize(("peak", "joule"), [(5e3, 73.84), (20e3, 412.26)])
def test_energy_of_8_20_in_the_disc(peak: float, joule: float) -> None:
    # computed beforehand by two circuit solvers from the same equations, which agreed
    wave = CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)
    assert energy(DISC, wave, 300e-6) == pytest.approx(joule, rel=5e-3)


@pytest.mark.parametrize(
    ("peak", "joule"), [(1e3, 335.0), (2e3, 713.0), (5e3, 2001.0), (12.5e3, 5948.0)]
)
def test_energy_of_10_350_in_the_disc(peak: float, joule: float) -> None:
    # computed beforehand from the same equations by quadrature
    wave = Heidler(peak=peak, correction=0.93, front=19e-6, tail=485e-6, exponent=10)
    assert energy(DISC, wave, 20e-3) == pytest.approx(joule, rel=1e-2)


PINCETI_CURRENT = np.array([2e-3, 100.0, 1e3, 3e3, 10e3, 20e3])


@pytest.mark.parametrize(
    ("curve", "worst"),
    [
        # Pinceti and Giannettoni, IEEE Trans. Power Delivery 14(2), 1999: voltage in per unit of
        # the residual at 10 kA; from memory
        ((0.810, 0.974, 1.052, 1.108, 1.195, 1.277), 0.0110),
        ((0.623, 0.788, 0.866, 0.922, 1.009, 1.091), 0.0124),
    ],
    ids=["A0", "A1"],
)
def test_three_numbers_give_the_published_curves(curve: tuple[float, ...], worst: float) -> None:
    table = np.array(curve)
    # the table begins at 2 mA; its first power law, continued, gives the voltage at 1 mA
    slope = math.log(table[1] / table[0]) / math.log(100.0 / 2e-3)
    one_milliampere = table[0] * 0.5**slope
    law = fit_three_numbers(one_milliampere, 10e3, table[4])
    error = np.max(np.abs(law.voltage(PINCETI_CURRENT) / table - 1.0))
    assert error < 0.015
    assert error == pytest.approx(worst, abs=5e-4)


def test_three_numbers_are_met() -> None:
    assert float(DISC.voltage(20e3)) == pytest.approx(1350.0, rel=1e-6)
    # the leak of 1 uA takes a thousandth of the 1 mA
    assert float(DISC.voltage(1e-3)) == pytest.approx(430.0, rel=1e-4)
    assert DISC.exponent == 35.0
    assert DISC.gamma == 0.7
    assert DISC.leakage_resistance == pytest.approx(430e6)


def test_a_fourth_number_is_met_too() -> None:
    second = float(DISC.voltage(5e3)) * 0.98
    law = fit_four_numbers(430.0, 20e3, 1350.0, 5e3, second)
    assert float(law.voltage(5e3)) == pytest.approx(second, rel=1e-6)
    assert float(law.voltage(20e3)) == pytest.approx(1350.0, rel=1e-6)


def test_the_fourth_number_of_a_three_number_law_changes_nothing() -> None:
    law = fit_four_numbers(430.0, 20e3, 1350.0, 5e3, float(DISC.voltage(5e3)))
    assert law.gamma == pytest.approx(DISC.gamma, rel=1e-5)


@pytest.mark.parametrize("level", [300.0, 430.0, 450.0, 500.0])
def test_a_level_too_near_the_reference_voltage_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="too close to the 430 V"):
        fit_three_numbers(430.0, 20e3, level)


def test_a_nominal_current_below_the_reference_current_is_refused() -> None:
    with pytest.raises(ValueError, match="nominal current above"):
        fit_three_numbers(430.0, 1e-3, 1350.0)


@pytest.mark.parametrize("bad", [0.0, -430.0, math.nan, math.inf])
def test_a_reference_voltage_must_be_positive(bad: float) -> None:
    with pytest.raises(ValueError, match="reference_voltage"):
        fit_three_numbers(bad, 20e3, 1350.0)


@pytest.mark.parametrize(
    ("current", "voltage", "message"),
    [
        (5e3, 500.0, "nothing is left"),
        (20e3, 1300.0, "nothing is left"),
        (5e3, 1340.0, "exponent"),
        (5e3, 700.0, "exponent"),
    ],
)
def test_a_fourth_number_that_contradicts_the_others_is_refused(
    current: float, voltage: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        fit_four_numbers(430.0, 20e3, 1350.0, current, voltage)


@pytest.mark.parametrize(
    ("field", "value"),
    [("exponent", 0.5), ("gamma", 1.1), ("gamma", 0.0), ("scale", 0.0), ("upturn", -1.0)],
)
def test_a_law_out_of_range_is_refused(field: str, value: float) -> None:
    with pytest.raises(ValueError, match=field):
        replace(DISC, **{field: value})


@given(laws())
def test_nothing_flows_at_no_voltage(law: VaristorLaw) -> None:
    assert float(law.current(0.0)) == 0.0
    assert float(law.voltage(0.0)) == 0.0
    assert float(law.conductance(0.0)) == pytest.approx(
        1.0 / law.leakage_resistance / law.scale, rel=1e-6
    )


@given(laws(), st.floats(-300e3, 300e3))
def test_current_and_voltage_undo_each_other(law: VaristorLaw, current: float) -> None:
    again = law.current(law.voltage(current))
    # an ulp of voltage is exponent ulps of current
    assert float(again) == pytest.approx(current, rel=1e-11, abs=1e-300)


@given(laws(), st.floats(-1e4, 1e4))
def test_voltage_and_current_undo_each_other(law: VaristorLaw, voltage: float) -> None:
    assert float(law.voltage(law.current(voltage))) == pytest.approx(voltage, rel=1e-12, abs=1e-300)


@given(laws(), st.floats(0.0, 1e6))
def test_the_law_is_odd(law: VaristorLaw, magnitude: float) -> None:
    assert law.current(-magnitude) == -law.current(magnitude)
    assert law.voltage(-magnitude) == -law.voltage(magnitude)
    assert law.conductance(-magnitude) == law.conductance(magnitude)


@given(laws())
def test_the_law_rises_strictly(law: VaristorLaw) -> None:
    current = np.concatenate((-np.geomspace(1e7, 1e-12, 400), [0.0], np.geomspace(1e-12, 1e7, 400)))
    assert np.all(np.diff(law.voltage(current)) > 0.0)
    voltage = np.linspace(-20.0 * law.reference_voltage, 20.0 * law.reference_voltage, 801)
    assert np.all(np.diff(law.current(voltage)) > 0.0)


@given(laws(), st.floats(0.05, 10.0))
def test_conductance_is_the_slope_of_the_current(law: VaristorLaw, share: float) -> None:
    v = share * law.reference_voltage
    h = 1e-6 * v
    slope = float(law.current(v + h) - law.current(v - h)) / (2.0 * h)
    # second order in h times the curvature of a power of up to a hundred, and the joint at 1 MA
    assert float(law.conductance(v)) == pytest.approx(slope, rel=1e-4)


@given(laws(), st.floats(0.5, 1.5), st.floats(1e-6, 100e3))
def test_scale_multiplies_the_voltage_at_equal_current(
    law: VaristorLaw, scale: float, current: float
) -> None:
    nominal = float(replace(law, scale=1.0).voltage(current))
    assert float(replace(law, scale=scale).voltage(current)) == pytest.approx(
        scale * nominal, rel=1e-12
    )


@given(laws(), st.integers(2, 120), st.floats(1.0, 500e3))
def test_a_table_of_points_is_symmetric_and_rises(
    law: VaristorLaw, half: int, i_max: float
) -> None:
    n = 2 * half + 1
    voltage, current = law.points(n, i_max)
    assert len(voltage) == len(current) == n
    assert np.all(np.diff(voltage) > 0.0)
    assert np.all(np.diff(current) > 0.0)
    assert np.array_equal(voltage, -voltage[::-1])
    assert np.array_equal(current, -current[::-1])
    assert current[-1] == pytest.approx(i_max, rel=1e-12)
    np.testing.assert_allclose(law.voltage(current), voltage, rtol=1e-12)


@given(laws())
def test_chords_between_points_stay_close_to_the_curve(law: VaristorLaw) -> None:
    voltage, current = law.points(241, 200e3)
    between = np.geomspace(1e-6, 200e3, 3000)
    missed = np.interp(between, current, voltage) / law.voltage(between) - 1.0
    # equal misses of (range of the bend / 120)^2 / 8: well under a thousandth
    assert np.max(np.abs(missed)) < 1e-3
    assert np.max(missed) < 1e-12  # the law's voltage is concave in the current: chords lie below


@pytest.mark.parametrize("n", [3, 10, 0])
def test_a_table_needs_an_odd_number_of_points(n: int) -> None:
    with pytest.raises(ValueError, match="odd number"):
        DISC.points(n, 1e3)


def test_a_table_needs_a_largest_current() -> None:
    with pytest.raises(ValueError, match="i_max"):
        DISC.points(121, 0.0)


def test_absurd_voltages_neither_overflow_nor_fail() -> None:
    voltage = np.array([1e-300, 1e-12, 1e5, 1e9, 1e200])
    current = DISC.current(voltage)
    assert np.all(np.isfinite(current))
    np.testing.assert_allclose(DISC.voltage(current), voltage, rtol=1e-12)


def test_a_voltage_that_is_not_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        DISC.current(np.array([1.0, math.nan]))


def test_shapes_of_arrays_are_kept() -> None:
    grid = np.linspace(-1e3, 1e3, 12).reshape(3, 4)
    assert DISC.current(grid).shape == DISC.voltage(grid).shape == (3, 4)
    assert np.ndim(DISC.current(500.0)) == 0
