"""No network gives back more than went in, and nothing arrives before it can."""

from __future__ import annotations

import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    CurrentSource,
    Element,
    Line,
    Resistor,
    Varistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Waveform
from tests.attacks.networks import SOLVERS, STOP, Array, driven, largest, linear_elements, surges

Elements = tuple[AnyElement, ...]

nodes = st.sampled_from([f"node {k}" for k in range(5)])

# Tellegen's theorem holds for the mean of two neighbouring steps as for each of them, so with
# means the trapezoidal rule closes to rounding and a line read between steps can only lose.
# ngspice reads lines between steps by a parabola, which may gain a little.
GAIN = {"oracle": 1e-9, "ngspice": 1e-3}

# Before its time a node stands still to rounding; both solvers may be early by the one step
# between which they read each line on the way.
STILL = 1e-9

DISC = fit_three_numbers(430.0, 20e3, 1350.0)


def with_disc(elements: Elements, node: str) -> Elements:
    """The elements with a varistor from a node to earth."""
    return (*elements, Varistor(name="disc", a=node, b=GROUND, law=DISC))


def gathered(time: Array, volts: Array, amperes: Array) -> Array:
    """Energy in J up to the end of every step, of the means of voltage and current."""
    mean_v = 0.5 * (volts[1:] + volts[:-1])
    mean_i = 0.5 * (amperes[1:] + amperes[:-1])
    return np.asarray(np.cumsum(mean_v * mean_i * np.diff(time)))


def energies(network: Network, waves: Waveforms) -> tuple[Array, Array]:
    """Delivered by the surge, and turned into heat in resistors and discs, J over time."""
    delivered = np.zeros(len(waves.time) - 1)
    heat = np.zeros(len(waves.time) - 1)
    for element in network.elements:
        if isinstance(element, CurrentSource):
            amperes = element.waveform.value(waves.time)
            delivered += gathered(waves.time, waves.across(element.b, element.a), amperes)
        elif isinstance(element, Resistor):
            volts = waves.across(element.a, element.b)
            heat += gathered(waves.time, volts, volts / element.resistance)
        elif isinstance(element, Varistor):
            volts = waves.across(element.a, element.b)
            heat += gathered(waves.time, volts, element.law.current(volts))
    return delivered, heat


def gain(network: Network, waves: Waveforms) -> float:
    """How far heat ever exceeds what was delivered, as a share of all that was."""
    delivered, heat = energies(network, waves)
    return float(np.max(heat - delivered)) / float(np.max(delivered))


def arrivals(network: Network, start: str) -> dict[str, float]:
    """Earliest time in s at which each node can move: lines take time, all else takes none."""
    ways: dict[str, list[tuple[str, float]]] = {node: [] for node in network.nodes()}
    for element in network.elements:
        if isinstance(element, Line):
            for a in element.near:
                for b in element.far:
                    ways[a].append((b, min(element.delay)))
                    ways[b].append((a, min(element.delay)))
        elif isinstance(element, Element) and GROUND not in (element.a, element.b):
            ways[element.a].append((element.b, 0.0))
            ways[element.b].append((element.a, 0.0))
    earliest: dict[str, float] = {}
    queue = [(0.0, start)]
    while queue:
        time, node = heapq.heappop(queue)
        if node not in earliest:
            earliest[node] = time
            for other, delay in ways[node]:
                heapq.heappush(queue, (time + delay, other))
    return earliest


def early(network: Network, waves: Waveforms, start: str) -> float:
    """Largest voltage at a node before its time, as a share of the largest at any time."""
    worst = 0.0
    for node, time in arrivals(network, start).items():
        before = waves.time < time - len(network.lines) * waves.step
        worst = max(worst, float(np.max(np.abs(waves.at(node)[before]), initial=0.0)))
    return worst / largest(waves)


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=8)
@given(elements=linear_elements(), wave=surges, into=nodes, at=nodes)
def test_no_heat_before_energy_and_no_wave_before_its_time(
    solver: str, elements: Elements, wave: Waveform, into: str, at: str
) -> None:
    network = driven(with_disc(elements, at), wave, into=into)
    waves = SOLVERS[solver](network, STOP)
    assert gain(network, waves) < GAIN[solver]
    linear = driven(elements, wave, into=into)
    assert early(linear, SOLVERS[solver](linear, STOP), into) < STILL


@pytest.mark.slow
@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=25)
@given(elements=linear_elements(), wave=surges, into=nodes, at=nodes)
def test_many_energies_and_times(
    solver: str, elements: Elements, wave: Waveform, into: str, at: str
) -> None:
    network = driven(with_disc(elements, at), wave, into=into)
    waves = SOLVERS[solver](network, STOP)
    assert gain(network, waves) < GAIN[solver]
    assert early(network, waves, into) < STILL
