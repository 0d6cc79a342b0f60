"""What must hold between the parts of a scenario, beyond the form of each.

Each check yields complaints: the path of the value, the message, a hint. All of them run, so
that a file's problems are told in one go.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from surgesim.catalogue.cards import (
    Cable as CableCard,
)
from surgesim.catalogue.cards import (
    SurgeShape,
    TextbookLimiter,
    TextbookLine,
    VaristorArrester,
)
from surgesim.reading.names import collisions, did_you_mean
from surgesim.reading.quantities import LENGTH, format_quantity
from surgesim.scenario.schema import REMOTE_EARTH, Cable, Scenario
from surgesim.scenario.terminals import (
    CONDUCTORS,
    LIVE,
    Terminal,
    Terminals,
    UnknownTerminal,
    carried,
)

Complaint = tuple[tuple[str, ...], str, str]
Check = Callable[[Scenario], Iterator[Complaint]]


def complaints(scenario: Scenario) -> Iterator[Complaint]:
    """Everything wrong between the parts of ``scenario``."""
    for check in CHECKS:
        yield from check(scenario)


def _names(scenario: Scenario) -> Iterator[Complaint]:
    for section in ("places", "cables", "earths", "bonds", "arresters", "equipment", "surges"):
        for first, second in collisions(getattr(scenario, section)):
            yield (section, second), f"differs from {first!r} only in lettering", "rename one"
    for name, place in scenario.places.items():
        if name == REMOTE_EARTH:
            yield ("places", name), "is what earth far away is called", "rename the place"
        for bar in place.bars:
            if bar in CONDUCTORS:
                words = f"bar {bar!r} has a conductor's name"
                yield ("places", name, "bars"), words, "a conductor need not be declared"
        for first, second in collisions(place.bars):
            yield ("places", name, "bars"), f"bars {first!r} and {second!r} are the same name", ""


def _places_exist(scenario: Scenario) -> Iterator[Complaint]:
    for section, keys in (
        ("cables", ("from_", "to")),
        ("earths", ("at",)),
        ("supply", ("at",)),
        ("arresters", ("at",)),
        ("equipment", ("at",)),
    ):
        for name, thing in getattr(scenario, section).items():
            for key in keys:
                place = getattr(thing, key)
                if place not in scenario.places:
                    hint = did_you_mean(place, scenario.places)
                    yield (section, name, key.rstrip("_")), f"no place {place!r}", hint


def _cables(scenario: Scenario) -> Iterator[Complaint]:
    for name, cable in scenario.cables.items():
        here = ("cables", name)
        if cable.from_ == cable.to:
            yield (*here, "to"), "joins a place to itself", "name two places"
        distance = _distance(scenario, cable)
        if cable.length < 0.999 * distance:
            words = f"is shorter than the {distance:.1f} m between its places"
            yield (*here, "length"), words, "check the length or the positions"
        card = scenario.cards.get(cable.type)
        if not isinstance(card, CableCard | TextbookLine):
            continue
        for core in cable.carries or ():
            if core not in card.cores:
                words = f"{cable.type!r} has no core {core!r}"
                yield (*here, "carries"), words, f"it has: {', '.join(card.cores)}"
        yield from _laying(scenario, name, cable, isinstance(card, TextbookLine))


def _distance(scenario: Scenario, cable: Cable) -> float:
    """Distance between a cable's places as far as it is known, m; 0 when it is not."""
    ends = [scenario.places.get(cable.from_), scenario.places.get(cable.to)]
    if any(place is None or place.x is None or place.y is None for place in ends):
        return 0.0
    a, b = ends
    assert a is not None and b is not None
    rise = (a.height or 0.0) - (b.height or 0.0)
    return math.hypot((a.x or 0) - (b.x or 0), (a.y or 0) - (b.y or 0), rise)


def _laying(scenario: Scenario, name: str, cable: Cable, textbook: bool) -> Iterator[Complaint]:
    here = ("cables", name)
    if textbook:
        if cable.laying or cable.laid_with or cable.count != 1:
            yield here, "a textbook line has no 'laying', 'laid with' or 'count'", ""
        return
    if (cable.laying is None) == (cable.laid_with is None):
        hint = "for example 'laying: plastic duct 0.7 m deep' or 'laid with: field run'"
        yield here, "needs either 'laying' or 'laid with'", hint
    if cable.laying is None and cable.laid_with is not None:
        yield from _companion(scenario, name, cable, cable.laid_with)


def _companion(scenario: Scenario, name: str, cable: Cable, other: str) -> Iterator[Complaint]:
    here = ("cables", name, "laid with")
    host = scenario.cables.get(other)
    if host is None or other == name:
        options = [option for option in scenario.cables if option != name]
        yield here, f"no other cable {other!r}", did_you_mean(other, options)
    elif host.laying is None:
        yield here, f"{other!r} has no 'laying' of its own", "name the cable that has it"
    elif {host.from_, host.to} != {cable.from_, cable.to}:
        yield here, f"{other!r} does not join the same two places", ""
    elif host.length != cable.length:
        length = format_quantity(host.length, LENGTH)
        yield here, f"{other!r} is {length} long, this is not", "give both the same length"


def _earths(scenario: Scenario) -> Iterator[Complaint]:
    seen: dict[tuple[str, str], str] = {}
    for name, earth in scenario.earths.items():
        place = scenario.places.get(earth.at)
        if place is not None and earth.bar not in (*CONDUCTORS, *place.bars):
            hint = did_you_mean(earth.bar, ("pe", *place.bars))
            yield ("earths", name, "bar"), f"{earth.at!r} has no {earth.bar!r}", hint
        first = seen.setdefault((earth.at, earth.bar), name)
        if first != name:
            words = f"the {earth.bar!r} of {earth.at!r} has an electrode already, {first!r}"
            yield ("earths", name), words, "describe both together, or give each its own bar"
        if earth.rod is not None and earth.rod.diameter >= earth.rod.length:
            yield ("earths", name, "rod"), "is thicker than long", ""


def _bonds(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    for name, bond in scenario.bonds.items():
        ends = []
        for key, text in (("from", bond.from_), ("to", bond.to)):
            try:
                ends.append(terminals.find(text))
            except UnknownTerminal as error:
                yield ("bonds", name, key), str(error), error.hint
        if len(ends) == 2 and ends[0] == ends[1]:
            yield ("bonds", name, "to"), "joins a terminal to itself", "name two terminals"
        if any(end.is_remote_earth for end in ends):
            yield ("bonds", name), "ends on remote earth", "describe an electrode under 'earths'"
        card = scenario.cards.get(bond.type)
        if isinstance(card, CableCard) and len(card.cores) != 1:
            yield ("bonds", name, "type"), f"{bond.type!r} has more than one core", ""


def _supply(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    places: dict[str, str] = {}
    for name, supply in scenario.supply.items():
        first = places.setdefault(supply.at, name)
        if first != name:
            yield ("supply", name, "at"), f"{supply.at!r} has a supply already, {first!r}", ""
        if supply.at not in scenario.places:
            continue
        try:
            terminal = terminals.at(supply.at, supply.reference.to)
        except UnknownTerminal as error:
            yield ("supply", name, "reference", "to"), str(error), error.hint
            continue
        if terminal.name in LIVE:
            words = "is a live conductor; expected what stands to earth, such as 'frame' or 'pe'"
            yield ("supply", name, "reference", "to"), words, ""


def _arresters(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    through: dict[Terminal, str] = {}
    for name, slot in scenario.arresters.items():
        here = ("arresters", name)
        if slot.at not in scenario.places:
            continue
        for words in slot.across:
            try:
                first, second = terminals.pair(slot.at, words)
            except UnknownTerminal as error:
                yield (*here, "across"), str(error), error.hint
                continue
            if first == second:
                yield (*here, "across"), f"{words!r} is one terminal", "name two terminals"
            if first.name not in LIVE:
                yield (*here, "across"), f"{words!r} does not begin at a live conductor", ""
            if second.name not in LIVE and slot.leads.earth is None:
                yield (*here, "leads"), "has no 'earth'", "for example 'earth: 0.5 m to pe'"
            if slot.wiring == "V":
                owner = through.setdefault(first, name)
                if owner != name:
                    words = f"{first} runs through the terminals of {owner!r} already"
                    yield (*here, "wiring"), words, "wire one of the two as a tee"
        if len(set(slot.across)) != len(slot.across):
            yield (*here, "across"), "names a pair twice", ""
        yield from _earth_lead(terminals, name, scenario)


def _earth_lead(terminals: Terminals, name: str, scenario: Scenario) -> Iterator[Complaint]:
    slot = scenario.arresters[name]
    if slot.leads.earth is None:
        return
    here = ("arresters", name, "leads", "earth")
    if all(words.partition(" to ")[2] in LIVE for words in slot.across):
        yield here, "no pair of this arrester goes to earth", "leave it out"
    try:
        landing = terminals.at(slot.at, slot.leads.earth.to)
    except UnknownTerminal as error:
        yield here, str(error), error.hint
        return
    if landing.name in LIVE:
        yield here, f"lands on the live conductor {landing.name!r}", "name a bar, such as 'pe'"


def _equipment(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    for name, thing in scenario.equipment.items():
        if thing.at not in scenario.places:
            continue
        for words in thing.pairs:
            try:
                first, second = terminals.pair(thing.at, words)
            except UnknownTerminal as error:
                yield ("equipment", name, words), str(error), error.hint
                continue
            if first == second:
                yield ("equipment", name, words), "is one terminal", "name two terminals"
        if thing.bar is not None:
            try:
                terminals.at(thing.at, thing.bar)
            except UnknownTerminal as error:
                yield ("equipment", name, "bar"), str(error), error.hint


def _surges(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    for name, surge in scenario.surges.items():
        ends = []
        for key in ("into", "returns"):
            try:
                ends.append(terminals.find(getattr(surge, key)))
            except UnknownTerminal as error:
                yield ("surges", name, key), str(error), error.hint
        if len(ends) == 2 and ends[0] == ends[1]:
            yield ("surges", name, "returns"), "is where the surge enters", "name another terminal"
        live = [end for end in ends if end.name in LIVE]
        if live and surge.peak.unit == "A" and surge.channel is None:
            words = f"a current into the live conductor {live[0]} needs 'channel'"
            yield ("surges", name), words, "for example 'channel: 1000 ohm'"


def _cards(scenario: Scenario) -> Iterator[Complaint]:
    uses: tuple[tuple[str, str, tuple[type, ...], str], ...] = (
        ("cables", "type", (CableCard, TextbookLine), "a cable"),
        ("bonds", "type", (CableCard,), "a cable"),
        ("arresters", "card", (VaristorArrester, TextbookLimiter), "an arrester"),
        ("surges", "shape", (SurgeShape,), "a surge shape"),
    )
    for section, key, kinds, words in uses:
        for name, thing in getattr(scenario, section).items():
            card = scenario.cards.get(getattr(thing, key))
            if card is not None and not isinstance(card, kinds):
                known = [n for n, c in scenario.cards.items() if isinstance(c, kinds)]
                message = f"card {getattr(thing, key)!r} is a {card.kind}, not {words}"
                yield (section, name, key), message, did_you_mean("", known)


def _path_to_earth(scenario: Scenario) -> Iterator[Complaint]:
    terminals = Terminals.of(scenario)
    joined = _Joined()
    for first, second in _galvanic(scenario, terminals):
        joined.join(str(first), str(second))
    floating = [t for t in terminals.present if not joined.same(str(t), REMOTE_EARTH)]
    for place in sorted({t.place for t in floating}):
        if place not in scenario.places:
            continue
        names = ", ".join(sorted(t.name for t in floating if t.place == place))
        hint = "give it an electrode, a bond, a cable or a supply with its reference"
        yield ("places", place), f"no path to earth from {names}", hint


def _galvanic(scenario: Scenario, terminals: Terminals) -> Iterator[tuple[Terminal, Terminal]]:
    """Pairs of terminals that conduct at direct current."""
    remote = Terminal("", REMOTE_EARTH)
    for cable in scenario.cables.values():
        for core in carried(cable, scenario):
            yield Terminal(cable.from_, core), Terminal(cable.to, core)
    for earth in scenario.earths.values():
        yield Terminal(earth.at, earth.bar), remote
    for supply in scenario.supply.values():
        yield Terminal(supply.at, "plus"), Terminal(supply.at, "minus")
        yield Terminal(supply.at, "plus"), Terminal(supply.at, supply.reference.to)
    for surge in scenario.surges.values():
        if surge.channel is not None or surge.source_impedance is not None:
            yield from _found(terminals, surge.into, surge.returns)
    for bond in scenario.bonds.values():
        yield from _found(terminals, bond.from_, bond.to)


def _found(terminals: Terminals, a: str, b: str) -> Iterator[tuple[Terminal, Terminal]]:
    try:
        yield terminals.find(a), terminals.find(b)
    except UnknownTerminal:
        return  # reported where bonds and surges are checked


class _Joined:
    """Which terminals hang together (union of sets)."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def _root(self, item: str) -> str:
        while (parent := self._parent.setdefault(item, item)) != item:
            item = parent
        return item

    def join(self, a: str, b: str) -> None:
        self._parent[self._root(a)] = self._root(b)

    def same(self, a: str, b: str) -> bool:
        return self._root(a) == self._root(b)


CHECKS: tuple[Check, ...] = (
    _names, _places_exist, _cards, _cables, _earths, _bonds, _supply, _arresters, _equipment,
    _surges, _path_to_earth,
)  # fmt: skip
