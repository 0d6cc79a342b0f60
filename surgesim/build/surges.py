"""The surge: its waveform, and the source or the generator that drives it into the network."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from surgesim.build.generators import Ends, generator_elements
from surgesim.build.parts import Parts, label_of, node
from surgesim.build.soil import struck_node
from surgesim.catalogue.cards import SurgeGenerator, SurgeShape
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    Capacitor,
    CurrentSource,
    Resistor,
    VoltageSource,
)
from surgesim.physics import waveforms
from surgesim.physics.generators import (
    GeneratorFigures,
    charge_for,
    open_circuit,
    short_circuit,
)
from surgesim.physics.waveforms import Waveform
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals

BLOCKING_TIME = 1.0
"""R C in s of a surge's impedance and the capacitor in series with it, where a supply stands on
the wires. Nothing that surges through air is a path for direct current; without the capacitor a
channel would pull the pole it enters to earth before the surge has begun. Over the 2.5 ms of a
10/350 it takes a quarter of a percent of the voltage across that impedance."""


def surge_waveform(scenario: Scenario) -> Waveform:
    """The scenario's surge with its peak and polarity; a generator's is its open voltage."""
    surge = scenario.surge
    card, peak = scenario.cards[surge.card], surge.peak.value
    waveform: Waveform
    if isinstance(card, SurgeGenerator):
        waveform = open_circuit(card.generator, peak=peak)
    else:
        assert isinstance(card, SurgeShape)
        waveform = card.waveform(peak)
    return waveform if scenario.polarity == "positive" else waveforms.reversed(waveform)


def generator_figures(scenario: Scenario) -> GeneratorFigures | None:
    """What the surge's generator is charged to and drives into a short; None without one."""
    surge = scenario.surge
    card = scenario.cards[surge.card]
    if not isinstance(card, SurgeGenerator):
        return None
    sign = 1.0 if scenario.polarity == "positive" else -1.0
    short = short_circuit(card.generator, peak=surge.peak.value)
    return GeneratorFigures(
        name=surge.card,
        charge=sign * charge_for(card.generator, peak=surge.peak.value),
        short_circuit=replace(short, peak=sign * short.peak),
    )


def surge(scenario: Scenario, waveform: Waveform) -> Parts:
    """A current source with its channel beside it, a voltage behind its impedance, a generator;
    nothing for a current beside the installation."""
    drive = scenario.surge
    label, group = label_of("surge", scenario.surge_name), f"surge {scenario.surge_name}"
    if drive.strikes_ground_at is not None:
        foot = struck_node(scenario.surge_name)
        return Parts((CurrentSource(name=label, a=GROUND, b=foot, waveform=waveform, group=group),))
    if drive.ends is None:
        return Parts(())  # it flows beside the installation
    terminals = Terminals.of(scenario)
    into, returns = (node(terminals.find(end)) for end in drive.ends)
    card = scenario.cards[drive.card]
    if isinstance(card, SurgeGenerator):
        ends = Ends(label=label, into=into, returns=returns, group=group)
        blocking = BLOCKING_TIME / _impedance_of(scenario) if scenario.supply else None
        elements = generator_elements(ends, card.generator, waveform, blocking=blocking)
        return Parts(tuple(elements))
    if drive.peak.unit == "A":
        source = CurrentSource(name=label, a=returns, b=into, waveform=waveform, group=group)
        if drive.channel is None:
            return Parts((source,))
        channel = _impedance(f"{label}/channel", returns, into, drive.channel, scenario, group)
        return Parts((source, *channel))
    assert drive.source_impedance is not None
    inner = f"{label}/source"
    behind = _impedance(f"{label}/impedance", inner, into, drive.source_impedance, scenario, group)
    volts = VoltageSource(name=label, a=inner, b=returns, waveform=waveform, group=group)
    return Parts((volts, *behind))


def _impedance_of(scenario: Scenario) -> float:
    """Effective impedance of the surge's generator, open voltage over short-circuit current."""
    figures = generator_figures(scenario)
    assert figures is not None
    return scenario.surge.peak.value / abs(figures.short_circuit.peak)


def _impedance(
    name: str, a: str, b: str, ohm: float, scenario: Scenario, group: str
) -> Iterator[AnyElement]:
    """The surge's own impedance, passing no direct current where there could be any."""
    if scenario.supply or scenario.batteries:
        blocked = f"{name}/blocked"
        farad = BLOCKING_TIME / ohm
        yield Capacitor(name=blocked, a=a, b=blocked, capacitance=farad, group=group)
        a = blocked
    yield Resistor(name=name, a=a, b=b, resistance=ohm, group=group)
