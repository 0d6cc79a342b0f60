"""The voltage that a current induces: rates of change, and the table beside them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from surgesim.physics.induced import Induced, rate, starts_gently, times
from surgesim.physics.waveforms import (
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Heidler,
    Step,
    Waveform,
    shape_figures,
)

SHAPES: tuple[Waveform, ...] = (
    Heidler(peak=12e3, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0),
    Heidler(peak=-5e3, correction=0.939, front=47.52e-6, tail=4.296e-6, exponent=2.741),
    CubicExponential(peak=5e3, scale=0.01243e18, time_constant=3.911e-6),
    Step(peak=1e3, rise=1e-6),
)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.formula)
def test_the_rate_of_change_integrates_to_the_current(shape: Waveform) -> None:
    time = np.linspace(0.0, 20e-6, 20_001)
    grown = cumulative_simpson(rate(shape, time), x=time, initial=0.0)
    assert grown == pytest.approx(shape.value(time), abs=1e-5 * abs(shape.peak))
    assert rate(shape, np.array([-1e-6, 0.0])) == pytest.approx([0.0, 0.0], abs=1.0)
    assert starts_gently(shape)


def test_the_steepest_rise_of_a_subsequent_stroke() -> None:
    # IEC 62305-1:2010 Annex B: "steepest rise 280 kA/us" at 50 kA (from memory); 279.0 computed
    shape = Heidler(peak=50e3, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0)
    steepest = float(np.max(rate(shape, np.linspace(0.0, 2e-6, 20_001))))
    assert steepest == pytest.approx(279.0e9, rel=1e-3)
    assert steepest == pytest.approx(shape_figures(shape, kind="current").steepest, rel=1e-4)


def test_long_after_the_surge() -> None:
    assert np.all(np.isfinite(rate(SHAPES[0], np.array([1e-30, 1e-3, 1.0, 1e3]))))


@pytest.mark.parametrize(
    "shape",
    [
        DoubleExponential(peak=1.0, scale=1.05, decay=1e4, rise=1e6),
        DampedSine(peak=1.0, correction=0.6, time_constant=24e-6, angular_frequency=1.2e5),
    ],
)
def test_a_current_that_jumps_off(shape: Waveform) -> None:
    assert not starts_gently(shape)
    with pytest.raises(ValueError, match="steepest rise, at once"):
        rate(shape, np.zeros(1))


def test_the_table_beside_it() -> None:
    induced = Induced(current=SHAPES[3], mutual=2e-6, table=((0.0, 0.0), (1e-6, 10.0)))
    middle = induced.value(0.5e-6)
    assert middle == pytest.approx(2e-6 * rate(SHAPES[3], np.array(0.5e-6)) + 5.0)
    assert times(induced, -0.5).value(0.5e-6) == pytest.approx(-0.5 * middle)
