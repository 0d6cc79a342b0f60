"""Networks of resistors alone answer monotonically in each of their resistances.

Rayleigh's monotonicity law: if the resistances of a circuit are increased, the effective
resistance between any two points can only increase; if they are decreased, it can only
decrease. Doyle and Snell, Random Walks and Electric Networks, 1984, section 1.4, from memory.

It says nothing of voltages elsewhere, which may go either way, nor of other elements.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Resistor, VoltageSource
from surgesim.physics.waveforms import Step
from tests.attacks.networks import SOLVERS, Solver, between, driven

Resistors = tuple[Resistor, ...]

WAVE = Step(peak=1e3, rise=1e-6)
STOP = 2e-6

# A deck prints ten digits of each number, and a divider has two.
AGREED = 1e-9

ELIMINATIONS = 8
"""Of at most six nodes, the last one's substitution, and the digits of the matrix below."""


@st.composite
def meshes(draw: st.DrawFn) -> Resistors:
    """Resistors between up to six nodes and earth, every node with a path to it."""
    count = draw(st.integers(2, 6))
    ends = [(GROUND, "node 0")]
    ends += [(draw(st.sampled_from([GROUND, "node 0"])), f"node {k}") for k in range(1, count)]
    names = [GROUND, *(f"node {k}" for k in range(count))]
    for _ in range(draw(st.integers(1, 8))):
        a, b = draw(st.permutations(names))[:2]
        ends.append((a, b))
    return tuple(
        Resistor(name=f"resistor {k}", a=a, b=b, resistance=draw(between(1.0, 1e6)))
        for k, (a, b) in enumerate(ends)
    )


def changed(mesh: Resistors, index: int, factor: float) -> Resistors:
    """The mesh with one resistance multiplied."""
    k = index % len(mesh)
    larger = replace(mesh[k], resistance=factor * mesh[k].resistance)
    return (*mesh[:k], larger, *mesh[k + 1 :])


def rounding(*meshes: Resistors) -> float:
    """What two right solves may differ by, relative.

    Beside the largest conductance at a node the smallest is known to a rounding of the sum: to
    2^-53 times the ratio of the two. So much it may be off in each elimination, and where the
    law says "equal" the two differ by that; and by the ten digits of a deck.
    """
    ohms = [resistor.resistance for mesh in meshes for resistor in mesh]
    return AGREED + ELIMINATIONS * 2.0**-53 * max(ohms) / min(ohms)


def effective(solver: Solver, mesh: Resistors) -> float:
    """Resistance between ``node 0`` and earth as the surge finds it, ohm."""
    waves = solver(driven(mesh, WAVE, into="node 0"), STOP)
    return float(np.max(waves.at("node 0"))) / WAVE.peak


def by_hand(mesh: Resistors) -> float:
    """The same from the matrix of conductances."""
    names = sorted({end for r in mesh for end in (r.a, r.b)} - {GROUND})
    matrix = np.zeros((len(names), len(names)))
    for resistor in mesh:
        row = np.zeros(len(names))
        for sign, end in ((1.0, resistor.a), (-1.0, resistor.b)):
            if end != GROUND:
                row[names.index(end)] = sign
        matrix += np.outer(row, row) / resistor.resistance
    unit = np.eye(len(names))[names.index("node 0")]
    return float(unit @ np.linalg.solve(matrix, unit))


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=8)
@given(mesh=meshes(), index=st.integers(0, 20), factor=between(1.01, 1e3))
def test_rayleighs_monotonicity(solver: str, mesh: Resistors, index: int, factor: float) -> None:
    more, less = changed(mesh, index, factor), changed(mesh, index, 1.0 / factor)
    before, larger, smaller = (effective(SOLVERS[solver], each) for each in (mesh, more, less))
    assert before == pytest.approx(by_hand(mesh), rel=rounding(mesh))
    assert smaller <= before * (1.0 + rounding(mesh, less))
    assert before <= larger * (1.0 + rounding(mesh, more))


def divided(solver: Solver, upper: float, lower: float) -> float:
    """Peak in V across the lower of two resistors in series on 1 kV."""
    network = Network(
        title="divider",
        elements=(
            VoltageSource(name="source", a="top", b=GROUND, waveform=WAVE),
            Resistor(name="upper", a="top", b="tap", resistance=upper),
            Resistor(name="lower", a="tap", b=GROUND, resistance=lower),
        ),
        waveform=WAVE,
    )
    return float(np.max(solver(network, STOP).at("tap")))


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=6)
@given(upper=between(1.0, 1e6), lower=between(1.0, 1e6), factor=between(1.01, 1e3))
def test_a_divider_follows_its_resistors(
    solver: str, upper: float, lower: float, factor: float
) -> None:
    """V R2 / (R1 + R2) rises with R2 and falls with R1: closed form."""
    solve = SOLVERS[solver]
    before = divided(solve, upper, lower)
    assert before == pytest.approx(1e3 * lower / (upper + lower), rel=AGREED)
    assert divided(solve, upper, factor * lower) > before
    assert divided(solve, factor * upper, lower) < before
