"""Electrodes in common soil, and routes beside a current, as networks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from surgesim.build import build
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Capacitor,
    CurrentSource,
    Inductor,
    Line,
    PhotovoltaicSource,
    Resistor,
    VoltageSource,
)
from surgesim.oracle import fitting_step, solve
from surgesim.physics.constants import MU_0
from surgesim.physics.induced import Induced
from surgesim.physics.induction import Channel, rectangle_inductance
from surgesim.physics.return_stroke import Arriving
from surgesim.physics.stroke_voltage import induced_by_stroke
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

SITE = """
surgesim: 1
title: Beside
site: {{soil: 100 ohm m}}
places: {{array: {{x: 0 m, y: 0 m}}, house: {{x: 30 m, y: 40 m}}}}
cables:
  pair: {{from: array, to: house, length: 50 m, type: pv pair 6 mm2, laying: {laying}}}
earths:
  rod:  {{at: array, bar: pe, {rod}, inductance: 2 uH}}
  foundation: {{at: house, bar: pe, measured: 9 ohm, inductance: 3 uH}}
supply:
  strings: {{at: array, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {{{surge}}}
"""
STROKE = "shape: 0.25/100, peak: 12 kA, strikes ground at: {x: -46 m, y: 0 m}"
STRUCK = "shape: 10/350, peak: 1 kA, into: array pe, returns: remote earth"


def scenario(
    *,
    surge: str = STROKE,
    laying: str = "plastic duct 50 mm wide 0.7 m deep",
    rod: str = "measured: 38 ohm",
) -> Scenario:
    (case,) = loads(SITE.format(surge=surge, laying=laying, rod=rod)).all_cases
    return case.scenario


def at_rest(network: Network, into: str) -> dict[str, float]:
    """Voltages with 1 A of direct current into a node, of what an electrode is made of alone."""
    parts = [e for e in network.elements if e.group == "common soil" or "earth " in e.group]
    nodes = list(dict.fromkeys(n for e in parts for n in (e.a, e.b) if n != GROUND))  # type: ignore[union-attr]
    index = {node: k for k, node in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    for e in parts:
        assert isinstance(e, Resistor | Inductor | Ammeter | Capacitor)
        ohm = e.resistance if isinstance(e, Resistor) else 1e-6
        for here, there in ((e.a, e.b), (e.b, e.a)):
            if here != GROUND:
                matrix[index[here], index[here]] += 1 / ohm
                if there != GROUND:
                    matrix[index[here], index[there]] -= 1 / ohm
    current = np.zeros(len(nodes))
    current[index[into]] = 1.0
    return dict(zip(nodes, np.linalg.solve(matrix, current), strict=True))


def test_an_electrode_has_its_own_resistance_and_what_it_gives_the_other() -> None:
    volts = at_rest(build(scenario(surge=STRUCK)), "array/pe")
    assert volts["array/pe"] == pytest.approx(38.0, rel=1e-5)
    # soil / (2 pi d) at 50 m
    assert volts["house/pe"] == pytest.approx(100.0 / (100.0 * math.pi), rel=1e-5)


def test_a_long_rod_is_seen_along_its_length() -> None:
    rod = "rod: {length: 12 m, diameter: 16 mm}"
    volts = at_rest(build(scenario(surge=STRUCK, rod=rod)), "array/pe")
    assert volts["house/pe"] == pytest.approx(
        100.0 / (2 * math.pi * 12.0) * math.asinh(12.0 / 50.0), rel=1e-5
    )


def test_a_stroke_into_the_ground_raises_each_electrode_by_its_distance() -> None:
    network = build(scenario())
    (source,) = (e for e in network.elements if isinstance(e, CurrentSource))
    volts = at_rest(network, source.b)
    assert volts["array/pe"] == pytest.approx(100.0 / (2 * math.pi * 46.0), rel=1e-5)
    far = math.hypot(76.0, 40.0)
    assert volts["house/pe"] == pytest.approx(100.0 / (2 * math.pi * far), rel=1e-5)


def sources(network: Network) -> list[VoltageSource]:
    return [
        e
        for e in network.elements
        if isinstance(e, VoltageSource) and isinstance(e.waveform, Induced)
    ]


def whole(network: Network, time: np.ndarray) -> np.ndarray:
    """What drives current along the route in all: what far references are lifted by, less what
    near ones are."""
    total = np.zeros_like(time)
    for source in sources(network):
        assert source.waveform is not None
        sign = 1.0 if source.name.endswith("far") else -1.0
        total += sign * source.waveform.value(time)
    return total


def test_the_pieces_of_a_route_have_all_of_its_voltage() -> None:
    """In air: the flux between the route and the ground, and the voltage along the soil."""
    network = build(scenario(laying="in air 2 m high"))
    time = np.linspace(0.0, 5e-6, 501)
    near, far = 46.0, math.hypot(76.0, 40.0)
    current = network.waveform
    path = ((near, 0.0, 2.0), (far, 0.0, 2.0))
    instants, volts = induced_by_stroke(
        path, Channel(0.0, 0.0), current, speed=150e6, end=2e-3, soil=100.0
    )
    expected = np.interp(time, instants, volts)
    # each piece at its own distance, and a table thinned to 0.05 % of its crest
    crest = float(np.max(np.abs(expected)))
    assert whole(network, time) == pytest.approx(expected, abs=0.01 * crest)


def test_a_route_at_equal_distance_has_none() -> None:
    surge = "shape: 0.25/100, peak: 12 kA, strikes ground at: {x: 15 m, y: 20 m}"
    moved = surge.replace("x: 15 m, y: 20 m", "x: 55 m, y: -10 m")
    time = np.linspace(0.0, 3e-6, 301)
    along = whole(build(scenario(surge=moved)), time)
    one_way = whole(build(scenario()), time)
    # its two halves have opposite voltages, and the whole nothing
    assert float(np.max(np.abs(along))) < 1e-3 * float(np.max(np.abs(one_way)))
    pieces = [s.waveform.value(time) for s in sources(build(scenario(surge=moved))) if s.waveform]
    assert float(np.max(np.abs(pieces))) > 100.0


def test_the_open_end_of_a_cable_sees_the_whole_loop() -> None:
    """A route open at the house, its poles held at the array: their voltage to the soil there is
    what is induced along the route, and the difference of the soil's potentials."""
    surge = "shape: 10/350, peak: 12 kA, strikes ground at: {x: -46 m, y: 0 m}"
    network = build(scenario(surge=surge))
    tied = [
        Resistor(name=f"tied {pole}", a=f"array/{pole}", b="array/pe", resistance=0.1)
        for pole in ("plus", "minus")
    ]
    kept = tuple(e for e in network.elements if not isinstance(e, Capacitor))
    network = replace(network, elements=(*kept, *tied), terminals=())
    waves = solve(network, step=fitting_step(network, largest=20e-9), stop=30e-6)
    seen = waves.across("house/plus", "house/pe")
    time = waves.time
    potential = 100.0 / (2 * math.pi) * (1 / 46.0 - 1 / math.hypot(76.0, 40.0))
    expected = whole(network, time) + potential * network.waveform.value(time)
    # 3 %: a wave takes 0.4 us along the route, of a front of 10 us
    settled = time > 5e-6
    assert seen[settled] == pytest.approx(
        expected[settled], abs=0.03 * float(np.max(np.abs(expected)))
    )


def test_pieces_are_short_against_the_front() -> None:
    lines = [e for e in build(scenario()).elements if isinstance(e, Line)]
    assert len(lines) > 1
    assert max(max(line.delay) for line in lines) <= 0.25 * 0.26e-6
    assert sum(max(line.delay) for line in lines) == pytest.approx(50.0 / 1.3e8, rel=0.2)


def test_a_conductor_induces_above_ground_and_nothing_in_the_soil() -> None:
    surge = (
        "shape: 0.25/100, peak: 4.7 kA,"
        " flows in: {from: {x: 1 m, y: -0.9 m, height: 9 m}, to: {x: 1 m, y: -0.9 m, height: 0 m}}"
    )
    assert sources(build(scenario(surge=surge))) == []
    network = build(scenario(surge=surge, laying="in air 6 m high"))
    assert sources(network)
    assert not any(isinstance(e, CurrentSource) for e in network.elements)
    assert network.is_driven_by_current
    into = surge + ", into: house pe, returns: remote earth"
    network = build(scenario(surge=into, laying="in air 6 m high"))
    assert sources(network)
    assert [e.b for e in network.elements if isinstance(e, CurrentSource)] == ["house/pe"]


def test_negative_strokes_have_the_opposite_voltages() -> None:
    positive = scenario()
    negative = positive.model_copy(update={"polarity": "negative"})
    time = np.linspace(0.0, 3e-6, 100)
    assert whole(build(negative), time) == pytest.approx(-whole(build(positive), time))


STRING = """
loops:
  wiring:
    of: strings
    wire: 2.8 mm
    strings: 2
    corners:
      [{x: -6 m, y: 0 m, height: 1 m}, {x: -20 m, y: 0 m, height: 1 m},
       {x: -20 m, y: 0 m, height: 2.1 m}, {x: -6 m, y: 0 m, height: 2.1 m}]
"""


def looped(surge: str) -> Network:
    text = SITE.format(surge=surge, laying="in air 2 m high", rod="measured: 38 ohm") + STRING
    (case,) = loads(text).all_cases
    return build(case.scenario)


def test_a_loop_of_strings_stands_in_series_with_its_array() -> None:
    network = looped(STROKE)
    (array,) = (e for e in network.elements if isinstance(e, PhotovoltaicSource))
    (coil,) = (e for e in network.elements if e.name == "loop/wiring/inductance")
    (source,) = (e for e in network.elements if e.name == "loop/wiring")
    assert isinstance(coil, Inductor)
    assert isinstance(source, VoltageSource)
    assert (array.a, coil.a, coil.b) == (coil.a, array.a, source.b)
    assert (source.a, array.b) == ("array/plus", "array/minus")
    assert coil.inductance == pytest.approx(rectangle_inductance(14.0, 1.1, 1.4e-3) / 2, rel=1e-3)
    assert isinstance(source.waveform, Induced)
    # upright, 14 m by 1.1 m, the lower side outward to the stroke: mu0 w/(2 pi) ln(40/26) of it
    # of what arrives at 32 m, 150 m/us up the channel; 2 %: its near end has it sooner
    mutual = MU_0 * 1.1 / (2 * math.pi) * math.log(40.0 / 26.0)
    arriving = Arriving(
        current=network.waveform, distance=math.sqrt(40.0 * 26.0), height=0.0, speed=150e6, end=2e-3
    )
    time = np.linspace(0.3e-6, 2e-6, 50)
    crest = mutual * float(np.max(arriving.rate(time)))
    assert source.waveform.value(time) == pytest.approx(
        mutual * arriving.rate(time), abs=0.02 * crest
    )


def test_a_loop_without_a_current_beside_it_is_an_inductance() -> None:
    network = looped(STRUCK)
    assert any(e.name == "loop/wiring/inductance" for e in network.elements)
    assert not any(e.name == "loop/wiring" for e in network.elements)


def test_a_route_laid_in_two_ways_is_driven_by_each() -> None:
    two = "[20 m in air 2 m high, 30 m plastic duct 50 mm wide 0.7 m deep]"
    time = np.linspace(0.0, 5e-6, 501)
    both = whole(build(scenario(laying=two)), time)
    air = whole(build(scenario(laying="in air 2 m high")), time)
    duct = whole(build(scenario()), time)
    # between the two, nearer to neither than its share
    crest = [float(np.max(values)) for values in (duct, both, air)]
    assert crest[0] < crest[1] < crest[2]


def test_electrodes_closer_than_their_size_are_refused() -> None:
    text = SITE.replace("x: 30 m, y: 40 m", "x: 1 m, y: 1 m").format(
        surge=STRUCK, laying="in air 1 m high", rod="measured: 38 ohm"
    )
    (case,) = loads(text).all_cases
    with pytest.raises(InputError) as refusal:
        build(case.scenario)
    assert str(refusal.value) == (
        "surgesim: earths.foundation: stands 1.41 m from 'rod', closer than their size: of these"
        " resistances are hemispheres of 0.419 m and 1.77 m; describe both together as one"
    )  # fmt: skip


def test_a_stroke_on_top_of_an_electrode_is_refused() -> None:
    surge = "shape: 0.25/100, peak: 12 kA, strikes ground at: {x: -1 m, y: 0 m}"
    with pytest.raises(InputError, match=r"closer than the 0\.798 m of soil that break down") as no:
        build(scenario(surge=surge))
    assert "describe a stroke into it, 'into: array pe'" in str(no.value)
    assert no.value.path == "surges.surge.strikes ground at"
