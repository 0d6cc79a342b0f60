"""The extremes of everything a network probes, from anybody's waveforms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The value of largest size, signed, in V or A, with its time in s and the value at rest."""

    value: float
    time: float
    rest: float
    unit: str


def peaks(network: Network, waves: Waveforms) -> dict[str, Peak]:
    """Peak of every terminal pair, arrester element and earth, by a name that says which.

    That of a pair whose insulation fired is among them: what it means is not judged here.
    """
    return {name: _peak(waves, values, unit) for name, values, unit in _probed(network, waves)}


def _probed(network: Network, waves: Waveforms) -> Iterator[tuple[str, Array, str]]:
    for terminal in network.terminals:
        name = f"{terminal.equipment}, {terminal.pair}"
        yield name, waves.across(terminal.a, terminal.b), "V"
        yield f"{name}, to remote earth", waves.at(terminal.a), "V"
        if terminal.bar is not None:
            yield f"{name}, to bar", waves.across(terminal.a, terminal.bar), "V"
    for arrester in network.arresters:
        name = f"{arrester.slot}, {arrester.element}"
        yield f"{name}, residual", waves.across(arrester.a, arrester.b), "V"
        yield f"{name}, current", waves.currents[arrester.ammeter], "A"
    for earth in network.earths:
        yield f"{earth.name}, rise", waves.at(earth.node), "V"
        yield f"{earth.name}, current", waves.currents[earth.ammeter], "A"


def _peak(waves: Waveforms, values: Array, unit: str) -> Peak:
    k = int(np.argmax(np.abs(values)))
    return Peak(value=float(values[k]), time=float(waves.time[k]), rest=float(values[0]), unit=unit)
