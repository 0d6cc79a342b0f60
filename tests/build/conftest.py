"""A bench to wire one thing on, and what is read off it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.engine import simulate
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms, Window
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

# A lossless line of 400 ohm, 30 m and 100 ns brings the conductor `plus` from `far`, where it is
# terminated without reflection, to `bench`.
BENCH = """
surgesim: 1
title: Bench
site: {soil: 100 ohm m}
places: {far: {}, bench: {bars: [second bar]}}
cables:
  line: {from: far, to: bench, length: 30 m, type: line}
earths:
  far earth:   {at: far,   bar: pe,         measured: 1 mohm, inductance: 0 H}
  termination: {at: far,   bar: plus,       measured: 400 ohm, inductance: 0 H}
  bench earth: {at: bench, bar: pe,         measured: 1 mohm, inductance: 0 H}
  second rod:  {at: bench, bar: second bar, measured: 5 ohm,  inductance: 0 H}
equipment:
  device:
    at: bench
    plus to pe: {withstand: 100 kV, from: guess, capacitance: 0 F, flashover: 50 MV}
cards:
  line:
    kind: textbook line
    about: Lossless line
    cores: [plus]
    surge impedance: {value: 400 ohm, source: chosen}
    velocity: {value: 300 m/us, source: chosen}
  limiter:
    kind: textbook limiter
    about: Limiter at 1 kV
    voltage: {value: 1 kV, source: chosen}
    resistance: {value: 1 mohm, source: chosen}
"""

LIMITER = "{at: bench, across: plus to pe, card: limiter, leads: {line: 0.5 m, earth: 0.5 m to pe}}"
INTO_BENCH = "{shape: 8/20, peak: 5 kA, channel: 1 Mohm, into: bench plus, returns: bench pe}"

MakeScenario = Callable[..., Scenario]
Run = Callable[..., Waveforms]
Across = Callable[..., NDArray[np.float64]]


def make_scenario(*, surge: str = INTO_BENCH, arrester: str = "", more: str = "") -> Scenario:
    """The bench with a surge, an arrester where given, and more YAML at top level."""
    slots = f"arresters: {{slot: {arrester}}}\n" if arrester else ""
    text = f"{BENCH}\nsurges: {{surge: {surge}}}\n{slots}{more}"
    (case,) = loads(text).all_cases
    return case.scenario


@pytest.fixture(scope="session")
def bench() -> MakeScenario:
    return make_scenario


@pytest.fixture(scope="session")
def limiter() -> str:
    """An arrester at the bench that is a limiter at 1 kV with 0.5 m of lead on each side."""
    return LIMITER


@pytest.fixture(scope="session")
def simulated() -> Run:
    """One window of a network through the real engine."""

    def run(network: Network, *, window: Window = "front") -> Waveforms:
        return simulate(network, window=window)

    return run


@pytest.fixture(scope="session")
def across() -> Across:
    """Voltage over time of an equipment's pair, V."""

    def voltage(
        network: Network, waves: Waveforms, pair: str = "plus to pe"
    ) -> NDArray[np.float64]:
        (probe,) = [probe for probe in network.terminals if probe.pair == pair]
        return waves.across(probe.a, probe.b)

    return voltage
