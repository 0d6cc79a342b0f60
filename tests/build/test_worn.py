"""Arresters that are unequal, hot, cold, aged or failed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.build.arrester_elements import varistor_law
from surgesim.build.arresters import arresters
from surgesim.build.worn import CONDITIONS, OPEN, SHORTED
from surgesim.catalogue.cards import VaristorArrester
from surgesim.catalogue.library import built_in
from surgesim.network.elements import Resistor, Varistor
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers
from surgesim.physics.varistor_condition import aged, at_temperature
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

MakeScenario = Callable[..., Scenario]

LAW = fit_three_numbers(reference_voltage=430.0, nominal_current=20e3, level=1350.0)
"""A disc of the 34/40 mm class."""


@pytest.mark.parametrize("kelvin", [248.15, 273.15, 343.15, 398.15])
def test_heat_lowers_a_varistor_where_it_hardly_conducts(kelvin: float) -> None:
    """-0.05 %/K at 1 mA (from memory), none where the grains' own resistance rules."""
    law = at_temperature(LAW, kelvin)
    expected = 430.0 * (1.0 - 0.0005 * (kelvin - 298.15))
    # the leak beside the power law takes part of the 1 mA; hot, ten times as much
    assert law.voltage(1e-3) == pytest.approx(expected, rel=5e-3)
    assert law.voltage(20e3) == pytest.approx(1350.0, rel=1e-6)


def test_the_leak_follows_its_activation() -> None:
    """exp(0.5 eV / k (1/298 - 1/348)): 16.4 times from 25 to 75 degC, closed form."""
    low = 100.0  # V, where only the leak conducts
    ratio = float(at_temperature(LAW, 348.15).current(low) / LAW.current(low))
    assert ratio == pytest.approx(16.4 / (1 - 0.0005 * 50), rel=0.02)


def test_at_room_temperature_nothing_changes() -> None:
    amps = np.geomspace(1e-6, 1e5, 40)
    np.testing.assert_allclose(at_temperature(LAW, 298.15).voltage(amps), LAW.voltage(amps))


def test_an_aged_disc_is_a_tenth_lower_at_a_milliampere() -> None:
    """What tests of varistors count as failed, -10 % at 1 mA (IEC 61051, from memory)."""
    law = aged(LAW)
    assert law.voltage(1e-3) == pytest.approx(0.9 * 430.0, rel=5e-3)
    assert law.voltage(20e3) == pytest.approx(1350.0, rel=1e-6)


def laws(scenario: Scenario) -> list[VaristorLaw]:
    (parts,) = arresters(scenario)
    return [e.law for e in parts.elements if isinstance(e, Varistor)]


TWO = """
surgesim: 1
title: Two poles
site: {{soil: 100 ohm m}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair: {{from: roof, to: house, length: 20 m, type: pv pair 6 mm2, laying: in air 3 m high}}
earths:
  rod:   {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
  posts: {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter: {{at: house, plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF}}}}
arresters:
  slot:
    at: house
    across: each pole to pe
    card: pv 1000 class II
    leads: {{line: 0.5 m, earth: 0.5 m to pe}}
{slot}
surges: {{surge: {{shape: 8/20, peak: 1 kA, into: house pe, returns: remote earth}}}}
{more}
"""


def two(*, slot: str = "", more: str = "") -> Scenario:
    (case,) = loads(TWO.format(slot=slot, more=more)).all_cases
    return case.scenario


def nominal() -> VaristorLaw:
    card = built_in()["pv 1000 class II"]
    assert isinstance(card, VaristorArrester)
    return varistor_law(card, "nominal")


@pytest.mark.parametrize(
    ("level", "scales"), [("unequal", [0.9, 1.1]), ("unequal turned", [1.1, 0.9])]
)
def test_one_element_low_beside_its_high_twin(level: str, scales: list[float]) -> None:
    found = laws(two(more=f"arrester tolerance: {level}"))
    assert [law.scale for law in found] == scales
    base = nominal()
    for law, scale in zip(found, scales, strict=True):
        assert law.voltage(1e3) == pytest.approx(scale * base.voltage(1e3))


@pytest.mark.parametrize("condition", ["hot", "cold", "aged"])
def test_the_condition_bends_every_law(condition: str) -> None:
    declared = laws(two())[0]
    found = laws(two(more=f"arrester condition: {condition}"))
    assert found == [CONDITIONS[condition](declared)] * 2
    assert found[0] != declared


@pytest.mark.parametrize(("how", "ohm"), [("open", OPEN), ("shorted", SHORTED)])
def test_a_failed_element_is_a_resistance(how: str, ohm: float) -> None:
    (parts,) = arresters(two(slot=f"    failed: {{minus to pe: {how}}}"))
    stand_ins = [e for e in parts.elements if isinstance(e, Resistor) and e.resistance == ohm]
    assert [e.name for e in stand_ins] == ["arrester/slot/minus to pe"]
    assert len([e for e in parts.elements if isinstance(e, Varistor)]) == 1
    sound, failed = parts.arresters
    assert (sound.rating.device_class, failed.rating.device_class) == ("II", "failed")
    assert failed.rating.peak is None


def test_without_an_arrester_its_condition_makes_no_difference() -> None:
    text = TWO.format(slot="", more="worst of: {arrester condition: [hot, cold]}")
    text = text.replace("surges:", "alternatives: {fitted: {none: [], box: [slot]}}\nsurges:")
    cases = loads(text).all_cases
    assert [case.axes["arrester condition"] for case in cases] == [None, "hot", "cold"]
