"""Which terminals each place of a scenario has, and finding one by the words for it."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import Conductor, TextbookLine
from surgesim.reading.names import did_you_mean
from surgesim.scenario.schema import REMOTE_EARTH, Cable, Scenario

CONDUCTORS: tuple[str, ...] = typing.get_args(Conductor)
POLES = ("plus", "minus")
LIVE = ("plus", "minus", "l1", "l2", "l3", "n", "data a", "data b")


class UnknownTerminal(ValueError):
    """The words name no terminal. ``hint`` says what there is."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


@dataclass(frozen=True, slots=True)
class Terminal:
    """A conductor's end or a bar at a place; or remote earth, which has no place."""

    place: str
    name: str

    @property
    def is_remote_earth(self) -> bool:
        return not self.place

    def __str__(self) -> str:
        return f"{self.place} {self.name}" if self.place else REMOTE_EARTH


def carried(cable: Cable, scenario: Scenario) -> tuple[str, ...]:
    """The conductors of a cable that count, in the order of its cores."""
    card = scenario.cards.get(cable.type)
    if not isinstance(card, CableCard | TextbookLine):
        return ()
    return tuple(core for core in card.cores if cable.carries is None or core in cable.carries)


def split_reference(text: str, scenario: Scenario) -> Terminal:
    """``"array frame"`` to its place and terminal, whether or not the place has such a one."""
    if text == REMOTE_EARTH:
        return Terminal("", REMOTE_EARTH)
    found = [
        Terminal(place, text.removeprefix(place + " "))
        for place in scenario.places
        if text.startswith(place + " ")
    ]
    named = [t for t in found if t.name in (*CONDUCTORS, *scenario.places[t.place].bars)]
    if len(named) == 1:
        return named[0]
    if len(named) > 1:
        both = " or ".join(f"{t.name!r} at {t.place!r}" for t in named)
        raise UnknownTerminal(f"{text!r} can mean {both}", "rename one of the places")
    if found:
        place, name = found[0].place, found[0].name
        known = (*CONDUCTORS, *scenario.places[place].bars)
        raise UnknownTerminal(f"{place!r} has no {name!r}", did_you_mean(name, known))
    every = [f"{place} pe" for place in scenario.places]
    raise UnknownTerminal(
        f"{text!r} names no terminal; expected a place and a conductor or bar, or {REMOTE_EARTH!r}",
        did_you_mean(text, every),
    )


def _made(scenario: Scenario) -> Iterator[Terminal]:
    """Every terminal that something brings to a place: a wire, a bar, an electrode, a pole."""
    for name, place in scenario.places.items():
        yield from (Terminal(name, bar) for bar in place.bars)
    for cable in scenario.cables.values():
        for conductor in carried(cable, scenario):
            yield Terminal(cable.from_, conductor)
            yield Terminal(cable.to, conductor)
    for earth in scenario.earths.values():
        if earth.bar in CONDUCTORS:
            yield Terminal(earth.at, earth.bar)
    for supply in scenario.supply.values():
        yield from (Terminal(supply.at, pole) for pole in POLES)
    for bond in scenario.bonds.values():
        for end in (bond.from_, bond.to):
            try:
                yield split_reference(end, scenario)
            except UnknownTerminal:
                continue  # reported where bonds are checked


@dataclass(frozen=True, slots=True)
class Terminals:
    """The terminals of a scenario, by place."""

    scenario: Scenario
    present: frozenset[Terminal]

    @classmethod
    def of(cls, scenario: Scenario) -> Terminals:
        return cls(scenario, frozenset(_made(scenario)))

    def at(self, place: str, name: str) -> Terminal:
        """The terminal ``name`` at ``place``. Raises UnknownTerminal saying what is there."""
        terminal = Terminal(place, name)
        if terminal not in self.present:
            there = sorted(t.name for t in self.present if t.place == place)
            raise UnknownTerminal(f"{place!r} has no {name!r}", did_you_mean(name, there))
        return terminal

    def find(self, text: str) -> Terminal:
        """The terminal that ``"array frame"`` or ``"remote earth"`` means."""
        terminal = split_reference(text, self.scenario)
        return terminal if terminal.is_remote_earth else self.at(terminal.place, terminal.name)

    def pair(self, place: str, words: str) -> tuple[Terminal, Terminal]:
        """The two terminals of ``"plus to pe"`` at ``place``."""
        first, separator, second = words.partition(" to ")
        if not separator:
            raise UnknownTerminal(f"{words!r} is no pair", "expected for example 'plus to pe'")
        return self.at(place, first), self.at(place, second)
