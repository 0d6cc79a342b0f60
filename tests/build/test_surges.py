"""The surge's source: its waveform and polarity, and that it leaves the standing state alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.build import build
from surgesim.build.surges import surge_waveform
from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor
from surgesim.network.waveforms import Waveforms
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

MakeScenario = Callable[..., Scenario]
Run = Callable[..., Waveforms]
Across = Callable[..., NDArray[np.float64]]

CURRENT = "{shape: 8/20, peak: 1 kA, channel: 500 ohm, into: roof plus, returns: remote earth}"
VOLTAGE = "{shape: 1.2/50, peak: 6 kV, source impedance: 2 ohm, into: roof minus, returns: roof pe}"
INTO_EARTH = "{shape: 10/350, peak: 1 kA, into: roof pe, returns: remote earth}"


def lit_array(surge: str, *, reference: str = "{to: pe, each pole: 2 Mohm}") -> Network:
    text = f"""
surgesim: 1
title: Array
site: {{soil: 100 ohm m}}
places: {{roof: {{}}}}
earths: {{rod: {{at: roof, bar: pe, measured: 10 ohm, inductance: 0 H}}}}
supply: {{strings: {{at: roof, voltage: 874 V, Isc at STC: 55.6 A, reference: {reference}}}}}
equipment:
  modules:
    at: roof
    plus to pe:    {{withstand: 8 kV, from: guess, capacitance: 0 F, flashover: 1 MV}}
    minus to pe:   {{withstand: 8 kV, from: guess, capacitance: 0 F, flashover: 1 MV}}
surges: {{surge: {surge}}}
"""
    (case,) = loads(text).all_cases
    return build(case.scenario)


@pytest.mark.parametrize("surge", [CURRENT, VOLTAGE, INTO_EARTH])
def test_the_surge_leaves_the_standing_voltages_alone(
    surge: str, simulated: Run, across: Across
) -> None:
    """An array held by 2 Mohm from each pole stands at plus and minus half its voltage.

    A channel that passed direct current would pull the pole it enters to earth. 0.1 %: sound
    insulation conducts 1e-10 S, the array's last 0.2 ohm nothing to speak of.
    """
    network = lit_array(surge)
    waves = simulated(network)
    assert across(network, waves, "plus to pe")[0] == pytest.approx(437.0, rel=1e-3)
    assert across(network, waves, "minus to pe")[0] == pytest.approx(-437.0, rel=1e-3)


def test_an_earthed_pole_stands_at_earth(simulated: Run, across: Across) -> None:
    network = lit_array(VOLTAGE, reference="{to: pe, earthed pole: plus, through: 1 ohm}")
    waves = simulated(network)
    assert across(network, waves, "plus to pe")[0] == pytest.approx(0.0, abs=0.01)
    assert across(network, waves, "minus to pe")[0] == pytest.approx(-874.0, rel=1e-3)


def test_the_blocking_capacitor_takes_next_to_nothing(simulated: Run) -> None:
    """Of what 10/350, the longest surge, drives through its impedance in seven tails, < 0.5 %.

    R C is 1 s and 10/350 holds 1.45 ms of its peak under its curve (charge over peak).
    """
    surge = CURRENT.replace("8/20", "10/350")
    network = lit_array(surge)
    waves = simulated(network, window="tail")
    (blocking,) = [e for e in network.elements if isinstance(e, Capacitor)]
    assert blocking.name == "surge/surge/channel/blocked"
    volts = waves.across(blocking.a, blocking.b)
    whole = waves.across("roof/plus", "remote earth")
    assert np.max(np.abs(volts - volts[0])) < 0.005 * np.max(np.abs(whole))


def test_without_a_supply_nothing_needs_blocking(bench: MakeScenario) -> None:
    assert not any(isinstance(e, Capacitor) for e in build(bench()).elements)


def test_open_circuit_voltage_of_a_voltage_surge(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    """1.2/50, 6 kV behind 2 ohm: across the line's 400 ohm nearly all of it, 400/402."""
    surge = (
        "{shape: 1.2/50, peak: 6 kV, source impedance: 2 ohm, into: bench plus, returns: bench pe}"
    )
    network = build(bench(surge=surge))
    # 0.2 %: the two exponentials of the shape meet T1 and T2 exactly, their peak to that
    seen = np.max(across(network, simulated(network)))
    assert seen == pytest.approx(6e3 * 400 / 402, rel=2e-3)


def test_channel_stands_beside_the_current(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    """400 ohm of channel and 400 ohm of line share 1 kA evenly: 200 kV."""
    surge = "{shape: 8/20, peak: 1 kA, channel: 400 ohm, into: bench plus, returns: bench pe}"
    network = build(bench(surge=surge))
    assert np.max(across(network, simulated(network))) == pytest.approx(200e3, rel=2e-3)


@pytest.mark.parametrize(("returns", "share"), [("roof pe", 0.0), ("remote earth", 1.0)])
def test_the_surge_returns_where_it_is_said_to(simulated: Run, returns: str, share: float) -> None:
    """Kirchhoff: what comes back through the rod's bar does not leave through the rod.

    1 kA into a pole that an ohm joins to the bar, 500 ohm of channel beside that way. 1 %: what
    the array takes to its other pole.
    """
    surge = CURRENT.replace("remote earth", returns)
    network = lit_array(surge, reference="{to: pe, earthed pole: plus, through: 1 ohm}")
    waves = simulated(network)
    amps = waves.currents[network.earths[0].ammeter]
    through_the_pole = 500 / (500 + 1 + 10 * share)
    assert np.max(amps) == pytest.approx(1e3 * share * through_the_pole, rel=0.01, abs=1.0)


def test_polarity_turns_everything_round(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    """Nothing stands on the wires and every element is odd: the mirrored answer, exactly."""
    ahead, back = (
        build(bench(more=f"polarity: {polarity}\n")) for polarity in ("positive", "negative")
    )
    assert back.waveform.peak == -ahead.waveform.peak
    np.testing.assert_array_equal(across(back, simulated(back)), -across(ahead, simulated(ahead)))


def test_waveform_has_the_scenarios_peak(bench: MakeScenario) -> None:
    assert surge_waveform(bench()).peak == 5e3


GENERATORS = ["combination wave direct", "combination wave 12 ohm", "10/700 generator"]


@pytest.mark.parametrize("name", GENERATORS)
def test_a_generator_leaves_the_standing_voltages_alone(
    name: str, simulated: Run, across: Across
) -> None:
    """Its resistors would load the array; what couples it, or blocks it, lets none through."""
    surge = f"{{generator: {name}, peak: 2 kV, into: roof plus, returns: roof minus}}"
    network = lit_array(surge)
    waves = simulated(network)
    assert across(network, waves, "plus to pe")[0] == pytest.approx(437.0, rel=1e-3)
    assert across(network, waves, "minus to pe")[0] == pytest.approx(-437.0, rel=1e-3)


def test_a_generator_gives_its_open_voltage_to_what_draws_nothing(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    """6 kV across a line's 400 ohm, beside which the generator has 12 ohm: 400/412 of it.

    2 %: at the crest of 1.2 us the inductance and the 9 uF have their say too.
    """
    surge = "{generator: combination wave 12 ohm, peak: 6 kV, into: bench plus, returns: bench pe}"
    network = build(bench(surge=surge))
    assert not network.is_driven_by_current
    assert network.waveform.peak == 6e3
    seen = np.max(across(network, simulated(network)))
    assert seen == pytest.approx(6e3 * 400 / 412, rel=0.02)


def test_polarity_turns_a_generator_round(
    bench: MakeScenario, simulated: Run, across: Across
) -> None:
    surge = "{generator: combination wave 2 ohm, peak: 6 kV, into: bench plus, returns: bench pe}"
    ahead, back = (
        build(bench(surge=surge, more=f"polarity: {polarity}\n"))
        for polarity in ("positive", "negative")
    )
    assert ahead.generator is not None
    assert back.generator is not None
    assert back.generator.charge == -ahead.generator.charge
    assert back.generator.short_circuit.peak == -ahead.generator.short_circuit.peak
    np.testing.assert_array_equal(across(back, simulated(back)), -across(ahead, simulated(ahead)))


def test_a_generator_without_anything_on_its_way_out_stands_at_the_terminal(
    bench: MakeScenario,
) -> None:
    surge = "{generator: combination wave direct, peak: 6 kV, into: bench plus, returns: bench pe}"
    names = [element.name for element in build(bench(surge=surge)).elements]
    assert not {name for name in names if name.endswith(("/out", "/coupling"))}
