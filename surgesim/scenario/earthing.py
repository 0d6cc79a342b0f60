"""Whether every terminal has a path to earth, without which it has no potential of its own."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.scenario.references import Complaint
from surgesim.scenario.schema import REMOTE_EARTH, Cable, Scenario, Surge
from surgesim.scenario.terminals import (
    Terminal,
    Terminals,
    UnknownTerminal,
    brought,
    carried,
    ends_of,
    sources,
)

MOST_SHOWN = 4


def no_path_to_earth(scenario: Scenario, terminals: Terminals) -> Iterator[Complaint]:
    """One complaint that names the terminals without a path to earth, if there are any."""
    for surge in scenario.surges.values():
        if not _is_led(surge, terminals):
            continue  # reported where surges are checked
        joined = _Joined()
        for first, second in _conducting(scenario, terminals, surge):
            joined.join(first, second)
        remote = Terminal("", REMOTE_EARTH)
        floating = [t for t in terminals.present if not joined.same(t, remote)]
        if floating:
            order = list(scenario.places)
            floating.sort(key=lambda t: (order.index(t.place), t.name))
            unbonded = list(_unbonded(scenario, floating))
            if unbonded:
                yield from unbonded
                return
            names = ", ".join(repr(str(t)) for t in floating[:MOST_SHOWN])
            more = len(floating) - MOST_SHOWN
            names += f" and {more} more" if more > 0 else ""
            hint = f"give {names} an electrode, a bond, a cable or a supply with its reference"
            yield ("places", floating[0].place), "has no path to earth", hint
            return


def _unbonded(scenario: Scenario, floating: list[Terminal]) -> Iterator[Complaint]:
    """A complaint for each cable whose screen, or the metal it lies in, hangs in the air."""
    for name, cable in scenario.cables.items():
        cores = set(carried(cable, scenario)) - {"screen"}
        for place, names in zip((cable.from_, cable.to), brought(cable, scenario), strict=True):
            metal = [n for n in names if n not in cores and Terminal(place, n) in floating]
            if metal:
                hint = (
                    f"a bond from '{place} {metal[0]}' to '{place} pe' connects it, at one end"
                    " or at both"
                )
                yield ("cables", name), f"its {metal[0]} is bonded to nothing", hint
                break


def _through(cable: Cable, scenario: Scenario) -> Iterator[str]:
    """The conductors of a cable that run from one end to the other, its metal included."""
    near, far = brought(cable, scenario)
    # metal of another stretch is another piece of metal
    whole = set(carried(cable, scenario)) if len(cable.laying or ()) > 1 else set(far)
    yield from (core for core in near if core in whole and core in far)


def _conducting(
    scenario: Scenario, terminals: Terminals, surge: Surge
) -> Iterator[tuple[Terminal, Terminal]]:
    """Pairs of terminals that conduct at direct current while ``surge`` is the one that strikes."""
    remote = Terminal("", REMOTE_EARTH)
    for cable in scenario.cables.values():
        yield from (
            (Terminal(cable.from_, c), Terminal(cable.to, c)) for c in _through(cable, scenario)
        )
    for earth in scenario.earths.values():
        yield Terminal(earth.at, earth.bar), remote
    for supply, (plus, minus) in sources(scenario):
        yield Terminal(supply.at, plus), Terminal(supply.at, minus)
        reference = supply.reference
        tied = plus if "plus" in reference.poles else minus
        there = reference.at or supply.at
        yield Terminal(there, tied), Terminal(there, reference.to)
    for thing in scenario.equipment.values():
        for words in thing.joins:
            first, second = ends_of(words)
            yield Terminal(thing.at, first), Terminal(thing.at, second)
    for bond in scenario.bonds.values():
        yield from _found(terminals, bond.from_, bond.to)
        if bond.bare_in_soil is not None:
            yield from ((first, remote) for first, _ in _found(terminals, bond.from_, bond.to))
    if surge.ends and (surge.channel is not None or surge.source_impedance is not None):
        yield from _found(terminals, *surge.ends)


def _is_led(surge: Surge, terminals: Terminals) -> bool:
    return surge.ends is None or bool(list(_found(terminals, *surge.ends)))


def _found(terminals: Terminals, a: str, b: str) -> Iterator[tuple[Terminal, Terminal]]:
    try:
        yield terminals.find(a), terminals.find(b)
    except UnknownTerminal:
        return  # reported where bonds and surges are checked


class _Joined:
    """Which terminals hang together (union of sets)."""

    def __init__(self) -> None:
        self._parent: dict[Terminal, Terminal] = {}

    def _root(self, item: Terminal) -> Terminal:
        while (parent := self._parent.setdefault(item, item)) != item:
            self._parent[item] = self._parent[parent]
            item = parent
        return item

    def join(self, a: Terminal, b: Terminal) -> None:
        self._parent[self._root(a)] = self._root(b)

    def same(self, a: Terminal, b: Terminal) -> bool:
        return self._root(a) == self._root(b)
