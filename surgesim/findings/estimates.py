"""How far its steps may have put a peak or a charge off, read from the waveform alone.

No second run is made for this, so it is a bound on what the steps in time do and on nothing
else: where a line's losses stand along it (:mod:`surgesim.network.halves`) only another run can
tell. Parts of a peak's error, added as if none ever cancelled another:

*sampling*: what the crest may reach between two samples, where the straight lines through the
samples on either side of it meet; for a smooth crest that is twice what a parabola would find,
for one that comes to a point it is the point.

*truncation*: the trapezoidal rule errs by ``h^3 v'''/12`` in every step of h (Gear's of second
order by ``2 h^3 v'''/9``; Gear 1971, the usual error constants, from memory), so by
``sum h^2 |change of v''| / 12`` up to the crest if no error ever dies out. On the tail the larger
constant counts, and a rule that leans by a share s towards the backward one, ``s h^2 v''`` a step.

*handover*, of a peak in the tail: the largest difference of the two windows over the last
quarter of the front, where both have the same voltage.

*tables and flashover*: see the constants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from surgesim.findings.record import Array, crest, integral

TRAPEZOIDAL, GEAR = 1.0 / 12.0, 2.0 / 9.0

LEANING = 0.01
"""How far the tail's rule may lean from the trapezoidal one; Gear's needs no such term."""

TABLE = 0.0002
"""Share of a voltage: what a chord of the engine's table of a varistor lies off its law."""

TABLE_CURRENT = 0.001
"""Share of a varistor's current or charge that this may become in a circuit that lets it: five
times as much. At a fixed voltage it would be the exponent, some 35 times, but then the current
would not be what counts."""

COLLAPSE = 0.003
"""Share of everything seen once insulation has fired: what depends on the moment at which it did,
which no waveform tells. So far off are the sharpest crests of the demo installation."""

LESS_CLOSELY, NOT_CLOSELY = 0.01, 0.025
"""The same where the front could not be run under the closer of the engine's error controls, and
where it could be run under none: there it was up to 2.7 %."""


@dataclass(frozen=True, slots=True)
class Series:
    """A quantity in both windows: times in s and values, front and tail."""

    front_time: Array
    front: Array
    tail_time: Array
    tail: Array

    @property
    def after(self) -> int:
        """First point of the tail that lies past the front's end."""
        return int(np.searchsorted(self.tail_time, self.front_time[-1], side="right"))


def peak_error(series: Series) -> float:
    """Bound on the error of the value of largest size, in its own unit."""
    rest = series.after
    past = series.tail[rest:]
    in_front = not past.size or np.max(np.abs(past)) <= np.max(np.abs(series.front))
    if in_front:
        time, values = series.front_time, series.front
        at = crest(values)
        return _sampling(time, values, at) + _truncation(time, values, at, TRAPEZOIDAL, lean=0.0)
    begin = max(rest - 3, 0)  # the first third difference needs what lies before it
    time, values = series.tail_time[begin:], series.tail[begin:]
    at = rest - begin + crest(past)
    here = _sampling(time, values, at) + _truncation(time, values, at, GEAR, lean=LEANING)
    return here + _handover(series)


def charge_error(series: Series) -> float:
    """Bound on the error of the integral of the size, C.

    The windows' charges over the last half of the front against each other, twice, which tells
    how the tail errs where it follows, and each window's integral against that over every second
    of its points. What a flashover sets ringing in the tail's longer steps earlier is no part of
    the result.
    """
    front, tail = np.abs(series.front), np.abs(series.tail)
    rest = series.after
    begin = int(np.searchsorted(series.tail_time, 0.5 * series.front_time[-1]))
    shared = integral(tail[begin:rest], series.tail_time[begin:rest])
    ends = series.tail_time[[min(begin, rest - 1), rest - 1]] if rest else np.zeros(2)
    both = (series.front_time >= ends[0]) & (series.front_time <= ends[1])
    apart = 2.0 * abs(integral(front[both], series.front_time[both]) - shared)
    sampled = _quadrature(series.front_time, front)
    return apart + sampled + _quadrature(series.tail_time[rest:], tail[rest:])


def _sampling(time: Array, values: Array, at: int) -> float:
    """How far above the largest sample the lines on both sides of it, on either hand, meet."""
    size = values if values[at] >= 0.0 else -values
    above = 0.0
    for toward in (1, -1):
        near, far = at + toward, at + 2 * toward
        if 0 <= at - toward < len(size) and 0 <= far < len(size):
            rising = (size[at] - size[at - toward]) / (time[at] - time[at - toward])
            falling = (size[far] - size[near]) / (time[far] - time[near])
            if rising != falling:
                gap = size[near] - size[at] - falling * (time[near] - time[at])
                along = gap / (rising - falling) / (time[near] - time[at])
                along = min(max(along, 0.0), 1.0)
                above = max(above, rising * along * (time[near] - time[at]))
    return float(above)


def _truncation(time: Array, values: Array, at: int, constant: float, *, lean: float) -> float:
    """The rule's errors up to the step after the crest, all of one sign."""
    steps = np.diff(time[: at + 2])
    slopes = np.diff(values[: at + 2]) / steps
    bends = 2.0 * np.diff(slopes) / (steps[1:] + steps[:-1])
    third = float(np.sum(steps[1:-1] ** 2 * np.abs(np.diff(bends))))
    second = float(np.sum(steps[1:] ** 2 * np.abs(bends)))
    return constant * third + lean * second


def _handover(series: Series) -> float:
    """Largest difference of the windows late in the front, by their change from t = 0."""
    late = series.front_time >= 0.75 * series.front_time[-1]
    change = series.front[late] - series.front[0]
    other = np.interp(series.front_time[late], series.tail_time, series.tail) - series.tail[0]
    return float(np.max(np.abs(change - other)))


def _quadrature(time: Array, values: Array) -> float:
    """Error of the trapezoidal rule on these points, by Richardson: a third of the change."""
    odd = len(time) - (len(time) + 1) % 2  # an even number of intervals
    if odd < 3:
        return 0.0
    fine = integral(values[:odd], time[:odd])
    return abs(fine - integral(values[:odd:2], time[:odd:2])) / 3.0
