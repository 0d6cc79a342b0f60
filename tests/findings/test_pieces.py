"""Pieces of a window against closed forms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.findings.pieces import Pieces
from surgesim.network.waveforms import Waveforms

Make = Callable[..., Waveforms]

# steps grow from 1 ns to 10 ns, as an engine's do
TIME = np.cumsum(np.concatenate(([0.0], np.linspace(1e-9, 10e-9, 4000))))
END = TIME[-1]


def pieces(make: Make, since: float = 0.0) -> Pieces:
    return Pieces(make(TIME, {"a": 3e9 * TIME}, {"meter": np.full_like(TIME, 2.0)}), since=since)


def test_each_piece_is_as_long_as_all_before_it(waves: Make) -> None:
    ends = pieces(waves).elapsed
    assert len(ends) == 12
    assert ends[-1] == END
    # to a step of 10 ns
    assert ends == pytest.approx(END * 2.0 ** np.arange(-11, 1), abs=10e-9)


@pytest.mark.parametrize("since", [END / 3, END / 100])
def test_a_later_beginning_and_at_most_doubling_pieces(waves: Make, since: float) -> None:
    part = pieces(waves, since)
    assert TIME[part.cuts[0]] <= since < TIME[part.cuts[0] + 1]
    assert part.elapsed[-1] == END - TIME[part.cuts[0]]
    ends = TIME[part.cuts]
    assert np.all(ends[1:] / ends[:-1] < 2.1)


def test_nothing_shown_nothing_cut(waves: Make) -> None:
    part = pieces(waves, END)
    assert len(part.elapsed) == 0
    assert part.integral(TIME).shape == part.change(TIME).shape == part.blur(TIME).shape == (0,)


def test_integrals_of_a_straight_line_are_exact(waves: Make) -> None:
    part = pieces(waves)
    ends = TIME[part.cuts]
    assert part.flux("a") == pytest.approx(1.5e9 * np.diff(ends**2), rel=1e-12)
    assert part.charge("meter") == pytest.approx(2.0 * np.diff(ends), rel=1e-12)
    assert part.change(3e9 * TIME) == pytest.approx(3e9 * np.diff(ends), rel=1e-12)


@given(since=st.floats(0.0, 0.9), delay=st.floats(1e-9, 1e-5))
def test_moved_back_by_a_delay(waves: Make, since: float, delay: float) -> None:
    """5 + 3e9 t, which stood at 5 before t = 0."""
    part = pieces(waves, since * END)
    moved = TIME[part.cuts] - delay
    late = np.maximum(moved, 0.0)
    running = 5.0 * moved + 1.5e9 * late**2
    found = part.earlier(5.0 + 3e9 * TIME, delay)
    assert found == pytest.approx(np.diff(running), rel=1e-9, abs=1e-15)


def test_what_a_step_leaves_open(waves: Make) -> None:
    part = pieces(waves)
    assert part.blur(3e9 * TIME) == pytest.approx(0.0, abs=0.15)
    # a swing of 1 V within four steps may be off by as much as it bends, at each end
    swinging = np.sin(np.arange(len(TIME)) * np.pi / 2)
    assert part.blur(swinging)[3:-1] == pytest.approx(4.0)


def test_words(waves: Make) -> None:
    assert pieces(waves).words(11) == "11 us to 22 us in the front"
