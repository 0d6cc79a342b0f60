"""Earths, bonds, supply and equipment, each as its elements."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.build import build
from surgesim.build.earths import bonds, earths
from surgesim.build.equipment import equipment
from surgesim.build.modelled import modelled
from surgesim.errors import InputError
from surgesim.network.elements import (
    Ammeter,
    Capacitor,
    Inductor,
    Insulation,
    PhotovoltaicSource,
    Resistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

MakeScenario = Callable[..., Scenario]
Run = Callable[..., Waveforms]
Across = Callable[..., NDArray[np.float64]]

ROOF = """
surgesim: 1
title: Roof
site: {soil: 100 ohm m}
places: {roof: {bars: [box bar]}}
earths:
  rod: EARTH
bonds:
  strap: {from: roof frame, to: roof pe, length: 2 m, type: copper 16 mm2}
  tail:  {from: roof box bar, to: roof pe, length: 0.5 m, type: copper 6 mm2}
supply:
  strings:
    at: roof
    voltage: 600 V
    Isc at STC: 10 A
    reference: {to: frame, each pole: 1 Mohm}
    state: lit
equipment:
  modules:
    at: roof
    plus to frame:  {withstand: 8 kV, from: guess, capacitance: 100 nF, flashover: 10 kV}
    minus to frame: {withstand: 8 kV, from: certificate, where: report 7, capacitance: 0 F}
    plus to minus:  {highest voltage: 1 kV, from: guess, capacitance: 1 uF}
  monitor: {at: roof, not assessed: nobody knows}
surges: {surge: {shape: 10/350, peak: 1 kA, into: roof frame, returns: remote earth}}
"""
FRONT = 32e3
"""Hz, of 10/350."""

MEASURED = "{at: roof, bar: pe, measured: 38 ohm, inductance: 2 uH}"


def roof(earth: str = MEASURED, *, state: str = "lit") -> Scenario:
    text = ROOF.replace("EARTH", earth).replace("state: lit", f"state: {state}")
    (case,) = loads(text).all_cases
    return case.scenario


# --- earths and bonds ------------------------------------------------------------------------


def test_an_electrode_is_its_resistance_behind_its_inductance() -> None:
    (parts,) = earths(roof(), FRONT)
    meter, inductor, damping, resistor = parts.elements
    assert isinstance(meter, Ammeter)
    assert isinstance(inductor, Inductor)
    assert isinstance(damping, Resistor)
    assert isinstance(resistor, Resistor)
    assert (inductor.inductance, resistor.resistance) == (2e-6, 38.0)
    assert (meter.a, resistor.b) == ("roof/pe", "remote earth")
    assert damping.resistance == pytest.approx(2e-6 / 1e-9)
    (probe,) = parts.earths
    assert (probe.name, probe.node, probe.ammeter) == ("rod", "roof/pe", meter.name)


def test_an_electrode_is_on_the_bar_it_is_said_to_be_on() -> None:
    (parts,) = earths(roof(MEASURED.replace("bar: pe", "bar: box bar")), FRONT)
    meter, *_ = parts.elements
    assert isinstance(meter, Ammeter)
    assert meter.a == "roof/box bar"
    assert parts.earths[0].node == "roof/box bar"


def test_an_electrode_without_inductance_has_no_inductor() -> None:
    (parts,) = earths(roof("{at: roof, bar: pe, measured: 38 ohm, inductance: 0 H}"), FRONT)
    assert [type(e) for e in parts.elements] == [Ammeter, Resistor]


def test_a_rod_in_the_sites_soil() -> None:
    """10 ft by 3/4 in, 100 ohm m: 32 ohm.

    MIL-HDBK-419A Vol II, 1.2.2.2, worked example, prints 32 ohm; the formula gives 32.14 ohm.
    0.1 %: lengths of the example rounded to the millimetre.
    """
    rod = "{at: roof, bar: pe, rod: {length: 3048 mm, diameter: 19.05 mm}, inductance: 0 H}"
    (parts,) = earths(roof(rod), FRONT)
    (probe,) = parts.earths
    assert probe.resistance == pytest.approx(32.14, rel=1e-3)


def test_bonds_are_straight_wires() -> None:
    """0.5 m of 6 mm2: 0.5584 uH, L = mu0 l / 2 pi (ln(2 l/r) - 1), Rosa 1908; computed."""
    strap, tail = bonds(roof(), FRONT)
    (wire,) = [e for e in tail.elements if isinstance(e, Inductor)]
    assert wire.inductance == pytest.approx(0.5584e-6, rel=1e-3)
    assert wire.a == "roof/box bar"
    *_, metal = strap.elements
    assert isinstance(metal, Resistor)
    assert metal.b == "roof/pe"
    # 2 m of 16 mm2 copper at 1.08 mohm/m (17.24 nohm m over 16 mm2)
    assert metal.resistance == pytest.approx(2 * 17.24e-9 / 16e-6, rel=0.1)


@pytest.mark.parametrize("length", ["1 mm", "3 mm"])
def test_a_bond_shorter_than_it_is_thick_is_refused_by_its_path(length: str) -> None:
    """The inductance of a straight wire goes through zero there."""
    scenario = roof()
    short = scenario.bonds["strap"].model_copy(update={"length": float(length[0]) * 1e-3})
    shorter = scenario.model_copy(update={"bonds": {"strap": short}})
    with pytest.raises(InputError, match=f"{length} of a conductor 4.5 mm thick") as error:
        build(shorter)
    assert error.value.path == "bonds.strap.length"


# --- supply ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("state", "amps", "standing"), [("lit", 10.0, 300.0), ("dark", 0.0, 0.0)])
def test_the_array_lit_and_dark(
    state: str, amps: float, standing: float, simulated: Run, across: Across
) -> None:
    network = build(roof(state=state))
    (source,) = [e for e in network.elements if isinstance(e, PhotovoltaicSource)]
    assert source.short_circuit_current == amps
    waves = simulated(network)
    found = [across(network, waves, f"{pole} to frame")[0] for pole in ("plus", "minus")]
    # 0.1 %: sound insulation conducts 1e-10 S beside the 1 Mohm of each pole
    assert found == pytest.approx([standing, -standing], rel=1e-3, abs=1e-3)


# --- equipment -------------------------------------------------------------------------------


def test_each_pair_is_capacitance_and_insulation() -> None:
    plus, minus, between = equipment(roof())
    assert [type(e) for e in plus.elements] == [Capacitor, Insulation]
    assert [type(e) for e in minus.elements] == [Insulation]
    assert [type(e) for e in between.elements] == [Capacitor]
    (insulation,) = minus.elements
    assert isinstance(insulation, Insulation)
    # twice its withstand where no level is given: a named assumption of the scenario
    assert insulation.level == 16e3


def test_probes_carry_the_limit_and_the_local_bar() -> None:
    plus, minus, between = (part.terminals[0] for part in equipment(roof()))
    assert (plus.limit.kind, plus.limit.volts, plus.limit.origin) == ("withstand", 8e3, "guess")
    assert (minus.limit.origin, minus.limit.where) == ("certificate", "report 7")
    assert (between.limit.kind, between.limit.volts) == ("highest voltage", 1e3)
    assert between.insulation is None
    # 'bar' is left out: the place's pe serves
    assert {plus.bar, minus.bar, between.bar} == {"roof/pe"}


def test_what_is_not_assessed_brings_nothing() -> None:
    assert not any("monitor" in e.name for e in build(roof()).elements)


# --- what is taken for granted -----------------------------------------------------------------


def test_what_the_builders_assume_is_said(bench: MakeScenario, limiter: str) -> None:
    assert any("soil does not ionise" in words for words in modelled(roof()))
    assert not any("direct current" in words for words in modelled(roof()))
    wired = bench(arrester=limiter.replace("card:", "wiring: V, card:"))
    assert any(words.startswith("halves of a V coupled by 0.15 uH/m") for words in wired.assumed)
