"""Which insulation and which spark gaps fired in a run, when, and how fine gaps want it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.emit import Flashovers
from surgesim.engine.gap import course_of, gap_state_name
from surgesim.engine.insulation import FIRED, state_name
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation, SparkGap
from surgesim.network.waveforms import Waveforms

GAP_STEP = 0.05
"""Longest step where a spark gap fires, as a share of the time in which its voltage rises by the
static level. Error control takes shorter ones on the way to the crest, which then lies within
0.05 % of the law's; without it a fifth of this is needed."""

COURSE = 0.1
"""How far apart the corners are by which a front tells its tail of a discharge, in its steps."""


def fired(network: Network, waves: Waveforms) -> dict[str, float]:
    """When each insulation that flashed over did so, and each gap for the first time, in s."""
    insulations = {
        element.name: float(waves.time[np.argmax(memory > FIRED)])
        for element, memory in _memories(network, waves)
        if memory[-1] > FIRED
    }
    return insulations | {
        element.name: float(waves.time[np.argmax(grown > element.law.lit)])
        for element, grown in _discharges(network, waves)
        if np.max(grown) > element.law.lit
    }


def flashovers(network: Network, front: Waveforms | None) -> Flashovers:
    """What a front decides for its tail; everything else may fire after its end."""
    if front is None:
        return Flashovers()
    gaps = {
        element.name: course_of(front.time, grown, apart=COURSE * front.step)
        for element, grown in _discharges(network, front)
    }
    over = fired(network, front)
    fired_at = {name: at for name, at in over.items() if name not in gaps}
    return Flashovers(fired_at=fired_at, gaps=gaps, until=front.stop)


def step_wanted(network: Network, waves: Waveforms) -> float:
    """The longest step (s) that resolves every spark gap that fired; infinite without one."""
    over = fired(network, waves)
    rises = [
        GAP_STEP * element.law.sparkover / _steepest(element, waves, over[element.name])
        for element, _ in _discharges(network, waves)
        if element.name in over
    ]
    return min(rises, default=math.inf)


def _steepest(element: SparkGap, waves: Waveforms, until: float) -> float:
    """How fast (V/s) the voltage across a gap rose on its way to where it fired, on average
    from half its static level to its crest, in this run's steps.
    """
    before = waves.time <= until
    time, volts = waves.time[before], np.abs(waves.across(element.a, element.b)[before])
    crest = int(np.argmax(volts))
    low = int(np.argmax(volts >= 0.5 * element.law.sparkover))
    if crest <= low:
        return float(volts[crest] / max(time[crest], waves.step))
    return float((volts[crest] - volts[low]) / (time[crest] - time[low]))


def _memories(
    network: Network, waves: Waveforms
) -> Iterator[tuple[Insulation, NDArray[np.float64]]]:
    for element in network.elements:
        if isinstance(element, Insulation):
            yield element, waves.voltages[state_name(element)]


def _discharges(
    network: Network, waves: Waveforms
) -> Iterator[tuple[SparkGap, NDArray[np.float64]]]:
    for element in network.elements:
        if isinstance(element, SparkGap):
            yield element, waves.voltages[gap_state_name(element)]
