"""Which terminals each place of a scenario has, and finding one by the words for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import Enclosure, TextbookLine
from surgesim.reading.names import did_you_mean, known_names, nearest
from surgesim.reading.tree import shorten
from surgesim.scenario.equipment import MOTOR_PHASES
from surgesim.scenario.laying import Laying
from surgesim.scenario.references import CONDUCTORS, place_meant
from surgesim.scenario.schema import REMOTE_EARTH, Cable, Scenario
from surgesim.scenario.supply import ARRAY_POLES, BATTERY_POLES, Battery, Supply

__all__ = ["CONDUCTORS", "LIVE", "Terminal", "Terminals", "UnknownTerminal", "brought", "carried",
           "cores_of",
           "ends_of", "split_reference"]  # fmt: skip

LIVE = (
    *ARRAY_POLES, *BATTERY_POLES, "l1", "l2", "l3", "n", *MOTOR_PHASES, "data a", "data b",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Terminal:
    """A conductor's end or a bar at a place; or remote earth, which has no place."""

    place: str
    name: str

    @property
    def is_remote_earth(self) -> bool:
        """Whether it is earth far from every electrode."""
        return not self.place

    def __str__(self) -> str:
        return f"{self.place} {self.name}" if self.place else REMOTE_EARTH


class UnknownTerminal(ValueError):
    """The words name no terminal. ``hint`` says what there is.

    ``absent`` is the terminal meant, where the words are plain but nothing brings it there.
    Not ``certain`` when it may well be there, had another part of the scenario a name that is
    known; that part is then what is wrong.
    """

    def __init__(
        self, message: str, *, hint: str = "", absent: Terminal | None = None, certain: bool = True
    ) -> None:
        super().__init__(message)
        self.hint, self.absent, self.certain = hint, absent, certain


def carried(cable: Cable, scenario: Scenario) -> tuple[str, ...]:
    """The conductors of a cable that count, in the order of its cores."""
    return tuple(
        core for core in cores_of(cable, scenario) if cable.carries is None or core in cable.carries
    )


def cores_of(cable: Cable, scenario: Scenario) -> tuple[str, ...]:
    """Every conductor of a cable's card, its screen last."""
    card = scenario.cards.get(cable.type)
    if not isinstance(card, CableCard | TextbookLine):
        return ()
    screened = isinstance(card, CableCard) and card.screen is not None
    return (*card.cores, *(("screen",) if screened else ()))


def brought(cable: Cable, scenario: Scenario) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The conductors that a cable brings to its ``from`` and to its ``to``.

    Those it carries, and the metal that it lies in there. Metal that is bonded all along to
    another cable has no ends of its own.
    """
    cores = carried(cable, scenario)
    if cable.metal_bonded is not None:
        cores = tuple(core for core in cores if core != "screen")
        return cores, cores
    ends = (cable.laying[0], cable.laying[-1]) if cable.laying else (None, None)
    near, far = (_metal(laying, scenario) for laying in ends)
    return (*cores, *near), (*cores, *far)


def _metal(laying: Laying | None, scenario: Scenario) -> tuple[str, ...]:
    card = scenario.cards.get(laying.card) if laying and laying.card else None
    return (card.conductor,) if isinstance(card, Enclosure) else ()


def split_reference(text: str, scenario: Scenario) -> Terminal:
    """``"array frame"`` to its place and terminal, whether or not the place has such a one."""
    if text == REMOTE_EARTH:
        return Terminal("", REMOTE_EARTH)
    spaces = [index for index, letter in enumerate(text) if letter == " "]
    found = [Terminal(text[:i], text[i + 1 :]) for i in spaces if text[:i] in scenario.places]
    named = [t for t in found if t.name in _nameable(scenario, t.place)]
    if len(named) == 1:
        return named[0]
    if len(named) > 1:
        both = " or ".join(f"{t.name!r} at {t.place!r}" for t in named)
        hint = "rename one of the places"
        raise UnknownTerminal(f"{shorten(text)!r} can mean {both}", hint=hint)
    if found:
        place, name = found[0].place, found[0].name
        hint = did_you_mean(name, _nameable(scenario, place))
        raise UnknownTerminal(f"{place!r} has no {shorten(name)!r}", hint=hint)
    words = f"expected a place and a conductor or bar, or {REMOTE_EARTH!r}"
    every = [f"{place} {name}" for place in scenario.places for name in ("pe", "frame")]
    near = nearest(text, [*every, REMOTE_EARTH])
    hint = f"did you mean {near!r}?" if near else ""
    # A place that is not known is reported by itself.
    certain = place_meant(text, scenario.places, unknown=_places_named(scenario)) is None
    message = f"{shorten(text)!r} names no terminal; {words}"
    raise UnknownTerminal(message, hint=hint, certain=certain)


def _places_named(scenario: Scenario) -> set[str]:
    """The places that things say they are at, known or not."""
    places = {end for cable in scenario.cables.values() for end in (cable.from_, cable.to)}
    sections = (
        scenario.earths, scenario.supply, scenario.batteries, scenario.arresters,
        scenario.equipment,
    )  # fmt: skip
    for things in sections:
        places |= {thing.at for thing in things.values()}
    return places


def _nameable(scenario: Scenario, place: str) -> tuple[str, ...]:
    """The names a terminal at ``place`` can have: every conductor and the bars declared there."""
    return (*CONDUCTORS, *scenario.places[place].bars)


def _made(scenario: Scenario) -> Iterator[Terminal]:
    """Every terminal that something brings to a place: a wire, a bar, an electrode, a pole."""
    for name, place in scenario.places.items():
        yield from (Terminal(name, bar) for bar in place.bars)
    for cable in scenario.cables.values():
        near, far = brought(cable, scenario)
        yield from (Terminal(cable.from_, conductor) for conductor in near)
        yield from (Terminal(cable.to, conductor) for conductor in far)
    for earth in scenario.earths.values():
        if earth.bar in CONDUCTORS:
            yield Terminal(earth.at, earth.bar)
    for supply, poles in sources(scenario):
        yield from (Terminal(supply.at, pole) for pole in poles)
    for bond in scenario.bonds.values():
        for end in (bond.from_, bond.to):
            terminal = _end(end, scenario)
            if terminal is not None and not terminal.is_remote_earth:
                yield terminal


def sources(scenario: Scenario) -> Iterator[tuple[Supply | Battery, tuple[str, str]]]:
    """Each array and battery with the conductors that are its plus and its minus."""
    yield from ((supply, ARRAY_POLES) for supply in scenario.supply.values())
    yield from ((battery, BATTERY_POLES) for battery in scenario.batteries.values())


def _end(text: str, scenario: Scenario) -> Terminal | None:
    try:
        return split_reference(text, scenario)
    except UnknownTerminal:
        return None  # reported where bonds are checked


def _followed(scenario: Scenario) -> bool:
    """Whether all that brings terminals to places has places, cores and ends that are known."""
    return (
        all(_is_known(cable, scenario) for cable in scenario.cables.values())
        and all(
            earth.at in scenario.places and earth.bar in _nameable(scenario, earth.at)
            for earth in scenario.earths.values()
        )
        and all(supply.at in scenario.places for supply, _ in sources(scenario))
        and all(
            _end(end, scenario) is not None
            for bond in scenario.bonds.values()
            for end in (bond.from_, bond.to)
        )
    )


def _is_known(cable: Cable, scenario: Scenario) -> bool:
    cores = carried(cable, scenario)
    return (
        cable.from_ in scenario.places
        and cable.to in scenario.places
        and bool(cores)
        and set(cable.carries or ()) <= set(cores)
        and (cable.laid_with is None or cable.laid_with in scenario.cables)
    )


@dataclass(frozen=True, slots=True)
class Terminals:
    """The terminals of a scenario, by place.

    ``complete`` is false while something refers to what does not exist: more terminals may
    then be meant than are ``present``.
    """

    scenario: Scenario
    present: frozenset[Terminal]
    complete: bool

    @classmethod
    def of(cls, scenario: Scenario) -> Terminals:
        """The terminals that the things of a scenario bring to its places."""
        return cls(scenario, frozenset(_made(scenario)), _followed(scenario))

    def at(self, place: str, name: str) -> Terminal:
        """The terminal ``name`` at ``place``. Raises UnknownTerminal saying what is there."""
        terminal = Terminal(place, name)
        if terminal in self.present:
            return terminal
        there = sorted(t.name for t in self.present if t.place == place)
        hint = did_you_mean(name, there) or f"nothing brings a conductor to {place!r}"
        absent = terminal if name in CONDUCTORS else None
        certain = self.complete or absent is None
        words = f"{place!r} has no {shorten(name)!r}"
        raise UnknownTerminal(words, hint=hint, absent=absent, certain=certain)

    def find(self, text: str) -> Terminal:
        """The terminal that ``"array frame"`` or ``"remote earth"`` means."""
        try:
            terminal = split_reference(text, self.scenario)
        except UnknownTerminal as error:
            error.hint = error.hint or known_names([*sorted(map(str, self.present)), REMOTE_EARTH])
            raise
        return terminal if terminal.is_remote_earth else self.at(terminal.place, terminal.name)

    def pair(self, place: str, words: str) -> tuple[Terminal, Terminal]:
        """The two terminals of ``"plus to pe"`` at ``place``."""
        first, second = ends_of(words)
        return self.at(place, first), self.at(place, second)


def ends_of(words: str) -> tuple[str, str]:
    """The two names in ``"plus to pe"``."""
    first, separator, second = words.partition(" to ")
    if not separator:
        hint = "expected for example 'plus to pe'"
        raise UnknownTerminal(f"{shorten(words)!r} is no pair", hint=hint)
    return first, second
