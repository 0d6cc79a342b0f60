"""The surge: its waveform, and the source that drives it into the network."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.parts import Parts, label_of, node
from surgesim.catalogue.cards import SurgeShape
from surgesim.network.elements import (
    AnyElement,
    Capacitor,
    CurrentSource,
    Resistor,
    VoltageSource,
)
from surgesim.physics import waveforms
from surgesim.physics.waveforms import Waveform
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals

BLOCKING_TIME = 1.0
"""R C in s of a surge's impedance and the capacitor in series with it, where a supply stands on
the wires. Nothing that surges through air is a path for direct current; without the capacitor a
channel would pull the pole it enters to earth before the surge has begun. Over the 2.5 ms of a
10/350 it takes a quarter of a percent of the voltage across that impedance."""


def surge_waveform(scenario: Scenario) -> Waveform:
    """The scenario's surge with its peak and polarity."""
    surge = scenario.surge
    shape = scenario.cards[surge.shape]
    assert isinstance(shape, SurgeShape)
    waveform = shape.waveform(surge.peak.value)
    return waveform if scenario.polarity == "positive" else waveforms.reversed(waveform)


def surge(scenario: Scenario, waveform: Waveform) -> Parts:
    """A current source with its channel beside it, or a voltage behind its impedance."""
    drive = scenario.surge
    label, group = label_of("surge", scenario.surge_name), f"surge {scenario.surge_name}"
    terminals = Terminals.of(scenario)
    into, returns = node(terminals.find(drive.into)), node(terminals.find(drive.returns))
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


def _impedance(
    name: str, a: str, b: str, ohm: float, scenario: Scenario, group: str
) -> Iterator[AnyElement]:
    """The surge's own impedance, passing no direct current where there could be any."""
    if scenario.supply:
        blocked = f"{name}/blocked"
        farad = BLOCKING_TIME / ohm
        yield Capacitor(name=blocked, a=a, b=blocked, capacitance=farad, group=group)
        a = blocked
    yield Resistor(name=name, a=a, b=b, resistance=ohm, group=group)
