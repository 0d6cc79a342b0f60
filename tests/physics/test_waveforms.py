"""What every wave shape owes its callers, whatever its formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.physics.waveforms import (
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Heidler,
    Ramp,
    Step,
    Waveform,
    rescaled,
    reversed,
    shape_figures,
)

SHAPES: tuple[Waveform, ...] = (
    Heidler(peak=5e3, correction=0.93, front=19e-6, tail=485e-6, exponent=10),
    Heidler(peak=5e3, correction=0.05, front=47.52e-6, tail=4.296e-6, exponent=2.741),
    DoubleExponential(peak=6e3, scale=1.03725, decay=14659.1, rise=2.46893e6),
    CubicExponential(peak=20e3, scale=0.01243e18, time_constant=3.911e-6),
    DampedSine(peak=1e3, correction=0.6152, time_constant=24.022e-6, angular_frequency=120_023.0),
    Ramp(peak=1e6, rise=1e-6),
    Step(peak=1e3, rise=1e-8),
)

each_shape = pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.formula)


@each_shape
def test_nothing_flows_before_time_zero_and_at_it(shape: Waveform) -> None:
    assert np.all(shape.value(np.array([-1e300, -1.0, -1e-12, -0.0, 0.0])) == 0.0)


@each_shape
def test_late_and_early_times_neither_overflow_nor_become_undefined(shape: Waveform) -> None:
    times = np.concatenate((np.geomspace(1e-300, 1e-9, 50), np.geomspace(1.0, 1e290, 50)))
    values = shape.value(times)
    assert np.all(np.isfinite(values))
    if not isinstance(shape, Ramp | Step):
        assert np.all(values[-40:] == 0.0)


@each_shape
def test_a_scalar_time_gives_the_value_of_the_array(shape: Waveform) -> None:
    times = np.array([-1e-6, 0.0, 3e-7, 8e-6])
    assert [float(shape.value(float(t))) for t in times] == list(shape.value(times))


@each_shape
@given(factor=st.floats(1e-3, 1e3))
def test_values_are_proportional_to_the_peak(shape: Waveform, factor: float) -> None:
    times = np.linspace(0.0, 50e-6, 200)
    other = rescaled(shape, factor * shape.peak)
    np.testing.assert_allclose(other.value(times), factor * shape.value(times), rtol=1e-12)


@each_shape
def test_a_reversed_shape_is_the_negative_and_has_the_same_figures(shape: Waveform) -> None:
    times = np.linspace(0.0, 50e-6, 200)
    negative = reversed(shape)
    assert np.array_equal(negative.value(times), -shape.value(times))
    ours, theirs = (shape_figures(s, kind="current") for s in (shape, negative))
    assert ours.peak == -theirs.peak
    assert (ours.front, ours.tail, ours.charge) == (theirs.front, theirs.tail, theirs.charge)


def test_the_foot_of_a_double_exponential_keeps_its_digits() -> None:
    shape = DoubleExponential(peak=1.0, scale=1.0, decay=1.0, rise=3.0)
    assert float(shape.value(1e-12)) == pytest.approx(2e-12, rel=1e-11)


def test_a_ramp_and_a_step_reach_their_peak_at_the_end_of_the_rise() -> None:
    for shape in (Ramp(peak=-4.0, rise=2.0), Step(peak=-4.0, rise=2.0)):
        assert list(shape.value(np.array([1.0, 2.0, 3.0]))) == pytest.approx([-2.0, -4.0, -4.0])


def test_figures_of_a_ramp_are_its_own_and_it_has_no_tail() -> None:
    figures = shape_figures(Ramp(peak=-400e3, rise=2e-6), kind="voltage")
    assert figures.peak == -400e3
    assert figures.front == pytest.approx(2e-6)
    assert figures.time_to_peak == pytest.approx(2e-6)
    assert figures.steepest == pytest.approx(200e9)
    assert (figures.tail, figures.charge, figures.specific_energy) == (None, None, None)


def test_a_voltage_has_neither_charge_nor_specific_energy() -> None:
    figures = shape_figures(SHAPES[2], kind="voltage")
    assert figures.tail is not None
    assert (figures.charge, figures.specific_energy) == (None, None)


def test_figures_of_a_damped_sine_agree_with_its_integrals() -> None:
    shape = DampedSine(peak=1.0, correction=1.0, time_constant=2.0, angular_frequency=5.0)
    figures = shape_figures(shape, kind="current")
    a, w = 0.5, 5.0
    decay = math.exp(-a * math.pi / w)
    # integral of |exp(-at) sin wt| over all half waves, and of its square: elementary
    charge = w / (a * a + w * w) * (1 + decay) / (1 - decay)
    energy = w * w / (4 * a * (a * a + w * w))
    assert figures.charge == pytest.approx(charge, rel=1e-5)
    assert figures.specific_energy == pytest.approx(energy, rel=1e-5)
    assert figures.time_to_peak == pytest.approx(math.atan(w / a) / w, rel=1e-5)
    assert figures.steepest == pytest.approx(w, rel=1e-3)


def test_an_overdamped_looking_sine_is_measured_too() -> None:
    shape = DampedSine(peak=1.0, correction=1.0, time_constant=1e-6, angular_frequency=1e3)
    figures = shape_figures(shape, kind="current")
    # sin wt is wt as long as anything flows: a pulse t exp(-t/tau)
    assert figures.time_to_peak == pytest.approx(1e-6, rel=1e-4)
    assert figures.charge == pytest.approx(1e3 * 1e-12, rel=1e-4)


def test_a_steady_ringing_is_not_measured_as_a_surge() -> None:
    shape = DampedSine(peak=1.0, correction=1.0, time_constant=1.0, angular_frequency=1e6)
    with pytest.raises(ValueError, match="steady ringing"):
        shape_figures(shape, kind="current")


def test_a_surge_of_no_size_is_not_measured() -> None:
    with pytest.raises(ValueError, match="peak of zero"):
        shape_figures(Ramp(peak=0.0, rise=1.0), kind="voltage")


@pytest.mark.parametrize("bad", [0.0, -1e-6, math.nan, math.inf])
def test_time_constants_must_be_positive_and_finite(bad: float) -> None:
    with pytest.raises(ValueError, match="front"):
        Heidler(peak=1.0, correction=1.0, front=bad, tail=1e-3, exponent=10)
    with pytest.raises(ValueError, match="rise"):
        Ramp(peak=1.0, rise=bad)


def test_a_peak_must_be_finite() -> None:
    with pytest.raises(ValueError, match="finite peak"):
        Step(peak=math.nan, rise=1e-9)


def test_a_double_exponential_must_rise_faster_than_it_decays() -> None:
    with pytest.raises(ValueError, match="decay below rise"):
        DoubleExponential(peak=1.0, scale=1.0, decay=2.0, rise=2.0)
