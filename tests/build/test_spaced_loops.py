"""Loops of the conductors of one route that lie at a spacing, beside a current."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from surgesim.build import build
from surgesim.engine import simulate
from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor, Line, Resistor, VoltageSource
from surgesim.oracle import fitting_step, solve
from surgesim.physics.constants import MU_0
from surgesim.physics.induced import Induced
from surgesim.physics.return_stroke import Arriving
from surgesim.scenario.file import loads
from surgesim.scenario.laying import Spacing
from surgesim.scenario.nearby import loop_beside
from surgesim.scenario.schema import Scenario
from surgesim.studies.disclosures_nearby import induced

TEXT = """
surgesim: 1
title: Apart
site: {soil: 100 ohm m}
places: {array: {x: 0 m, y: 0 m}, house: {x: 30 m, y: 40 m}}
cables:
  plus run:  {from: array, to: house, length: 50 m, type: pv pair 6 mm2, carries: [plus], laying: in air 1 m high}
  minus run: {from: array, to: house, length: 50 m, type: pv pair 6 mm2, carries: [minus], laid with: plus run, spacing: 0.3 m above}
earths:
  rod: {at: array, bar: pe, measured: 38 ohm, inductance: 2 uH}
supply:
  strings: {at: array, voltage: 600 V, Isc at STC: 10 A, reference: {to: pe, each pole: 1 Mohm}}
equipment:
  inverter: {at: house, plus to minus: {withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {shape: 10/350, peak: 12 kA, strikes ground at: {x: -30 m, y: -40 m}}
"""  # noqa: E501

BESIDE = "spacing: 0.3 m"
DOWN = "flows in: {from: {x: -3 m, y: 2 m, height: 9 m}, to: {x: -3 m, y: 2 m, height: 0 m}}"
LEVEL = "flows in: {from: {x: -3 m, y: 2 m, height: 3 m}, to: {x: 27 m, y: 42 m, height: 3 m}}"


def scenario(spacing: str = "spacing: 0.3 m above", flows: str = "") -> Scenario:
    text = TEXT.replace("spacing: 0.3 m above", spacing)
    if flows:
        text = text.replace("strikes ground at: {x: -30 m, y: -40 m}", flows)
    (case,) = loads(text).all_cases
    return case.scenario


def around(network: Network, time: np.ndarray) -> np.ndarray:
    """What drives current along the minus run and back along the plus run, in all."""
    total = np.zeros_like(time)
    for e in network.elements:
        if isinstance(e, VoltageSource) and "/induced in 2 at " in e.name:
            assert isinstance(e.waveform, Induced)
            total += (1.0 if e.name.endswith("far") else -1.0) * e.waveform.value(time)
    return total


def test_a_channel_induces_between_one_above_the_other() -> None:
    """Flux of 0.3 m by 50 m, upright and straight away from the foot: mu0 h/(2 pi) ln(100/50)."""
    network = build(scenario())
    time = np.linspace(0.0, 30e-6, 301)
    arriving = Arriving(
        current=network.waveform, distance=math.sqrt(5000.0), height=0.0, speed=150e6, end=2e-3
    )
    expected = MU_0 * 0.3 / (2 * math.pi) * math.log(2.0) * arriving.rate(time)
    # 1 %: its two ends have their own times of arrival
    crest = float(np.max(expected))
    assert around(network, time) == pytest.approx(expected, abs=0.01 * crest)


@pytest.mark.parametrize("flows", ["", DOWN])
def test_nothing_upright_induces_in_a_loop_that_lies_flat(flows: str) -> None:
    network = build(scenario(BESIDE, flows))
    above = build(scenario(flows=flows))
    time = np.linspace(0.0, 30e-6, 301)
    crest = float(np.max(np.abs(around(above, time))))
    assert crest > 1.0
    assert np.max(np.abs(around(network, time))) < 1e-3 * crest


def test_a_level_conductor_induces_in_one_that_lies_flat() -> None:
    """5 m aside, 2 m above a route as long as it: by the field of an endless pair of wires, the
    conductor and its image, within what the ends leave of it."""
    network = build(scenario(BESIDE, LEVEL))
    time = np.linspace(0.0, 30e-6, 301)
    x, spacing = (-3 * 40 - 2 * 30) / 50.0, 0.3  # to the right of the route

    def flux(right: float) -> float:
        return math.log(math.hypot(right - x, 4.0) / math.hypot(right - x, 2.0))

    found = around(network, time)
    expected = MU_0 / (2 * math.pi) * 50.0 * (flux(spacing) - flux(0.0))
    largest = found[int(np.argmax(np.abs(found)))]
    slope = float(np.max(np.gradient(network.waveform.value(time), time)))
    assert largest == pytest.approx(-expected * slope, rel=0.25)


def test_beside_is_to_the_right() -> None:
    loop = loop_beside(
        ((0.0, 0.0, 1.0), (0.0, 10.0, 1.0)), Spacing.model_validate({"distance": "0.4 m"})
    )
    assert loop[1] == (0.4, 0.0, 1.0)
    assert loop[0] == loop[-1] == (0.0, 0.0, 1.0)


def test_both_solvers_have_it_between_plus_and_minus() -> None:
    """Poles tied at the array and open at the house: what is induced around is between them."""
    network = build(scenario())
    tied = [
        Resistor(name=f"tied {pole}", a=f"array/{pole}", b="array/pe", resistance=0.1)
        for pole in ("plus", "minus")
    ]
    kept = tuple(e for e in network.elements if not isinstance(e, Capacitor))
    network = replace(network, elements=(*kept, *tied), terminals=())
    expected = float(np.max(np.abs(around(network, np.linspace(0.0, 30e-6, 3001)))))
    second = solve(network, step=fitting_step(network, largest=20e-9), stop=30e-6)
    first = simulate(network, window="front", stop=30e-6)
    for waves in (first, second):
        between = waves.across("house/minus", "house/plus")
        between = between - between[0]
        # 5 %: a wave takes 0.2 us along the route, of a front of 10 us
        assert float(np.max(np.abs(between))) == pytest.approx(expected, rel=0.05)
    assert any(isinstance(e, Line) for e in network.elements)


def test_it_is_disclosed() -> None:
    entries = {entry["where"]: entry for entry in induced(scenario())}
    assert set(entries) == {"cable plus run", "loop of cable minus run and cable plus run"}
    loop = entries["loop of cable minus run and cable plus run"]
    assert loop["mutual_h"] == pytest.approx(MU_0 * 0.3 / (2 * math.pi) * math.log(2.0), rel=1e-4)
