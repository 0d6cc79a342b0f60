"""Linear networks: they scale, superpose, and answer alike from either end."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import (
    DampedSine,
    DoubleExponential,
    RingWave,
    Waveform,
    rescaled,
)
from tests.attacks.networks import (
    SOLVERS,
    STOP,
    Solver,
    biased,
    driven,
    largest,
    linear_elements,
    on_one_axis,
    surges,
)

Elements = tuple[AnyElement, ...]
Ports = list[str]

ports = st.permutations([f"node {k}" for k in range(5)])

# Every step of a linear network is one linear solve, so both solvers scale and superpose to
# rounding, which the matrices' condition magnifies: 1e-11 of the largest voltage is the worst of
# some hundred draws, and 3e-10 with ngspice, whose decks have ten digits.
ROUNDING = 1e-8

# A surge that is steep from the start has ngspice choose its steps by their errors, which it
# measures against absolute tolerances too: of a scaled surge it takes others. 1e-4 was seen.
STEEP = DampedSine | DoubleExponential | RingWave
CHOSEN = 5e-3

# The second solver takes the same steps from either port and reads every wave in the same way, from
# rest on: so it is reciprocal to rounding, however little its steps resolve. ngspice takes other
# steps from each, and is left with what they cannot resolve of a front's kink: 1.4e-3 is the worst
# of some hundred draws.
RECIPROCAL = {"oracle": ROUNDING, "ngspice": 5e-3}


def rounding(solver: str, wave: Waveform) -> float:
    """How far two runs of a linear network may be apart that differ by a factor alone."""
    return CHOSEN if solver == "ngspice" and isinstance(wave, STEEP) else ROUNDING


def compared(network: Network, one: Waveforms, two: Waveforms, factor: float) -> float:
    """Largest difference of ``two``'s deviation from rest and ``factor`` times that of ``one``.

    As a share of the largest voltage of ``two``.
    """
    worst = 0.0
    for node in network.nodes():
        if node != GROUND:
            first, second = on_one_axis(one, two, node)
            apart = (second - second[0]) - factor * (first - first[0])
            worst = max(worst, float(abs(apart).max()))
    return worst / largest(two)


def scaling(solver: Solver, elements: Elements, wave: Waveform, into: str, factor: float) -> float:
    small = driven(elements, wave, into=into)
    large = driven(elements, rescaled(wave, factor * wave.peak), into=into)
    return compared(small, solver(small, STOP), solver(large, STOP), factor)


def superposing(solver: Solver, elements: Elements, wave: Waveform, ports: Ports) -> float:
    """A bias stands still while the surge passes as if there were none."""
    surge = biased(driven(elements, wave, into=ports[0]), 0.0, node=ports[1])
    both = biased(driven(elements, wave, into=ports[0]), 500.0, node=ports[1])
    return compared(surge, solver(surge, STOP), solver(both, STOP), 1.0)


def reciprocity(solver: Solver, elements: Elements, wave: Waveform, ports: Ports) -> float:
    """A current at one node raises another as much as it would be raised from there.

    As a share of the larger rise of the two at the node that the current enters.
    """
    a, b = ports[:2]
    from_a = solver(driven(elements, wave, into=a), STOP)
    from_b = solver(driven(elements, wave, into=b), STOP)
    at_b = from_a.at(b)
    at_a = on_one_axis(from_a, from_b, a)[1]
    size = max(float(abs(from_a.at(a)).max()), float(abs(from_b.at(b)).max()))
    return float(abs(at_b[: len(at_a)] - at_a).max()) / size


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=6)
@given(elements=linear_elements(), wave=surges, ports=ports, decade=st.floats(-3.0, 3.0))
def test_a_surge_scaled_is_an_answer_scaled(
    solver: str, elements: Elements, wave: Waveform, ports: Ports, decade: float
) -> None:
    for factor in (2.0, -(10.0**decade)):
        apart = scaling(SOLVERS[solver], elements, wave, ports[0], factor)
        assert apart < rounding(solver, wave)


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=6)
@given(elements=linear_elements(), wave=surges, ports=ports)
def test_a_bias_is_added_and_nothing_more(
    solver: str, elements: Elements, wave: Waveform, ports: Ports
) -> None:
    assert superposing(SOLVERS[solver], elements, wave, ports) < rounding(solver, wave)


# Reciprocity of networks of R, L, M, C and of lines of any number of conductors: Desoer and
# Kuh, Basic Circuit Theory, 1969, chapter 16, from memory.
@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=6)
@given(elements=linear_elements(), wave=surges, ports=ports)
def test_transfer_impedances_are_symmetric(
    solver: str, elements: Elements, wave: Waveform, ports: Ports
) -> None:
    apart = reciprocity(SOLVERS[solver], elements, wave, ports)
    assert apart < RECIPROCAL[solver]


@pytest.mark.slow
@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=25)
@given(elements=linear_elements(), wave=surges, ports=ports, decade=st.floats(-3.0, 3.0))
def test_many_linear_networks(
    solver: str, elements: Elements, wave: Waveform, ports: Ports, decade: float
) -> None:
    solve = SOLVERS[solver]
    limit = rounding(solver, wave)
    assert scaling(solve, elements, wave, ports[0], 10.0**decade) < limit
    assert superposing(solve, elements, wave, ports) < limit
    assert reciprocity(solve, elements, wave, ports) < RECIPROCAL[solver]
