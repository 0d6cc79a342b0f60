"""Moments at which sources are tabulated for a march whose steps are not known beforehand."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import CurrentSource, VoltageSource
from surgesim.physics.induced import Induced
from surgesim.physics.waveforms import Waveform

Array = NDArray[np.float64]

STRAIGHT = 1e-8
"""Largest share of a waveform's peak that a straight line between two moments may miss."""

FIRST = 1024
"""Intervals to begin with."""


def moments(network: Network, *, stop: float, shortest: float) -> Array:
    """Moments in s from 0 to ``stop`` between which every source is straight, near enough.

    Intervals are halved until they are, or no longer than ``shortest`` (s).
    """
    waves = list(_waveforms(network))
    time = np.linspace(0.0, stop, FIRST + 1)
    while len(more := _bent(waves, time, shortest)):
        time = np.sort(np.concatenate([time, more]))
    return time


def _bent(waves: list[Waveform | Induced], time: Array, shortest: float) -> Array:
    """The middles of the intervals that are not straight."""
    middle = (time[1:] + time[:-1]) / 2.0
    bent = np.zeros(len(middle), dtype=np.bool_)
    for wave in waves:
        values = np.asarray(wave.value(time))
        off = np.abs(np.asarray(wave.value(middle)) - (values[1:] + values[:-1]) / 2.0)
        bent |= off > STRAIGHT * np.max(np.abs(values), initial=0.0)
    chosen: Array = middle[bent & (np.diff(time) > shortest)]
    return chosen


def _waveforms(network: Network) -> Iterator[Waveform | Induced]:
    for element in network.elements:
        if isinstance(element, CurrentSource | VoltageSource) and element.waveform is not None:
            yield element.waveform
