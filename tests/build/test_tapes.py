"""A bare tape beside a duct, in time, against the same route in the frequency domain.

The reference is that of tests/build/test_soil.py: no modes, pieces or chain, at every complex
frequency the closed form of the soil between the tape and the duct (Saad, Gaba, Giroux 1996 at
their distance), and the tape's leakage (Dwight 1936) spread evenly along it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import kv

from surgesim.build import build
from surgesim.build.cables import cables, route_constants
from surgesim.build.modelled import modelled
from surgesim.build.whole import band_of
from surgesim.engine import simulate
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    CurrentSource,
    Line,
    Resistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve
from surgesim.physics.constants import EPSILON_0, MU_0
from surgesim.physics.electrodes import horizontal_resistance
from surgesim.physics.waveforms import shape_figures
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario
from tests.build.test_soil import (
    DEPTH,
    EARTH,
    HELD,
    INPUT,
    OPEN,
    SHAPES,
    SOIL,
    Array,
    Shape,
    Waves,
    inverted,
    line_admittance,
    nodal,
    shunts,
    skin,
)

LENGTH, APART, BURIED, WIDE = 62.0, 0.2, 0.5, 0.025
AROUND = 0.09 * 0.56  # with a wall of 6 % of the duct's width

TEXT = f"""
surgesim: 1
title: Tape
site: {{soil: {SOIL:g} ohm m}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair: {{from: roof, to: house, length: {LENGTH:g} m, type: pv pair 6 mm2, laying: plastic duct 90 mm wide {DEPTH:g} m deep}}
bonds:
  tape: {{from: roof pe, to: house pe, length: {LENGTH:g} m, type: copper 50 mm2, width: {WIDE:g} m, bare in soil: {BURIED:g} m, laid with: pair, spacing: {APART:g} m}}
earths:
  rod: {{at: roof, bar: pe, measured: 30 ohm, inductance: 2 uH}}
  ring: {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof pe, returns: remote earth}}
"""  # noqa: E501


def scenario(old: str = "", new: str = "") -> Scenario:
    assert old in TEXT
    (case,) = loads(TEXT.replace(old, new)).all_cases
    return case.scenario


def reference(shape: Shape, far: float, stop: float) -> Waves:
    """Far plus to bar, far bar, and near plus to remote earth, by the Laplace transform."""
    of = scenario()
    of = of.model_copy(update={"bonds": {}, "site": of.site.model_copy(update={"soil": 1e-9})})
    pair, _ = route_constants(dict(of.cables), of, band_of(shape.wave, "current"))
    radius = WIDE / 4
    leak = 1 / (LENGTH * horizontal_resistance(LENGTH, radius, BURIED, SOIL))
    inductance, capacitance = np.zeros((3, 3)), np.zeros((3, 3))
    inductance[:2, :2] = pair.inductance + MU_0 / (2 * math.pi) * math.log(APART / AROUND)
    inductance[2, 2] = MU_0 / (2 * math.pi) * math.log(APART / radius)
    capacitance[:2, :2] = pair.capacitance
    capacitance[2, 2] = 10 * EPSILON_0 * SOIL * leak

    def wanted(s: complex) -> Array:
        m = np.sqrt(s * MU_0 / SOIL)
        surface = 2 * np.exp(-2 * DEPTH * m) / (4 + (m * APART) ** 2)
        ground = s * MU_0 / (2 * math.pi) * complex(kv(0, m * APART) + surface)
        wires = np.diag([*(pair.resistance * skin(pair.resistance, s)), 0.387e-3])
        shunt = s * capacitance + np.diag([0.0, 0.0, leak])
        line = line_admittance(s * inductance + ground + wires, shunt, LENGTH)
        volts = nodal(line, far, s, shape)
        return np.array([volts[3] - volts[5], volts[5], volts[0]])

    return inverted(wanted, stop)


def computed(shape: Shape, far: float, stop: float) -> Waves:
    of, wave = scenario(), shape.wave
    elements: list[AnyElement] = [
        CurrentSource(name="surge", a=GROUND, b="roof/pe", waveform=wave),
        *(e for part in cables(of, band_of(wave, "current"), {}) for e in part.elements),
    ]
    names = ("plus", "minus", "pe")
    for place, parts in shunts(far).items():
        for a, b, ohm in parts:
            end = GROUND if b == EARTH else f"{place}/{names[b]}"
            name = f"{place} {names[a]}"
            elements.append(Resistor(name=name, a=f"{place}/{names[a]}", b=end, resistance=ohm))
    for pole in names[:2]:
        ends = {"a": f"house/{pole}", "b": "house/pe"}
        elements.append(Capacitor(name=f"input {pole}", capacitance=INPUT, **ends))
    network = Network(title="tape", elements=tuple(elements), waveform=wave)
    front = shape_figures(wave, kind="current").front
    waves = solve(network, step=fitting_step(network, largest=front / 200), stop=stop)
    volts = [waves.across("house/plus", "house/pe"), waves.at("house/pe"), waves.at("roof/plus")]
    return waves.time, np.array(volts)


@pytest.mark.parametrize(
    ("shape", "far"),
    [
        ("10/350", OPEN),
        ("1/200", OPEN),
        pytest.param("1/200", HELD, marks=pytest.mark.slow),
        pytest.param("0.25/100", OPEN, marks=pytest.mark.slow),
        pytest.param("0.25/100", HELD, marks=pytest.mark.slow),
    ],
)
def test_peaks_are_those_of_the_frequency_domain(shape: str, far: float) -> None:
    stop = {"10/350": 240e-6, "1/200": 40e-6, "0.25/100": 40e-6}[shape]
    _, wanted = reference(SHAPES[shape], far, stop)
    _, found = computed(SHAPES[shape], far, 0.9 * stop)
    for name, there, here in zip(("pole to bar", "bar", "pole"), wanted, found, strict=True):
        peak, reached = np.max(np.abs(there)), np.max(np.abs(here))
        # 3 %: pieces half as long as the front's frequency comes along the tape
        assert reached == pytest.approx(peak, rel=0.03), name


def leaks(network: Network) -> list[Resistor]:
    return [e for e in network.elements if isinstance(e, Resistor) and e.name.endswith("/leak")]


def test_it_leaks_as_a_strip_does_and_is_listed_among_the_earths() -> None:
    network = build(scenario())
    ohm = horizontal_resistance(LENGTH, WIDE / 4, BURIED, SOIL)
    assert 1 / sum(1 / e.resistance for e in leaks(network)) == pytest.approx(ohm)
    (probe,) = (p for p in network.earths if p.name == "bond tape")
    assert (probe.place, probe.node) == ("roof", "roof/pe")
    assert probe.resistance == pytest.approx(ohm)
    assert any(isinstance(e, Ammeter) and e.name == probe.ammeter for e in network.elements)


def test_it_is_the_last_conductor_of_its_route_between_its_own_ends() -> None:
    network = build(scenario())
    lines = [e for e in network.elements if isinstance(e, Line)]
    assert len(lines) >= 8
    metal = {e.b: e.a for e in network.elements if isinstance(e, Resistor)}
    assert metal[lines[0].near[-1]] == "roof/pe"
    assert metal[lines[-1].far[-1]] == "house/pe"
    ohms = [e.resistance for e in network.elements if e.name.startswith("cable/pair/bond tape at")]  # type: ignore[union-attr]
    assert ohms == pytest.approx([31 * 0.387e-3] * 2)


def test_a_joint_and_a_bond_that_runs_the_other_way() -> None:
    turned = "from: house pe, to: roof pe, joint: 2 ohm"
    network = build(scenario("from: roof pe, to: house pe", turned))
    metal = {e.b: e for e in network.elements if isinstance(e, Resistor)}
    lines = [e for e in network.elements if isinstance(e, Line)]
    near, far = metal[lines[0].near[-1]], metal[lines[-1].far[-1]]
    assert (near.a, far.a) == ("roof/pe", "house/pe")
    assert near.resistance - far.resistance == pytest.approx(2.0)


def test_by_both_solvers_what_it_takes_off_the_inverter() -> None:
    """With the poles held to the bar at the roof, the tape's own drop is what stands at the house;
    beside the duct most of that is in the poles as well."""
    box = (
        "arresters:\n  box: {at: roof, across: each pole to pe, card: pv 1000 class II,"
        " leads: {line: 0.3 m, earth: 0.3 m to pe}}\nequipment:"
    )
    beside = scenario("equipment:", box)
    bonds = {"tape": beside.bonds["tape"].model_copy(update={"laid_with": None, "spacing": None})}
    networks = [build(beside), build(beside.model_copy(update={"bonds": bonds}))]
    peaks = [crest(simulate(network, window="front")) for network in networks]
    assert peaks[0] < 0.8 * peaks[1]
    network = networks[0]
    second = solve(network, step=fitting_step(network, largest=5e-9), stop=8e-6)
    assert crest(second) == pytest.approx(peaks[0], rel=0.01)


def crest(waves: Waveforms) -> float:
    return float(np.max(np.abs(waves.across("house/plus", "house/pe"))))


def test_it_is_said() -> None:
    beside, alone = (
        list(modelled(scenario(old))) for old in ("", ", laid with: pair, spacing: 0.2 m")
    )
    assert any(words.startswith("a bare bond laid with a cable") for words in beside)
    assert not any(words.startswith("bare bonds in soil induce") for words in beside)
    assert any(words.startswith("bare bonds in soil induce") for words in alone)


@pytest.mark.parametrize(
    ("old", "new", "path", "words"),
    [
        ("spacing: 0.2 m", "spacing: 0.04 m", "cables.pair.laying", "overlaps it"),
        ("spacing: 0.2 m", "spacing: 0.8 m", "cables.pair.laying", "at most as far away"),
        (
            "bonds:\n",
            "bonds:\n  other: {from: roof pe, to: house pe, length: 62 m, type: copper 50 mm2,"
            " bare in soil: 0.5 m, laid with: pair, spacing: 0.3 m}\n",
            "bonds.tape.laid with",
            "lies beside 'pair' already",
        ),
    ],
)
def test_what_cannot_lie_so_is_refused(old: str, new: str, path: str, words: str) -> None:
    with pytest.raises(InputError) as refusal:
        build(scenario(old, new))
    assert refusal.value.path == path
    assert words in str(refusal.value)
