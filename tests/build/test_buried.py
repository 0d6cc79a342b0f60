"""Bare bonds in the soil, and joints."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from surgesim.build import build
from surgesim.build.buried import bare_bond, buried
from surgesim.build.modelled import modelled
from surgesim.catalogue.cards import Cable
from surgesim.catalogue.library import built_in
from surgesim.errors import InputError
from surgesim.network.elements import AnyElement, Inductor, Resistor
from surgesim.network.impedance import impedance
from surgesim.physics import leaky
from surgesim.physics.electrodes import buried_inductance, horizontal_resistance
from surgesim.physics.leaky import through_chain
from surgesim.scenario.bonds import Bond
from surgesim.scenario.file import load
from surgesim.studies.disclosures_circuit import bonds

FILE = Path(__file__).resolve().parents[1] / "scenarios" / "valid" / "bonds.yaml"
FAST = 1 / (math.pi * 0.25e-6)
RADIUS = math.sqrt(50e-6 / math.pi)


def card() -> Cable:
    found = built_in()["copper 50 mm2"]
    assert isinstance(found, Cable)
    return found


def tape(**more: str) -> Bond:
    keys = {"from": "a pe", "to": "b pe", "length": "62 m", "type": "copper 50 mm2"}
    return Bond.model_validate({**keys, "bare in soil": "0.6 m", **more})


def elements(*, joint: float = 0.0, front: float = FAST) -> tuple[AnyElement, ...]:
    found = buried("tape", tape(), card(), soil=170.0, front=front)
    return bare_bond("tape", found, card(), start="a/pe", end="b/pe", joint=joint).elements


def test_it_leaks_as_a_strip_does() -> None:
    ohm = horizontal_resistance(62.0, RADIUS, 0.6, 170.0)
    leaks = [e.resistance for e in elements() if isinstance(e, Resistor) and e.b.endswith("/soil")]
    assert 1 / sum(1 / leak for leak in leaks) == pytest.approx(ohm, rel=1e-12)
    (slow,) = np.abs(impedance(elements(), "a/pe", np.array([1.0])))
    # fed at one end, a third of its metal's 24 mohm on top
    assert slow == pytest.approx(ohm + 0.387e-3 * 62 / 3, rel=1e-3)


def test_both_ends_are_alike() -> None:
    found = elements()
    near, far = (impedance(found, end, np.array([1e3, 1e5, 1e6])) for end in ("a/pe", "b/pe"))
    assert near == pytest.approx(far, rel=1e-9)


def test_all_of_its_inductance_and_metal_lies_between_its_ends() -> None:
    whole = sum(e.inductance for e in elements() if isinstance(e, Inductor))
    assert whole == pytest.approx(buried_inductance(62.0, RADIUS), rel=1e-9)
    resistors = [e for e in elements() if isinstance(e, Resistor)]
    metal = [e.resistance for e in resistors if e.name.endswith("/metal")]
    assert sum(metal) == pytest.approx(0.387e-3 * 62, rel=1e-9)


def test_a_joint_is_at_the_far_end() -> None:
    (sound,) = (e for e in elements() if e.name == "bond/tape/end/metal")
    (bad,) = (e for e in elements(joint=2.2) if e.name == "bond/tape/end/metal")
    assert isinstance(sound, Resistor)
    assert isinstance(bad, Resistor)
    assert bad.resistance - sound.resistance == pytest.approx(2.2)


def test_pieces_are_fine_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Up to three times the front's frequency, against pieces four times as short."""
    hertz = np.array([0.1, 1.0, 3.0]) * FAST
    usual = np.abs(impedance(elements(), "a/pe", hertz))
    monkeypatch.setattr(leaky, "FIRST", 1 / 12)
    monkeypatch.setattr(leaky, "GROWTH", 1.05)
    assert usual == pytest.approx(np.abs(impedance(elements(), "a/pe", hertz)), rel=0.02)


def test_the_chain_is_the_same_from_either_side() -> None:
    rungs, rest = through_chain(62.0, inductance=1.9e-6, conductance=3e-3, front=FAST)
    assert sum(rung.share for rung in rungs) == pytest.approx(1.0)
    steps = [*(rung.length for rung in rungs), rest.length]
    assert steps == pytest.approx(steps[::-1])
    assert sum(steps) == pytest.approx(62.0)


def test_a_tape_of_its_width() -> None:
    found = buried("tape", tape(width="30 mm"), card(), soil=170.0, front=FAST)
    assert found.resistance == horizontal_resistance(62.0, 0.0075, 0.6, 170.0)


def test_one_that_does_not_lie_in_the_soil() -> None:
    with pytest.raises(InputError, match=r"bonds\.tape\.bare in soil: .* is not covered"):
        buried("tape", tape(**{"bare in soil": "1 mm"}), card(), soil=170.0, front=FAST)


def test_in_a_scenario() -> None:
    sound, corroded = (case.scenario for case in load(FILE).all_cases)
    network = build(sound)
    assert [probe.name for probe in network.earths] == ["rod", "bond tape"]
    assert network.earths[1].resistance == pytest.approx(5.673, rel=1e-3)
    strap, bad = (
        next(e for e in build(scenario).elements if e.name == "bond/strap")
        for scenario in (sound, corroded)
    )
    assert isinstance(strap, Resistor)
    assert isinstance(bad, Resistor)
    assert bad.resistance - strap.resistance == pytest.approx(2.2)
    told = {entry["name"]: entry["obtained"] for entry in bonds(corroded)}
    assert told["tape"].startswith("bare in soil 0.6 m deep, leaking evenly: 5.673 ohm")
    assert told["strap"].endswith("with a joint of 2.2 ohm")
    assert any(words.startswith("bare bonds in soil induce nothing") for words in modelled(sound))
