"""A network run by the second solver over both windows, and measured as the engine's runs are."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import Stretch, follow

FINER = 16
"""The engine's longest step on the front over the shortest there may be."""

FEWEST = 1000
"""Steps that a front has at least."""

FINEST_PER_LAG = 40
"""The shortest steps there may be to the lag of insulation, most of whose voltage falls within a
tenth of it."""

CROSSED_IN = 2
"""Steps that a line's delay is worth at least. On the tail what is worth less is lumped."""


def by_second_solver(
    network: Network, *, steps: tuple[float, float], stops: tuple[float, float]
) -> tuple[Waveforms, Waveforms]:
    """Front and tail of a network, in steps of at most so much (s) till so long (s) in each.

    One march over both: where the front ends, short lines are lumped and longer steps allowed,
    and the tail has the front for its beginning. Raises EngineError.
    """
    delays = {line.name: min(line.delay) for line in network.lines}
    lags = [element.lag for element in network.elements if isinstance(element, Insulation)]
    longest = min(stops[0] / FEWEST, math.inf, *(d / CROSSED_IN for d in delays.values()))
    finest = min(steps[0] / FINER, longest, *(lag / FINEST_PER_LAG for lag in lags), math.inf)
    lumped = frozenset(name for name, delay in delays.items() if delay < CROSSED_IN * steps[1])
    front = Stretch(stop=stops[0], longest=longest)
    tail = Stretch(stop=stops[1], longest=steps[1], lumped=lumped)
    waves = follow(network, finest=finest, stretches=(front, tail))
    last = int(np.searchsorted(waves.time, stops[0] - 1e-6 * finest))
    return _front(waves, last), replace(waves, window="tail", lumped=tuple(sorted(lumped)))


def _front(waves: Waveforms, last: int) -> Waveforms:
    """The march up to its point ``last``."""
    time = waves.time[: last + 1]
    return replace(
        waves,
        time=time,
        voltages=_cut(waves.voltages, last),
        currents=_cut(waves.currents, last),
        step=float(np.max(np.diff(time))),
        stop=float(time[-1]),
    )


def _cut(series: Mapping[str, NDArray[np.float64]], last: int) -> dict[str, NDArray[np.float64]]:
    return {name: values[: last + 1] for name, values in series.items()}
