"""Error bounds from one waveform, held against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from surgesim.engine.writer import CLOSE, LESS_CLOSE, OPTIONS, OTHER_WAY
from surgesim.findings.estimates import Series, charge_error, peak_error
from surgesim.findings.numerical import after_collapse
from surgesim.network.waveforms import Waveforms

Array = NDArray[np.float64]


def one(time: Array, values: Array) -> Series:
    """A series whose tail adds nothing."""
    nothing = np.zeros(1)
    return Series(time, values, nothing, nothing)


@given(offset=st.floats(0.0, 1.0), per_swing=st.integers(12, 200))
def test_a_smooth_crest_between_samples_lies_within_the_bound(
    offset: float, per_swing: int
) -> None:
    """Exact values, so that sampling is all the error there is."""
    step = 2 * math.pi / per_swing
    time = np.arange(0.0, math.pi, step) + offset * step
    values = np.sin(time)
    missed = 1.0 - float(np.max(values))
    assert missed <= peak_error(one(time, values)) + 1e-12


@given(apex=st.floats(0.0, 1.0), rise=st.floats(0.1, 10.0), fall=st.floats(0.1, 10.0))
def test_a_pointed_crest_lies_within_the_bound(apex: float, rise: float, fall: float) -> None:
    time = np.arange(-10.0, 11.0)
    values: Array = 100.0 + np.where(time < apex, rise * (time - apex), -fall * (time - apex))
    missed = 100.0 - float(np.max(values))
    assert missed <= peak_error(one(time, values)) + 1e-9


@pytest.mark.parametrize("per_swing", [12, 20, 40, 100])
@pytest.mark.parametrize("damping", [0.05, 0.2, 0.6])
def test_the_overshoot_of_a_swing_marched_in_coarse_steps(per_swing: int, damping: float) -> None:
    """A series R-L-C on a step, marched by the trapezoidal rule.

    Its overshoot is ``1 + exp(-pi z / sqrt(1 - z^2))`` of the step (any text on second-order
    systems, from memory).
    """
    root = math.sqrt(1.0 - damping**2)
    exact = 1.0 + math.exp(-math.pi * damping / root)
    step = 2 * math.pi / per_swing
    matrix = np.array([[0.0, 1.0], [-1.0, -2.0 * damping]])
    ahead = np.linalg.inv(np.eye(2) - step / 2 * matrix)
    state, course = np.zeros(2), [0.0]
    drive = np.array([0.0, 1.0])
    for _ in range(3 * per_swing):
        state = ahead @ ((np.eye(2) + step / 2 * matrix) @ state + step * drive)
        course.append(float(state[0]))
    time = step * np.arange(len(course), dtype=np.float64)
    values = np.array(course)
    true = abs(float(np.max(values)) - exact)
    assert true <= peak_error(one(time, values))


def test_a_peak_of_the_tail_counts_how_far_the_windows_are_apart() -> None:
    front_time, tail_time = np.linspace(0.0, 1.0, 101), np.linspace(0.0, 10.0, 201)
    front, tail = front_time.copy(), np.minimum(tail_time, 5.0)
    apart = np.where(tail_time <= 1.0, 0.03 * tail_time, 0.03)
    told = peak_error(Series(front_time, front, tail_time, tail + apart))
    assert 0.03 <= told < 0.05


def test_a_charge_counts_the_difference_of_the_windows_and_the_sampling() -> None:
    def decay(time: Array) -> Array:
        return np.exp(-time)

    front_time, tail_time = np.linspace(0.0, 1.0, 101), np.linspace(0.0, 20.0, 101)
    exact = 1.0 - math.exp(-20.0)
    after = tail_time > 1.0
    time = np.concatenate((front_time, tail_time[after]))
    found = float(np.trapezoid(decay(time), time))
    told = charge_error(Series(front_time, decay(front_time), tail_time, decay(tail_time)))
    assert abs(found - exact) <= told < 0.05


def test_a_flat_line_has_no_error() -> None:
    time = np.linspace(0.0, 1.0, 11)
    series = Series(time, np.full(11, 437.0), 2 * time, np.full(11, 437.0))
    assert peak_error(series) == 0.0
    assert charge_error(series) == pytest.approx(0.0, abs=1e-12)


def test_a_short_series_is_no_trouble() -> None:
    time = np.array([0.0, 1.0])
    assert peak_error(Series(time, np.array([0.0, 1.0]), time, np.array([0.0, 1.0]))) >= 0.0


@pytest.mark.parametrize(
    ("options", "share"),
    [
        (CLOSE, 0.003),
        (CLOSE + OTHER_WAY, 0.003),
        # beyond these a figure is marked in every table: its front was not run as it should be
        (LESS_CLOSE, 0.01),
        (OPTIONS["front"], 0.025),
    ],
)
def test_a_flashover_leaves_the_more_open_the_less_closely_it_was_followed(
    options: str, share: float
) -> None:
    front = Waveforms(
        window="front", time=np.zeros(1), voltages={}, currents={}, step=1.0, stop=1.0,
        options=options,
    )  # fmt: skip
    assert after_collapse(front) == share
