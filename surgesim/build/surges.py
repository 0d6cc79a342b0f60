"""The surge: its waveform, and the source that drives it into the network."""

from __future__ import annotations

from surgesim.build.parts import Parts, node
from surgesim.catalogue.cards import SurgeShape
from surgesim.network.elements import AnyElement, CurrentSource, Resistor, VoltageSource
from surgesim.physics import waveforms
from surgesim.physics.waveforms import Waveform
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals


def surge_waveform(scenario: Scenario) -> Waveform:
    """The scenario's surge with its peak and polarity."""
    surge = scenario.surge
    shape = scenario.cards[surge.shape]
    assert isinstance(shape, SurgeShape)
    waveform = shape.waveform(surge.peak.value)
    return waveform if scenario.polarity == "positive" else waveforms.reversed(waveform)


def surge(scenario: Scenario, waveform: Waveform) -> Parts:
    """A current source with its channel beside it, or a voltage behind its impedance."""
    name, drive = scenario.surge_name, scenario.surge
    terminals = Terminals.of(scenario)
    into, returns = node(terminals.find(drive.into)), node(terminals.find(drive.returns))
    group = f"surge {name}"
    elements: list[AnyElement] = []
    if drive.peak.unit == "A":
        elements.append(CurrentSource(name=name, a=returns, b=into, waveform=waveform, group=group))
        if drive.channel is not None:
            elements.append(
                Resistor(
                    name=f"{name}/channel", a=into, b=returns, resistance=drive.channel, group=group
                )
            )
    else:
        assert drive.source_impedance is not None
        inner = f"{name}/source"
        elements += [
            VoltageSource(name=name, a=inner, b=returns, waveform=waveform, group=group),
            Resistor(
                name=f"{name}/impedance", a=inner, b=into, resistance=drive.source_impedance,
                group=group,
            ),
        ]  # fmt: skip
    return Parts(tuple(elements))
