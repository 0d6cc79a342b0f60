"""Arresters: leads in tee and V, where the earth lead lands, tolerance and rating."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.build import build
from surgesim.build.arrester_elements import rating, varistor_law
from surgesim.build.arresters import arresters
from surgesim.catalogue.cards import VaristorArrester
from surgesim.catalogue.library import built_in
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import AnyElement, Coupling, Inductor, Resistor, Varistor
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import VaristorLaw
from surgesim.scenario.schema import Scenario

MakeScenario = Callable[..., Scenario]
Run = Callable[..., Waveforms]
Across = Callable[..., NDArray[np.float64]]

CLAMPED = 1000.0
"""Level of the bench's limiter, V."""

V_COUPLING = 0.15e-6
"""H/m, the coupling that is assumed of the halves of a V."""


def inductances(elements: tuple[AnyElement, ...]) -> dict[str, float]:
    return {e.name: e.inductance for e in elements if isinstance(e, Inductor)}


def card(name: str) -> VaristorArrester:
    found = built_in()[name]
    assert isinstance(found, VaristorArrester)
    return found


# --- leads -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "peak", "drop"),
    [
        # L (di/dt)max per metre at 1 uH/m (common practice, no source). 8/20, 5 kA: 745 V/m,
        # of the formula of IEEE C62.41.2-2002, from memory. 10/350, 25 kA: 0.1366 per us,
        # 3414 V/m, of the Heidler form of IEC 62305-1:2010 Annex B, from memory; computed.
        ("8/20", "5 kA", 745.0),
        ("10/350", "25 kA", 3414.0),
    ],
)
def test_a_metre_of_lead_adds_its_drop(
    bench: MakeScenario, limiter: str, simulated: Run, across: Across,
    shape: str, peak: str, drop: float,
) -> None:  # fmt: skip
    surge = (
        f"{{shape: {shape}, peak: {peak}, channel: 1 Mohm, into: bench plus, returns: bench pe}}"
    )
    network = build(bench(arrester=limiter, surge=surge))
    waves = simulated(network)
    # 0.5 %: up to the moment of the steepest rise the limiter's 1 mohm adds a volt or two, and
    # the line that brings the conductor takes an ampere or two
    assert np.max(across(network, waves)) == pytest.approx(CLAMPED + drop, rel=0.005)


def test_leads_of_a_tee(bench: MakeScenario) -> None:
    leads = "{line: 0.3 m, earth: 0.5 m to pe, inductance: 1.2 uH/m}"
    slot = f"{{at: bench, across: plus to pe, card: limiter, leads: {leads}}}"
    (parts,) = arresters(bench(arrester=slot))
    assert inductances(parts.elements) == pytest.approx(
        {"arrester/slot/plus lead": 0.36e-6, "arrester/slot/earth lead": 0.6e-6}
    )
    assert not any(isinstance(e, Coupling) for e in parts.elements)


def test_elements_on_two_poles_share_the_earth_lead(
    twin_pole: Callable[[str], Scenario],
) -> None:
    (parts,) = arresters(twin_pole("tee"))
    names = [name for name in inductances(parts.elements) if name.endswith("lead")]
    assert names == [
        "arrester/slot/plus lead", "arrester/slot/minus lead", "arrester/slot/earth lead",
    ]  # fmt: skip
    assert {probe.b for probe in parts.arresters} == {"arrester/slot/earth"}


def test_zero_leads_are_no_leads(bench: MakeScenario, simulated: Run, across: Across) -> None:
    slot = "{at: bench, across: plus to pe, card: limiter, leads: {line: 0 m, earth: 0 m to pe}}"
    network = build(bench(arrester=slot))
    assert not any(isinstance(e, Inductor) for e in network.elements)
    (probe,) = network.arresters
    assert (probe.a, probe.b) == ("bench/plus", "bench/pe")
    # the limiter's 1 mohm adds 5 V at 5 kA
    assert np.max(across(network, simulated(network))) == pytest.approx(CLAMPED + 5.0, rel=1e-3)


def test_the_earth_lead_may_land_on_another_bar(bench: MakeScenario, simulated: Run) -> None:
    """The arrester then discharges through that bar's electrode, and its rise adds on."""
    slot = (
        "{at: bench, across: plus to pe, card: limiter,"
        " leads: {line: 0 m, earth: 0 m to second bar}}"
    )
    scenario = bench(
        arrester=slot, surge="{shape: 8/20, peak: 1 kA, channel: 1 Mohm, into: bench plus,"
        " returns: remote earth}",
    )  # fmt: skip
    network = build(scenario)
    waves = simulated(network)
    currents = {e.name: np.max(np.abs(waves.currents[e.ammeter])) for e in network.earths}
    # 1 kA less what u = 1 kV + 5 ohm i drives into the 400 ohm of the line
    amps = (1000.0 - CLAMPED / 400.0) / (1 + 5.0 / 400.0)
    assert currents["second rod"] == pytest.approx(amps, rel=1e-3)
    assert currents["bench earth"] < 1e-3
    # the equipment, on its own bar, sees the limiter and that electrode's rise
    seen = np.max(waves.across("bench/plus", "bench/pe"))
    assert seen == pytest.approx(CLAMPED + 5.0 * amps, rel=1e-3)


# --- V wiring --------------------------------------------------------------------------------

FROM_THE_LINE = "{shape: 8/20, peak: 5 kA, channel: 1 Mohm, into: far plus, returns: far pe}"


def wired(bench: MakeScenario, wiring: str) -> Network:
    """An arrester with 1 m of line lead and none to earth, fed through the line."""
    leads = "{line: 1 m, earth: 0 m to pe}"
    slot = f"{{at: bench, across: plus to pe, card: limiter, wiring: {wiring}, leads: {leads}}}"
    return build(bench(arrester=slot, surge=FROM_THE_LINE))


def test_v_wiring_leaves_only_the_coupling_of_its_halves(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    """What the equipment sees above the limiter is + M di/dt, at every moment.

    The two halves of the V lie side by side, and the arrester's current comes in along one:
    it induces in the other as in a turn closed over the equipment. The wrong sign of the
    coupling would take M di/dt off the residual instead.
    """
    network = wired(bench, "V")
    waves = simulated(network)
    (probe,) = network.arresters
    current = waves.currents[probe.ammeter]
    conducting = (current > 50.0) & (waves.time < 8e-6)
    expected = CLAMPED + 1e-3 * current + V_COUPLING * np.gradient(current, waves.time)
    seen = across(network, waves)
    assert np.max(seen[conducting]) > CLAMPED + 50.0
    # 5 V: the steps of the line's reflections are corners, and a gradient smooths a corner
    np.testing.assert_allclose(seen[conducting], expected[conducting], atol=5.0)


def test_v_wiring_gives_much_less_than_a_tee(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    tee, through = (
        float(np.max(across(network, simulated(network)))) - CLAMPED
        for network in (wired(bench, "tee"), wired(bench, "V"))
    )
    # of the 1 uH of a metre's lead, 0.15 uH remain
    assert through == pytest.approx(0.15 * tee, rel=0.05)


def test_the_sign_of_the_coupling_counts_against_the_dots(bench: MakeScenario) -> None:
    (coupling,) = [e for e in wired(bench, "V").elements if isinstance(e, Coupling)]
    assert coupling.mutual == pytest.approx(-V_COUPLING)


def test_cables_end_before_the_v_and_everything_else_behind_it(
    twin_pole: Callable[[str], Scenario],
) -> None:
    network = build(twin_pole("V"))
    ends = {
        e.a for e in network.elements if isinstance(e, Resistor) and e.group.startswith("cable")
    }
    assert {"house/plus/cable side", "house/minus/cable side"} <= ends
    assert not {"house/plus", "house/minus"} & ends
    (probe, *_) = network.terminals
    assert probe.a == "house/plus"


@pytest.fixture
def twin_pole() -> Callable[[str], Scenario]:
    """A pole-to-earth arrester at the house end of a photovoltaic pair."""
    from surgesim.scenario.file import loads

    def make(wiring: str) -> Scenario:
        text = f"""
surgesim: 1
title: Pair
site: {{soil: 100 ohm m}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair: {{from: roof, to: house, length: 20 m, type: pv pair 6 mm2, laying: in air 3 m high}}
earths:
  roof rod:  {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
  house rod: {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF}}
arresters:
  slot:
    at: house
    across: each pole to pe
    card: pv 1000 class II
    wiring: {wiring}
    leads: {{line: 0.5 m, earth: 0.5 m to pe}}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof pe, returns: remote earth}}
"""
        (case,) = loads(text).all_cases
        return case.scenario

    return make


# --- the element -----------------------------------------------------------------------------


def law_of(scenario: Scenario) -> VaristorLaw:
    (law,) = {e.law for e in build(scenario).elements if isinstance(e, Varistor)}
    return law


@pytest.mark.parametrize(
    ("tolerance", "share"), [("low", 0.9), ("nominal", 1.0), ("declared", 1.1)]
)
def test_tolerance_scales_the_voltage_at_every_current(
    bench: MakeScenario, limiter: str, tolerance: str, share: float
) -> None:
    """The declared Up is the upper limit, the nominal element is a tenth below it."""
    slot = limiter.replace("limiter", "pv 1000 class II")
    law = law_of(bench(arrester=slot, more=f"arrester tolerance: {tolerance}\n"))
    found = card("pv 1000 class II")
    at_nominal_current = float(law.voltage(np.array(found.In.value)))
    assert at_nominal_current == pytest.approx(found.Up.value * share / 1.1)
    nominal = varistor_law(found, "nominal")
    amps = np.geomspace(1e-3, 20e3, 40)
    np.testing.assert_allclose(law.voltage(amps), share * nominal.voltage(amps), rtol=1e-12)


def test_an_element_brings_its_own_inductance_and_capacitance(
    bench: MakeScenario, limiter: str
) -> None:
    from surgesim.network.elements import Capacitor

    slot = limiter.replace("limiter", "pv 1000 class II")
    (parts,) = arresters(bench(arrester=slot))
    found = card("pv 1000 class II")
    own = inductances(parts.elements)["arrester/slot/plus to pe/inductance"]
    assert own == found.inductance.value > 0
    bodies = [e.capacitance for e in parts.elements if isinstance(e, Capacitor)]
    assert bodies == [found.capacitance.value]
    assert bodies > [0.0]


def test_rating_of_class_one() -> None:
    """Q = Iimp/2 s 1e-3, W/R = Iimp^2/4 s 1e-3 (IEC 61643-11:2011, from memory)."""
    found = card("pv 1000 class I")
    assert found.Iimp is not None
    iimp = found.Iimp.value
    held = rating(found)
    assert held.charge == pytest.approx(0.5e-3 * iimp)
    assert held.specific_energy == pytest.approx(0.25e-3 * iimp**2)


def test_rating_of_class_two() -> None:
    """Charge of an 8/20 of Imax: 17.45 uC per ampere, of its formula; computed."""
    found = card("pv 1000 class II")
    assert found.Imax is not None
    held = rating(found)
    assert held.charge == pytest.approx(17.45e-6 * found.Imax.value, rel=1e-3)
    assert held.peak == found.Imax.value


def test_a_v_needs_leads_longer_than_their_own_coupling(bench: MakeScenario, limiter: str) -> None:
    slot = limiter.replace("wiring: tee", "wiring: V")
    wired = bench(arrester=slot)
    (name, arrester), *_ = wired.arresters.items()
    leads = arrester.leads.model_copy(
        update={"inductance": V_COUPLING, "coupling": V_COUPLING, "line": 0.5}
    )
    thin = arrester.model_copy(update={"leads": leads, "wiring": "V"})
    with pytest.raises(InputError, match=r"is not less than the 0\.15 uH/m of the lead") as caught:
        list(arresters(wired.model_copy(update={"arresters": {name: thin}})))
    assert caught.value.path == f"arresters.{name}.leads.coupling"
