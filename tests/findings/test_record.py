from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.findings.record import (
    Record,
    crest,
    integral,
    signed_extreme,
    time_above_half,
)
from surgesim.network.elements import GROUND
from surgesim.network.waveforms import Waveforms

Make = Callable[..., Waveforms]


@pytest.fixture
def record(waves: Make) -> Record:
    front, tail = np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0, 4.0, 6.0])
    return Record(
        waves(front, {"a": front + 10, "b": front * 0 + 1}, {"meter": -front}),
        waves(tail, {"a": tail + 100, "b": tail * 0 + 2}, {"meter": tail}, window="tail"),
    )


def test_front_up_to_its_end_then_tail(record: Record) -> None:
    assert record.time.tolist() == [0, 1, 2, 4, 6]
    assert record.at("a").tolist() == [10, 11, 12, 104, 106]
    assert record.across("a", "b").tolist() == [9, 10, 11, 102, 104]
    assert record.current("meter").tolist() == [0, -1, -2, 4, 6]


def test_remote_earth_is_zero_in_both_windows(record: Record) -> None:
    assert record.at(GROUND).tolist() == [0, 0, 0, 0, 0]


def test_each_point_knows_its_window(record: Record) -> None:
    windows = [record.window_at(index) for index in range(len(record.time))]
    assert windows == ["front", "front", "front", "tail", "tail"]


def test_tail_that_ends_with_the_front_adds_nothing(waves: Make) -> None:
    time = np.array([0.0, 1.0])
    record = Record(waves(time, {"a": time}), waves(time, {"a": time + 9}, window="tail"))
    assert record.at("a").tolist() == [0, 1]


def test_crest_is_the_first_largest_size_whatever_its_sign() -> None:
    assert crest(np.array([1.0, -3.0, 2.0, 3.0])) == 1
    assert signed_extreme(np.array([1.0, -3.0, 2.0, 3.0])) == -3.0


def test_crest_at_either_edge_is_found() -> None:
    assert crest(np.array([5.0, 1.0, 2.0])) == 0
    assert crest(np.array([0.0, 1.0, 2.0])) == 2


def test_crest_of_a_corner_is_not_overshot() -> None:
    # a clamp cuts a ramp off: three points make a parabola with its top at 10.25
    assert signed_extreme(np.array([8.0, 10.0, 10.0, 10.0])) == 10.0


def test_integral_is_exact_on_straight_lines_of_uneven_steps() -> None:
    time = np.array([0.0, 0.5, 3.0, 4.0])
    assert integral(2 * time, time) == pytest.approx(16.0, rel=1e-15)


def test_triangle_stays_above_half_for_half_its_base() -> None:
    time = np.linspace(0.0, 8.0, 9)
    triangle = np.minimum(time, 8.0 - time)
    assert time_above_half(triangle, time, 4) == pytest.approx(4.0)
    assert time_above_half(-triangle, time, 4) == pytest.approx(4.0)


def test_crossings_are_interpolated() -> None:
    time, values = np.array([0.0, 1.0, 3.0]), np.array([0.0, 4.0, 0.0])
    assert time_above_half(values, time, 1) == pytest.approx(0.5 + 1.0)


def test_only_the_stretch_around_the_peak_counts() -> None:
    time = np.arange(7.0)
    values = np.array([3.0, 0.0, 4.0, 4.0, 0.0, 3.0, 3.0])
    assert time_above_half(values, time, 2) == pytest.approx(2.0)


def test_a_swing_to_the_other_sign_ends_it() -> None:
    time, values = np.array([0.0, 1.0, 2.0]), np.array([4.0, -4.0, -4.0])
    assert time_above_half(values, time, 0) == pytest.approx(0.25)


def test_cut_off_where_the_record_ends() -> None:
    time = np.array([0.0, 1.0, 2.0])
    assert time_above_half(np.array([4.0, 4.0, 4.0]), time, 0) == 2.0


def test_no_time_above_half_of_nothing() -> None:
    assert time_above_half(np.zeros(3), np.arange(3.0), 0) == 0.0


@given(
    st.lists(st.integers(-1000, 1000), min_size=2, max_size=30),
    st.integers(1, 1000),
)
def test_duration_lies_within_the_record_and_does_not_depend_on_the_scale(
    values: list[int], scale: int
) -> None:
    series, time = np.array(values, dtype=float), np.arange(float(len(values)))
    at = crest(series)
    duration = time_above_half(series, time, at)
    assert 0.0 <= duration <= time[-1]
    assert time_above_half(-scale * series, time, at) == pytest.approx(duration)
