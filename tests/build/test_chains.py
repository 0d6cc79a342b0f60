"""Electrodes as chains: what they are at rest, and whether they are fine enough."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest

from surgesim.build.chains import Along, along
from surgesim.network.elements import Inductor, Resistor
from surgesim.oracle import solve
from surgesim.physics import leaky
from surgesim.physics.electrodes import buried_inductance, horizontal_resistance, rod_inductance
from surgesim.physics.leaky import open_chain, reach
from surgesim.scenario.electrodes import Earth, Shape
from tests.verification.earths import FRONTS, impulse_coefficient, wire

FAST = 1 / (math.pi * 0.25e-6)

SHAPES: Mapping[str, Mapping[str, str]] = {
    "rod": {"length": "2.4 m", "diameter": "16 mm", "count": "4", "spacing": "5 m"},
    "strip": {"length": "20 m", "depth": "0.5 m", "width": "30 mm", "joined": "middle"},
    "ring": {"length": "31 m", "depth": "0.3 m", "width": "30 mm"},
    "radials": {"count": "3", "length": "9 m", "depth": "0.5 m", "diameter": "10 mm"},
    "posts": {"length": "1.6 m", "around": "40 cm", "in a row": "10", "spacing": "3 m",
              "rows": "2", "rows apart": "6 m"},
}  # fmt: skip


def shape(name: str, **more: str) -> Shape:
    keys = {"at": "a", "bar": "pe", "inductance": "from its shape", name: {**SHAPES[name], **more}}
    found = Earth.model_validate(keys).shape
    assert found is not None
    return found


def chain(name: str, **more: str) -> Along:
    return along(shape(name, **more), 20.0, FAST)


@pytest.mark.parametrize("name", SHAPES)
def test_at_rest_it_is_its_resistance(name: str) -> None:
    elements = list(chain(name).elements("earth/x", "head", 20.0, "g"))
    leaks = [e.resistance for e in elements if isinstance(e, Resistor) and e.b == "remote earth"]
    assert 1 / sum(1 / ohm for ohm in leaks) == pytest.approx(20.0, rel=1e-12)
    assert len({e.name for e in elements}) == len(elements)


def test_the_inductance_along_a_strip() -> None:
    rungs = chain("strip", joined="end").rungs
    last = rungs[-1].share * 20.0 / 2  # the last piece leaks in its middle
    whole = buried_inductance(20.0, 0.0075)
    assert sum(rung.inductance for rung in rungs) == pytest.approx(whole * (1 - last / 20.0))
    assert sum(rung.length for rung in rungs) == pytest.approx(20.0 - last)


def test_two_ways_are_half_as_inductive() -> None:
    halves = chain("strip")
    assert halves.paths == 2
    first = next(e for e in halves.elements("x", "head", 20.0, "g") if isinstance(e, Inductor))
    assert first.inductance == pytest.approx(halves.rungs[0].inductance / 2)
    assert chain("ring").paths == 2
    assert chain("radials").paths == 3


def test_rods_in_a_row_stand_behind_what_joins_them() -> None:
    row = chain("rod")
    assert [rung.share for rung in row.rungs] == [0.25] * 4
    assert row.branch == rod_inductance(2.4, 0.008)
    links = [rung.inductance for rung in row.rungs]
    assert links[0] == 0.0
    assert links[1:] == [pytest.approx(2e-7 * 5 * (math.log(10 / 0.008) - 1), rel=1e-6)] * 3


def test_a_casing_is_a_chain_downward() -> None:
    keys = {"length": "54 m", "diameter": "20 cm", "count": "1"}
    casing = Earth.model_validate(
        {"at": "a", "bar": "pe", "inductance": "from its shape", "rod": keys}
    ).shape
    assert casing is not None
    found = along(casing, 1.1, FAST)
    assert found.branch == 0.0
    assert len(found.rungs) > 5
    assert found.words.startswith("down the rod, 54 m in ")


def test_slow_surges_need_no_pieces() -> None:
    assert len(open_chain(2.0, inductance=1e-6, conductance=1e-3, front=1e3)) == 1


def test_how_far_a_front_reaches() -> None:
    # 1/sqrt(w L' G')
    assert reach(1e-6, 1e-3, 1e6 / (2 * math.pi)) == pytest.approx(1 / math.sqrt(1e-3), rel=1e-9)


@pytest.mark.parametrize("name", FRONTS)
def test_pieces_are_fine_enough(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    ohm = horizontal_resistance(62.0, 0.005, 0.5, 100.0)

    def crest() -> float:
        step = FRONTS[name] / 100
        return impulse_coefficient(
            solve(wire(62.0, name, soil=100.0), step=step, stop=600 * step), ohm
        )

    usual = crest()
    monkeypatch.setattr(leaky, "FIRST", 1 / 12)
    monkeypatch.setattr(leaky, "GROWTH", 1.05)
    assert usual == pytest.approx(crest(), rel=0.01)


def test_a_step_into_an_endless_conductor() -> None:
    """A current step I into L', G' without end, sqrt(s L'/G') / s: I sqrt(L' / (pi G' t)) at the
    feed. The chain follows it from twice the front on until the far end answers."""
    length, inductance, conductance, front = 400.0, 1.6e-6, 1e-3, 0.25e-6
    rungs = open_chain(
        length, inductance=inductance, conductance=conductance, front=1 / (math.pi * front)
    )
    # the response of the ladder itself, from its eigenvalues
    conductances = np.array([conductance * length * rung.share for rung in rungs])
    steps = np.array([rung.inductance for rung in rungs[1:]])
    loops = len(steps)
    matrix = np.zeros((loops, loops))
    for k in range(loops):
        matrix[k, k] = 1 / conductances[k] + 1 / conductances[k + 1]
        if k:
            matrix[k, k - 1] = matrix[k - 1, k] = -1 / conductances[k]
    root = np.diag(1 / np.sqrt(steps))
    values, vectors = np.linalg.eigh(root @ matrix @ root)
    drive = vectors.T @ root[:, 0] / conductances[0]
    for time in (0.5e-6, 1e-6, 4e-6):
        passed = vectors @ (drive * (1 - np.exp(-values * time)) / values)
        volts = (1 - (root @ passed)[0]) / conductances[0]
        exact = math.sqrt(inductance / (math.pi * conductance * time))
        assert volts == pytest.approx(exact, rel=0.03)
