"""Arrays and batteries on their two poles, and how they stand to earth."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.parts import Parts, at, inductance, label_of
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    Capacitor,
    PhotovoltaicSource,
    Resistor,
    VoltageSource,
)
from surgesim.scenario.schema import Scenario
from surgesim.scenario.supply import FRAME, Battery, Supply
from surgesim.scenario.terminals import sources


def supplies(scenario: Scenario) -> Iterator[Parts]:
    """Each array and battery with the resistances that fix its potential to earth."""
    for name, supply in scenario.supply.items():
        yield Parts((*_array(name, supply), *_capacitances(name, supply)))
    for name, battery in scenario.batteries.items():
        yield Parts(tuple(_battery(name, battery)))
    yield from _ties(scenario)


def _array(name: str, supply: Supply) -> Iterator[AnyElement]:
    yield PhotovoltaicSource(
        name=label_of("supply", name), a=at(supply.at, "plus"), b=at(supply.at, "minus"),
        group=f"supply {name}", open_circuit_voltage=supply.voltage,
        short_circuit_current=supply.Isc_at_STC if supply.state == "lit" else 0.0,
        resistance=supply.resistance,
    )  # fmt: skip


def _capacitances(name: str, supply: Supply) -> Iterator[AnyElement]:
    """Cells to frames, half of it at each pole; and frames to earth.

    A string is a row of cells with its capacitance spread evenly, open to a common voltage and
    fed at both ends: seen from there it is two halves.
    """
    label, group = label_of("supply", name), f"supply {name}"
    frame = at(supply.at, FRAME)
    if supply.to_frame > 0:
        for pole in ("plus", "minus"):
            yield Capacitor(
                name=f"{label}/{pole} to {FRAME}/capacitance", a=at(supply.at, pole), b=frame,
                capacitance=supply.to_frame / 2, group=group,
            )  # fmt: skip
    if supply.frames_to_earth > 0:
        yield Capacitor(
            name=f"{label}/{FRAME} to earth/capacitance", a=frame, b=GROUND,
            capacitance=supply.frames_to_earth, group=group,
        )  # fmt: skip


def _battery(name: str, battery: Battery) -> Iterator[AnyElement]:
    """A constant voltage behind resistance and inductance."""
    label, group = label_of("battery", name), f"battery {name}"
    plus, minus = at(battery.at, "battery plus"), at(battery.at, "battery minus")
    cells, links = f"{label}/cells", f"{label}/links"
    yield VoltageSource(name=label, a=cells, b=minus, offset=battery.voltage, group=group)
    end = links if battery.inductance > 0 else plus
    yield Resistor(
        name=f"{label}/resistance", a=cells, b=end, resistance=battery.resistance, group=group
    )
    if battery.inductance > 0:
        yield from inductance(f"{label}/inductance", links, plus, battery.inductance, group)


def _ties(scenario: Scenario) -> Iterator[Parts]:
    """The resistances between poles and what is earthed: references, and faults."""
    named = {id(thing): ("supply", name) for name, thing in scenario.supply.items()}
    named |= {id(thing): ("battery", name) for name, thing in scenario.batteries.items()}
    for thing, (plus, minus) in sources(scenario):
        kind, name = named[id(thing)]
        label, group = label_of(kind, name), f"{kind} {name}"
        conductor = {"plus": plus, "minus": minus}
        reference, fault = thing.reference, thing.earth_fault
        place, to = reference.at or thing.at, reference.to
        for pole, ohm in reference.poles.items():
            yield _tie(f"{label}/{conductor[pole]} to {to}", place, conductor[pole], to, ohm, group)
        if fault is not None:
            place, wire = fault.at or thing.at, conductor[fault.pole]
            yield _tie(
                f"{label}/earth fault, {wire} to {fault.to}",
                place, wire, fault.to, fault.through, group,
            )  # fmt: skip


def _tie(name: str, place: str, wire: str, to: str, ohm: float, group: str) -> Parts:
    resistor = Resistor(name=name, a=at(place, wire), b=at(place, to), resistance=ohm, group=group)
    return Parts((resistor,))
