"""How straight a step was, for its length to follow what happens."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from surgesim.oracle.compiled import compiled
from surgesim.oracle.records import Course, Linear, Memory

Array = NDArray[np.float64]

SLIGHT = 0.01
"""Share of the largest voltage or current that a smaller one is held to the bend of."""


@compiled
def at_least(scale: Array) -> None:
    """Nothing is less than ``SLIGHT`` of the largest."""
    if len(scale):
        scale[:] = np.maximum(scale, SLIGHT * np.max(scale))


@compiled
def largest_so_far(linear: Linear, memory: Memory, course: Course, row: int, scale: Array) -> None:
    """Of everything watched the largest size so far: unknowns, waves leaving ports, pairs.

    No less than ``SLIGHT`` of the largest of its kind. A pair may be the small difference of two
    large voltages, so that it is beside the largest of a pair.
    """
    n, p = len(linear.inverse), course.leaving.shape[1]
    scale[:n] = np.maximum(memory.largest[:n], np.abs(course.unknowns[row, :n]))
    scale[n : n + p] = np.maximum(memory.largest[n : n + p], np.abs(course.leaving[row]))
    scale[n + p :] = np.maximum(memory.largest[n + p :], np.abs(course.across[row]))
    at_least(scale[: linear.volts])
    at_least(scale[linear.volts : n])
    at_least(scale[n : n + p])
    at_least(scale[n + p :])


@compiled
def turned(values: Array, row: int, ratio: float, scale: Array) -> float:
    """By how much a step misses where the step before it was heading, at the most."""
    worst = 0.0
    for k in range(len(scale)):
        before = values[row - 1, k]
        off = abs(values[row, k] - before - ratio * (before - values[row - 2, k]))
        if off > worst * scale[k]:
            worst = off / scale[k]
    return worst


@compiled
def bend(course: Course, scale: Array, row: int) -> float:
    """What a straight line misses between a step's ends, at the most, as a share of ``scale``.

    A parabola through a step's ends and the point before them is off its chord by
    h^2 |x''| / 8 in the middle.
    """
    if row < 2:
        return 0.0
    last = course.time[row] - course.time[row - 1]
    ratio = last / (course.time[row - 1] - course.time[row - 2])
    n, p = course.unknowns.shape[1] - 1, course.leaving.shape[1]
    worst = max(
        turned(course.unknowns, row, ratio, scale[:n]),
        turned(course.leaving, row, ratio, scale[n : n + p]),
        turned(course.across, row, ratio, scale[n + p :]),
    )
    return float(worst * ratio / (4.0 * (1.0 + ratio)))
