"""The two solvers behind one call: a circuit and where to end, its waveforms back."""

from __future__ import annotations

import math
from collections.abc import Callable

from surgesim.engine import simulate
from surgesim.engine.flashover import step_wanted
from surgesim.engine.writer import CLOSE
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve

Solver = Callable[[Network, float], Waveforms]

MOST_POINTS = 40_000


def ngspice(circuit: Network, stop: float) -> Waveforms:
    """Through the engine, with the steps a front is given, and again where a gap fires."""
    front = simulate(circuit, window="front", stop=stop)
    wanted = step_wanted(circuit, front)
    if wanted == math.inf:
        return front
    step = min(front.step, wanted)
    return simulate(circuit, window="front", stop=stop, step=step, options=CLOSE)


def oracle(circuit: Network, stop: float) -> Waveforms:
    """Through the second solver, with steps that meet the shortest delay where there is one."""
    return solve(circuit, step=fitting_step(circuit, largest=stop / MOST_POINTS), stop=stop)


SOLVERS: dict[str, Solver] = {"ngspice": ngspice, "oracle": oracle}
