"""Which insulation flashed over in a run, when, and whether the steps were fine enough for it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.emit import Flashovers
from surgesim.engine.insulation import FIRED, state_name
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation
from surgesim.network.waveforms import Waveforms

COLLAPSE = 0.25
"""Longest step where insulation fires, in lags.

A collapse is a steep wave into the cables, which makes sharp crests at their other ends. Steps as
short as it needs are taken by error control while something is steep (``CLOSE`` of
:mod:`surgesim.engine.writer`) and no shorter ones elsewhere; this ceiling is what tells which of
two poles, a few hundred volts apart, fires first and relieves the other. It is also what reads a
wave that comes back on a line, of which error control knows nothing: at half a lag the rise of a
rod behind an aerial line is 1.7 % low, at a quarter it is 0.2 % off (second solver, lag/200).
"""


def fired(network: Network, waves: Waveforms) -> dict[str, float]:
    """When each insulation that flashed over did so, in s."""
    return {
        element.name: float(waves.time[np.argmax(memory > FIRED)])
        for element, memory in _memories(network, waves)
        if memory[-1] > FIRED
    }


def last_flashover(network: Network, waves: Waveforms) -> float:
    """When the last insulation fired that did, in s; 0 without one."""
    return max(fired(network, waves).values(), default=0.0)


def flashovers(network: Network, front: Waveforms | None) -> Flashovers:
    """What a front decides for its tail; everything else may fire after its end."""
    if front is None:
        return Flashovers()
    return Flashovers(fired_at=fired(network, front), until=front.stop)


def step_wanted(network: Network, waves: Waveforms) -> float:
    """The longest step (s) that resolves every flashover of a run; infinite without one."""
    over = fired(network, waves)
    lags = [element.lag for element, _ in _memories(network, waves) if element.name in over]
    return COLLAPSE * min(lags, default=math.inf)


def _memories(
    network: Network, waves: Waveforms
) -> Iterator[tuple[Insulation, NDArray[np.float64]]]:
    for element in network.elements:
        if isinstance(element, Insulation):
            yield element, waves.voltages[state_name(element)]
