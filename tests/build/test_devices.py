"""Devices of several elements: what each connection limits, mode by mode, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from surgesim.build import build
from surgesim.errors import InputError
from surgesim.findings.housed import measure_mode
from surgesim.findings.record import Record
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, CurrentSource, Element, Resistor, Varistor
from surgesim.oracle import solve
from surgesim.physics.waveforms import CubicExponential
from surgesim.scenario.file import loads

TEXT = """\
surgesim: 1
title: one slot
question: none
site: {{soil: 100 ohm m}}
places:
  roof: {{}}
  house: {{}}
cables:
  run:
    {{from: roof, to: house, length: 20 m, type: {cable}, laying: plastic duct 0.7 m deep,
     carries: [{cores}]}}
earths:
  rod: {{at: roof, bar: {bar}, measured: 30 ohm, inductance: 1 uH}}
  foundation: {{at: house, bar: pe, measured: 10 ohm, inductance: 1 uH}}
{tied}
equipment:
  drive:
    at: house
    {pair}: {{withstand: 6 kV, from: guess, capacitance: 1 nF}}
arresters:
  slot:
    at: house
    across: {across}
    leads: {{line: 0 m, earth: 0 m to pe}}
    card: {card}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof {bar}, returns: remote earth}}
cards:
  own disc:
    kind: varistor arrester
    about: One of a test
    test class: II
    Ucpv: {{value: 600 V, source: a test}}
    reference voltage: {{value: {reference}, source: a test}}
    In: {{value: 20 kA, source: a test}}
    Imax: {{value: 40 kA, source: a test}}
    Up: {{value: {up}, source: a test}}
    capacitance: {{value: 0 F, source: a test}}
    inductance: {{value: 0 H, source: a test}}
  own device:
    kind: arrester device
    about: One of a test
    connection: {connection}
    pole: [own disc]
{earth}    Ucpv: {{value: 1200 V, source: a test}}
    Up: {{value: 4 kV, source: a test}}
"""
POLES = "[plus to pe, minus to pe]"
ARRAY = """\
supply:
  strings:
    {at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {to: frame, each pole: 1 Mohm}}
"""
NEUTRAL = """\
bonds:
  line: {from: roof l1, to: roof frame, length: 1 m, type: copper 16 mm2}
  neutral: {from: roof n, to: roof frame, length: 1 m, type: copper 16 mm2}
"""


def network(
    connection: str, *, earth: str = "", up: str = "2 kV", reference: str = "750 V",
    across: str = POLES, card: str = "own device", alternating: bool = False,
) -> Network:  # fmt: skip
    text = TEXT.format(
        connection=connection, up=up, reference=reference, across=across, card=card, bar="frame",
        earth=f"    earth: {earth}\n" if earth else "",
        cable="5x16 mm2" if alternating else "pv pair 6 mm2",
        cores="l1, n" if alternating else "plus, minus",
        tied=NEUTRAL if alternating else ARRAY,
        pair="l1 to n" if alternating else "plus to pe",
    )  # fmt: skip
    (case,) = loads(text).all_cases
    return build(case.scenario)


def residuals(circuit: Network, *ways: tuple[str, str]) -> dict[str, float]:
    """Volts of every mode at 20 kA of 8/20 that flow the given ways, in equal parts."""
    pulse = CubicExponential(peak=20e3 / len(ways), scale=0.01243e18, time_constant=3.911e-6)
    own: list[AnyElement] = [
        e for e in circuit.elements if isinstance(e, Element) and e.group == "arrester slot"
    ]
    own += [
        CurrentSource(name=f"J{k}", a=f"house/{there}", b=f"house/{here}", waveform=pulse)
        for k, (here, there) in enumerate(ways)
    ]
    ends = ("plus", "minus", "pe")
    own += [Resistor(name=f"leak {e}", a=f"house/{e}", b=GROUND, resistance=1e6) for e in ends]
    alone = Network(title="alone", elements=tuple(own), waveform=pulse, modes=circuit.modes)
    waves = solve(alone, step=20e-9, stop=40e-6)
    record = Record(waves, waves)
    return {m.mode: measure_mode(m, record).residual_v for m in circuit.modes}


def test_a_star_has_two_elements_in_every_mode() -> None:
    """Three elements of 2 kV at 20 kA: 4 kV in every mode; with 10 kA in each pole the leg to PE
    carries 20 kA: 2 kV and what the law of a pole's element has at 10 kA."""
    star = network("star", earth="[own disc]")
    for way in (("plus", "pe"), ("minus", "pe"), ("plus", "minus")):
        found = residuals(star, way)
        assert abs(found[f"{way[0]} to {way[1]}"]) == pytest.approx(4000.0, rel=0.002)
    both = residuals(star, ("plus", "pe"), ("minus", "pe"))
    (pole, *_) = (e for e in star.elements if isinstance(e, Varistor))
    expected = 2000.0 + float(pole.law.voltage(10e3))
    assert both["plus to pe"] == pytest.approx(expected, rel=0.002)
    assert {probe.element for probe in star.arresters} == {
        "plus to star", "minus to star", "star to pe",
    }  # fmt: skip


def test_a_delta_holds_every_mode_and_two_elements_to_earth_do_not() -> None:
    """3.4 kV in every mode against 6.8 kV from pole to pole (computed)."""
    delta = residuals(network("delta", up="3.4 kV", reference="1250 V"), ("plus", "minus"))
    # what goes the other way, through two elements in series, is next to nothing
    assert delta["plus to minus"] == pytest.approx(3400.0, rel=0.01)
    pair = residuals(network("2+0", up="3.4 kV", reference="1250 V"), ("plus", "minus"))
    assert pair["plus to minus"] == pytest.approx(6800.0, rel=0.002)
    assert pair["plus to pe"] == pytest.approx(3400.0, rel=0.002)


def test_two_to_earth_are_what_a_single_card_is_on_each_pole() -> None:
    device, single = network("2+0"), network("2+0", card="own disc")
    assert device.elements == single.elements
    assert [p.element for p in device.arresters] == [p.element for p in single.arresters]
    assert {p.card for p in device.arresters} == {"own device"}
    assert not single.modes


def test_a_gap_in_the_leg_to_earth_fires() -> None:
    star = network("star", earth="[own disc, gas tube 600]")
    assert [p.element for p in star.arresters] == [
        "plus to star", "minus to star", "star to pe, 1: own disc", "star to pe, 2: gas tube 600",
    ]  # fmt: skip
    assert [p.gap is not None for p in star.arresters] == [False, False, False, True]
    found = residuals(star, ("plus", "pe"))
    # two discs at 20 kA, and an arc of 20 V and 5 mohm that has come by then
    assert found["plus to pe"] == pytest.approx(4000.0 + 120.0, rel=0.02)
    assert any(e.name.endswith("equaliser") for e in star.elements)


def test_over_the_neutral_a_gap_joins_it_to_earth() -> None:
    circuit = network(
        "2+0", card="ac 275 class II 1+1", across="[l1 to n, n to pe]", alternating=True,
    )  # fmt: skip
    assert [probe.element for probe in circuit.arresters] == ["l1 to n", "n to pe"]
    assert [mode.mode for mode in circuit.modes] == ["l1 to n", "n to pe", "l1 to pe"]
    # Uc is rms: the voltage before a surge is held against its crest
    assert circuit.arresters[0].rating.continuous == pytest.approx(275.0 * np.sqrt(2.0))
    assert circuit.arresters[1].gap is not None


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {"across": "plus to pe", "earth": "[own disc]"},
            "for example 'across: [plus to pe, minus",
        ),
        ({}, "connection 'star' needs 'earth'"),
        ({"earth": "[no such]"}, "'no such' is no arrester of one element"),
        ({"earth": "[own device]"}, "'own device' is no arrester of one element"),
        ({"card": "ac 275 class II 3+1"}, "for example 'across: [l1 to n, l2 to n, l3 to n, n to"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, str], told: str) -> None:
    if "card" in changes:
        changes = {**changes, "earth": "[own disc]"}
    with pytest.raises(InputError) as caught:
        network("star", **changes)  # type: ignore[arg-type]
    assert told in str(caught.value)
