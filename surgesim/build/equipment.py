"""Equipment: capacitance and insulation across each terminal pair, and what is read there."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.parts import Parts, at, label_of
from surgesim.network.elements import AnyElement, Capacitor, Insulation
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.scenario.schema import Equipment, Pair, Scenario
from surgesim.scenario.terminals import Terminal, Terminals


def equipment(scenario: Scenario) -> Iterator[Parts]:
    """Each assessed piece of equipment."""
    present = Terminals.of(scenario).present
    for name, thing in scenario.equipment.items():
        bar = thing.bar or ("pe" if Terminal(thing.at, "pe") in present else None)
        for words, pair in thing.pairs.items():
            yield _pair(name, thing, words, pair, at(thing.at, bar) if bar else None)


def _pair(name: str, thing: Equipment, words: str, pair: Pair, bar: str | None) -> Parts:
    label, group = f"{label_of('equipment', name)}/{words}", f"equipment {name}"
    first, second = (at(thing.at, end) for end in words.split(" to ", 1))
    elements: list[AnyElement] = []
    if pair.capacitance > 0:
        elements.append(
            Capacitor(
                name=f"{label}/capacitance", a=first, b=second, group=group,
                capacitance=pair.capacitance,
            )
        )  # fmt: skip
    if pair.flashover is not None:
        elements.append(
            Insulation(name=label, a=first, b=second, level=pair.flashover, group=group)
        )
    probe = TerminalProbe(
        equipment=name, pair=words, place=thing.at, a=first, b=second, limit=limit(pair), bar=bar,
        insulation=label if pair.flashover is not None else None, flashover=pair.flashover,
    )  # fmt: skip
    return Parts(tuple(elements), terminals=(probe,))


def limit(pair: Pair) -> Limit:
    """What the pair stands, with where that comes from."""
    kind = "withstand" if pair.withstand is not None else "highest voltage"
    volts = pair.withstand if pair.withstand is not None else pair.highest_voltage
    assert volts is not None
    return Limit(kind=kind, volts=volts, origin=pair.from_, where=pair.where or "")
