"""Equipment: capacitance and insulation across each terminal pair, and what is read there."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.arresters import cable_sides, equipment_sides
from surgesim.build.parts import Parts, at, inductance, label_of
from surgesim.network.elements import AnyElement, Capacitor, Insulation, Resistor
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.scenario.equipment import Join, Pair
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminal, Terminals

Ends = tuple[str, str]


def equipment(scenario: Scenario) -> Iterator[Parts]:
    """Each assessed piece of equipment, and what any joins inside."""
    present = Terminals.of(scenario).present
    sides, beyond = cable_sides(scenario), equipment_sides(scenario)
    for name, thing in scenario.equipment.items():
        bar = thing.bar or ("pe" if Terminal(thing.at, "pe") in present else None)
        level = scenario.insulation_level or "nominal"
        for words, pair in thing.pairs.items():
            first, second = (at(thing.at, end) for end in words.split(" to ", 1))
            moved = beyond if thing.end_of is None else sides
            first, second = moved.get(first, first), moved.get(second, second)
            fires = None if pair.flashover is None else pair.flashover.at(level)
            node = at(thing.at, bar) if bar else None
            yield _pair(name, thing.at, words, pair, (first, second), fires=fires, bar=node)
        for words, join in thing.joins.items():
            ends = (at(thing.at, end) for end in words.split(" to ", 1))
            first, second = (beyond.get(end, end) for end in ends)
            yield Parts(tuple(_join(name, words, join, (first, second))))


def _pair(
    name: str, place: str, words: str, pair: Pair, ends: Ends, *, fires: float | None,
    bar: str | None,
) -> Parts:  # fmt: skip
    """One terminal pair between its ``ends``, whose insulation ``fires`` at so many volt."""
    label, group = f"{label_of('equipment', name)}/{words}", f"equipment {name}"
    first, second = ends
    elements: list[AnyElement] = []
    if pair.capacitance > 0:
        elements.append(
            Capacitor(
                name=f"{label}/capacitance", a=first, b=second, group=group,
                capacitance=pair.capacitance,
            )
        )  # fmt: skip
    if fires is not None:
        elements.append(
            Insulation(
                name=label, a=first, b=second, level=fires, group=group,
                arc_voltage=pair.arc_voltage or 0.0,
            )
        )  # fmt: skip
    probe = TerminalProbe(
        equipment=name, pair=words, place=place, a=first, b=second, limit=limit(pair), bar=bar,
        insulation=label if fires is not None else None, flashover=fires,
    )  # fmt: skip
    return Parts(tuple(elements), terminals=(probe,))


def _join(name: str, words: str, join: Join, ends: Ends) -> Iterator[AnyElement]:
    """What equipment joins inside: a resistance, with its inductance if it has any."""
    label, group = f"{label_of('equipment', name)}/joins {words}", f"equipment {name}"
    first, second = ends
    middle = f"{label}/middle" if join.inductance > 0 else second
    yield Resistor(name=label, a=first, b=middle, resistance=join.resistance, group=group)
    if join.inductance > 0:
        yield from inductance(f"{label}/inductance", middle, second, join.inductance, group)


def limit(pair: Pair) -> Limit:
    """What the pair stands, with where that comes from."""
    kind = "withstand" if pair.withstand is not None else "highest voltage"
    volts = pair.withstand if pair.withstand is not None else pair.highest_voltage
    assert volts is not None
    return Limit(kind=kind, volts=volts, origin=pair.from_, where=pair.where or "")
