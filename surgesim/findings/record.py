"""The two windows of a case read as one record: the front to its end, then the tail.

The front resolves the first microseconds and ends; the tail starts from t = 0 again in steps
too coarse for the front, with its short lines lumped. So everything up to the front's end is
taken from the front, and everything after it from the tail, for peaks and for integrals alike.
Where the two meet lies one step of the tail, which the integrals bridge with a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.network.waveforms import Waveforms, Window

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Record:
    """Both windows of one case; every series has the shape of ``time``."""

    front: Waveforms
    tail: Waveforms

    @property
    def time(self) -> Array:
        """Times in s, increasing, from 0 to the end of the longer window."""
        return self._joined(self.front.time, self.tail.time)

    def across(self, a: str, b: str) -> Array:
        """Voltage v(a) - v(b), V."""
        return self._joined(self.front.across(a, b), self.tail.across(a, b))

    def at(self, node: str) -> Array:
        """Voltage of a node to remote earth, V."""
        return self._joined(self.front.at(node), self.tail.at(node))

    def current(self, branch: str) -> Array:
        """Current of a recorded branch, a to b, A."""
        return self._joined(self.front.currents[branch], self.tail.currents[branch])

    def window_at(self, index: int) -> Window:
        """Which window a point of the record comes from."""
        return "front" if index < len(self.front.time) else "tail"

    def _joined(self, front: Array, tail: Array) -> Array:
        after = self.tail.time > self.front.time[-1]
        return np.concatenate((front, tail[after]))


def crest(values: Array) -> int:
    """Index of the largest absolute value, the first one of equals.

    The sampled crest is taken as it is. Clamping, arriving waves and flashover make corners,
    and a parabola laid through three points overshoots a corner: it would invent a voltage
    nobody computed. What sampling can miss of a round crest is kept small by the step ceiling.
    """
    return int(np.argmax(np.abs(values)))


def signed_extreme(values: Array) -> float:
    """The value of largest size, with its sign."""
    return float(values[crest(values)])


def integral(values: Array, time: Array) -> float:
    """Integral over the record by the trapezoidal rule, as the engine itself marches."""
    return float(np.trapezoid(values, time))


def time_above_half(values: Array, time: Array, index: int) -> float:
    """How long, in s, the values around ``index`` stay above half of what they are there.

    Same sign as at ``index``, without interruption, its ends interpolated; cut off where the
    record ends, and zero where the value is.
    """
    if values[index] == 0.0:
        return 0.0
    share = values / values[index]
    below = np.flatnonzero(share < 0.5)
    before, after = below[below < index], below[below > index]
    start = _crossing(share, time, int(before[-1])) if before.size else float(time[0])
    end = _crossing(share, time, int(after[0]) - 1) if after.size else float(time[-1])
    return end - start


def _crossing(share: Array, time: Array, left: int) -> float:
    """When the share passes one half between the points ``left`` and ``left + 1``."""
    low, high = share[left], share[left + 1]
    part = (0.5 - low) / (high - low)
    return float(time[left] + part * (time[left + 1] - time[left]))
