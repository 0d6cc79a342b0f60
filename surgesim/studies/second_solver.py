"""A network run by the second solver over both windows, and measured as the engine's runs are."""

from __future__ import annotations

import math
from dataclasses import replace

from surgesim.findings.insulation import FIRED
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve

SUSPECTED, FIRED_PER_LAG = 5, 20
"""Steps a collapse of insulation is worth where some may fire, and where some has fired. The
first tell whether and which; the wave that goes out from it is 3 % off at five a lag and 0.4 %
at sixteen, read off the crest of an arrester's leads 30 m away."""

FRONT_POINTS = 400_000
"""Steps over a front beyond which a flashover gets no more than the first five a lag: of each
step every unknown is kept, which is half a gigabyte for a large network."""

TAIL_POINTS = 100_000
"""Steps over a tail, unless the front's are longer. The engine takes 4,000 with its short lines
lumped; here every line travels, in steps of at most half the shortest delay."""


def by_second_solver(
    network: Network, *, step: float, front_stop: float, tail_stop: float
) -> tuple[Waveforms, Waveforms]:
    """Front and tail of a network, at steps of at most ``step`` (s) on the front.

    Finer where insulation may fire, and again where it has. Should the tail's longer steps make
    another story of a flashover than the front tells, the tail is run again at the front's.
    Raises EngineError.
    """
    lag = min((e.lag for e in network.elements if isinstance(e, Insulation)), default=math.inf)
    largest = min(step, lag / SUSPECTED)
    front = _run(network, step=largest, stop=front_stop)
    finer = max(lag / FIRED_PER_LAG, front_stop / FRONT_POINTS)
    if fired(network, front) and finer < largest:
        front = _run(network, step=finer, stop=front_stop)
    longest = max(largest, tail_stop / TAIL_POINTS)
    tail = _tail(network, step=longest, stop=tail_stop)
    if longest > largest and fired(network, front) != fired(network, tail, until=front_stop):
        tail = _tail(network, step=largest, stop=tail_stop)
    return front, tail


def _run(network: Network, *, step: float, stop: float) -> Waveforms:
    return solve(network, step=fitting_step(network, largest=step), stop=stop)


def _tail(network: Network, *, step: float, stop: float) -> Waveforms:
    step = fitting_step(network, largest=step, fewest=2)
    return replace(solve(network, step=step, stop=stop), window="tail")


def fired(network: Network, waves: Waveforms, *, until: float | None = None) -> set[str]:
    """Insulation that is an arc at the end of a run, or at ``until`` (s)."""
    last = len(waves.time) - 1 if until is None else int((waves.time <= until).sum()) - 1
    names = [element.name for element in network.elements if isinstance(element, Insulation)]
    return {name for name in names if waves.voltages[f"{name}/state"][last] > FIRED}
