"""The photovoltaic array on its two poles, and how it stands to earth."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.parts import Parts, at, label_of
from surgesim.network.elements import AnyElement, PhotovoltaicSource, Resistor
from surgesim.scenario.schema import Scenario, Supply


def supplies(scenario: Scenario) -> Iterator[Parts]:
    """Each array with the resistances that fix its potential to earth."""
    for name, supply in scenario.supply.items():
        plus, minus = at(supply.at, "plus"), at(supply.at, "minus")
        source = PhotovoltaicSource(
            name=label_of("supply", name), a=plus, b=minus, group=f"supply {name}",
            open_circuit_voltage=supply.voltage,
            short_circuit_current=supply.Isc_at_STC if supply.state == "lit" else 0.0,
            resistance=supply.resistance,
        )  # fmt: skip
        yield Parts((source, *_reference(name, supply)))


def _reference(name: str, supply: Supply) -> Iterator[AnyElement]:
    reference = supply.reference
    to = at(supply.at, reference.to)
    if reference.each_pole is not None:
        ohms = {"plus": reference.each_pole, "minus": reference.each_pole}
    else:
        assert reference.earthed_pole is not None
        assert reference.through is not None
        ohms = {reference.earthed_pole: reference.through}
    for pole, ohm in ohms.items():
        label = f"{label_of('supply', name)}/{pole} to {reference.to}"
        yield Resistor(
            name=label, a=at(supply.at, pole), b=to, resistance=ohm, group=f"supply {name}"
        )
