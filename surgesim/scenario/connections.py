"""What is connected to what: bonds, supply, arresters, equipment and surges on their terminals."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from surgesim.catalogue.cards import Arrester as OneElement
from surgesim.catalogue.cards import ArresterDevice
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.reading.names import did_you_mean
from surgesim.reading.quantities import CAPACITANCE, format_quantity
from surgesim.reading.tree import shorten
from surgesim.scenario.beside import beside_a_duct
from surgesim.scenario.devices import legs, misfit
from surgesim.scenario.equipment import Equipment
from surgesim.scenario.references import Complaint
from surgesim.scenario.schema import Arrester, Scenario
from surgesim.scenario.supply import (
    ARRAY_POLES,
    BATTERY_POLES,
    FRAME,
    Battery,
    EarthFault,
    Reference,
    Supply,
    disagreement,
)
from surgesim.scenario.terminals import (
    LIVE,
    Terminal,
    Terminals,
    UnknownTerminal,
    carried,
    ends_of,
)

Path = tuple[str, ...]
Poles = tuple[str, str]


@dataclass(slots=True)
class Connections:
    """Finds what is connected wrongly.

    A conductor that nothing brings to a place is one fault, however many things want it there:
    ``told`` holds those already complained of.
    """

    scenario: Scenario
    terminals: Terminals
    told: set[Terminal] = field(default_factory=set)

    def complaints(self) -> Iterator[Complaint]:
        """Everything that is connected to what is not there, or in a way that cannot be meant."""
        yield from self._bonds()
        yield from self._supply()
        yield from self._equipment()
        yield from self._arresters()
        yield from self._surges()

    def _bonds(self) -> Iterator[Complaint]:
        for name, bond in self.scenario.bonds.items():
            here = ("bonds", name)
            ends, complaints = self._found({(*here, "from"): bond.from_, (*here, "to"): bond.to})
            yield from complaints
            if len(ends) == 2 and ends[0] == ends[1]:
                yield (*here, "to"), "joins a terminal to itself", "name two terminals"
            elif any(end.is_remote_earth for end in ends):
                yield here, "ends on remote earth", "describe an electrode under 'earths'"
            elif bond.bare_in_soil is not None and any(end.name in LIVE for end in ends):
                yield here, "is live and bare in the soil", "bond what is earthed, such as pe"
            elif bond.laid_with is not None and len(ends) == 2:
                yield from beside_a_duct(name, bond, {end.place for end in ends}, self.scenario)
            card = self.scenario.cards.get(bond.type)
            if isinstance(card, CableCard) and len(card.cores) != 1:
                hint = "a bond is one conductor, such as 'copper 16 mm2'"
                yield (*here, "type"), f"{bond.type!r} has more than one core", hint

    def _supply(self) -> Iterator[Complaint]:
        yield from self._sources("supply", self.scenario.supply, ARRAY_POLES, "supply")
        yield from self._sources("batteries", self.scenario.batteries, BATTERY_POLES, "battery")
        for name, supply in self.scenario.supply.items():
            here = ("supply", name)
            wrong = disagreement(supply, self.scenario.site.lowest_air_temperature)
            if wrong is not None:
                key, words, hint = wrong
                yield (*here, key), words, hint
            elif supply.modules is not None and supply.at in self.scenario.places:
                yield from self._modules(here, supply)

    def _sources(
        self, section: str, things: Mapping[str, Supply | Battery], poles: Poles, what: str
    ) -> Iterator[Complaint]:
        places: dict[str, str] = {}
        for name, thing in things.items():
            here = (section, name)
            first = places.setdefault(thing.at, name)
            if first != name:
                hint = "describe both as one, with the currents added"
                yield (*here, "at"), f"{thing.at!r} has a {what} already, {first!r}", hint
            yield from self._tied((*here, "reference"), thing, thing.reference, poles)
            if thing.earth_fault is not None:
                yield from self._tied((*here, "earth fault"), thing, thing.earth_fault, poles)

    def _tied(
        self, here: Path, thing: Supply | Battery, tie: Reference | EarthFault, poles: Poles
    ) -> Iterator[Complaint]:
        """What is wrong with where poles lie on earth, by a reference or by a fault."""
        if tie.at is not None and tie.at not in self.scenario.places:
            hint = did_you_mean(tie.at, self.scenario.places)
            yield (*here, "at"), f"no place {shorten(tie.at)!r}", hint
            return
        place = tie.at or thing.at
        if place not in self.scenario.places:
            return
        if tie.to in LIVE:
            hint = "expected what stands to earth, such as 'frame' or 'pe'"
            yield (*here, "to"), f"{tie.to!r} is a live conductor", hint
            return
        tied = tie.poles if isinstance(tie, Reference) else (tie.pole,)
        wanted = dict.fromkeys((poles[("plus", "minus").index(pole)] for pole in tied), here)
        yield from self._absent(place, {**wanted, tie.to: (*here, "to")})

    def _modules(self, here: Path, supply: Supply) -> Iterator[Complaint]:
        """The modules' frames must be there, and their capacitance must not count twice."""
        yield from self._absent(supply.at, {FRAME: (*here, "modules")})
        for name, thing in self.scenario.equipment.items():
            for words, pair in thing.pairs.items():
                ends = set(ends_of(words))
                if thing.at != supply.at or FRAME not in ends or not pair.capacitance:
                    continue
                if supply.to_frame and ends & set(ARRAY_POLES):
                    total = format_quantity(float(f"{supply.to_frame:.3g}"), CAPACITANCE)
                    yield (
                        ("equipment", name, words, "capacitance"),
                        f"counts beside the {total} that the modules of {here[1]!r} have",
                        "write 'capacitance: 0 F', the modules' own is there already",
                    )

    def _equipment(self) -> Iterator[Complaint]:
        for name, thing in self.scenario.equipment.items():
            if thing.at not in self.scenario.places:
                continue
            here = ("equipment", name)
            wanted: dict[str, str] = {}
            for words in thing.pairs:
                first, second = ends_of(words)
                if first == second:
                    yield (*here, words), "is one terminal", "name two terminals"
                wanted = {first: words, second: words, **wanted}
            yield from self._absent(thing.at, {end: (*here, w) for end, w in wanted.items()})
            yield from self._joins(here, thing)
            if thing.bar is not None:
                yield from self._absent(thing.at, {thing.bar: (*here, "bar")})
            if thing.end_of is not None:
                yield from self._cable_end(here, thing, thing.end_of)

    def _joins(self, here: Path, thing: Equipment) -> Iterator[Complaint]:
        path = (*here, "joins")
        wanted: dict[str, Path] = {}
        for words in thing.joins:
            try:
                first, second = ends_of(words)
            except UnknownTerminal as error:
                yield (*path, words), str(error), error.hint
                continue
            if first == second:
                yield (*path, words), "is one terminal", "name two terminals"
            wanted = {first: (*path, words), second: (*path, words), **wanted}
        yield from self._absent(thing.at, wanted)

    def _cable_end(self, here: Path, thing: Equipment, name: str) -> Iterator[Complaint]:
        cable = self.scenario.cables.get(name)
        if cable is None:
            hint = did_you_mean(name, self.scenario.cables)
            yield (*here, "end of"), f"no cable {shorten(name)!r}", hint
        elif thing.at not in (cable.from_, cable.to):
            hint = f"it runs from {cable.from_!r} to {cable.to!r}"
            yield (*here, "end of"), f"{name!r} does not end at {thing.at!r}", hint
        else:
            cores = carried(cable, self.scenario)
            for words in thing.pairs:
                if cores and ends_of(words)[0] not in cores:
                    message = f"{name!r} has no core {shorten(ends_of(words)[0])!r}"
                    hint = f"begin with a core of it: {', '.join(cores)}"
                    yield (*here, words), message, hint

    def _arresters(self) -> Iterator[Complaint]:
        through: dict[Terminal, str] = {}
        for name, slot in self.scenario.arresters.items():
            if slot.at not in self.scenario.places:
                continue
            here = ("arresters", name)
            wrong = list(self._across(here, slot)) or list(self._device(here, slot))
            yield from wrong
            yield from self._earth_lead(here, slot, judge_pairs=not wrong)
            for element in slot.failed or {}:
                elements = [] if wrong else [e.words for e in legs(slot, self.scenario.cards)]
                if elements and element not in elements:
                    message = f"no element {shorten(element)!r}"
                    hint = did_you_mean(element, elements)
                    yield (*here, "failed", element), message, hint
            if slot.wiring == "V":
                yield from self._run_through(here, name, slot, through)
            if slot.earth_wiring == "V" and slot.leads.earth is not None:
                bar = Terminal(slot.at, slot.leads.earth.to)
                yield from self._once((*here, "earth wiring"), name, bar, through)

    def _across(self, here: Path, slot: Arrester) -> Iterator[Complaint]:
        path = (*here, "across")
        if len(set(slot.across)) != len(slot.across):
            yield path, "names a pair twice", "take one out"
        names: list[str] = []
        for words in dict.fromkeys(slot.across):
            try:
                first, second = ends_of(words)
            except UnknownTerminal as error:
                yield path, str(error), error.hint
                continue
            names += [first, second]
            if first == second:
                yield path, f"{shorten(words)!r} is one terminal", "name two terminals"
            elif first not in LIVE and Terminal(slot.at, first) in self.terminals.present:
                hint = "write the live conductor first, such as 'plus to pe'"
                yield path, f"{shorten(words)!r} does not begin at a live conductor", hint
        yield from self._absent(slot.at, dict.fromkeys(names, path))

    def _device(self, here: Path, slot: Arrester) -> Iterator[Complaint]:
        """A device's elements must be cards of one element, and its slot have its terminals."""
        cards = self.scenario.cards
        device = cards.get(slot.card)
        if not isinstance(device, ArresterDevice):
            return
        for key, names in (("pole", device.pole), ("earth", device.earth or ())):
            for name in names:
                if not isinstance(cards.get(name), OneElement):
                    message = f"{shorten(name)!r} is no arrester of one element"
                    known = [each for each, card in cards.items() if isinstance(card, OneElement)]
                    yield ("cards", slot.card, key), message, did_you_mean(name, known)
        wanted = misfit(slot, device)
        if wanted:
            message = f"does not fit {slot.card!r}, which is connected {device.connection!r}"
            yield (*here, "across"), message, f"for example 'across: {wanted}'"

    def _earth_lead(self, here: Path, slot: Arrester, *, judge_pairs: bool) -> Iterator[Complaint]:
        earth = slot.leads.earth
        to_earth = any(ends_of(words)[1] not in LIVE for words in slot.across if " to " in words)
        if earth is None:
            if judge_pairs and to_earth:
                yield (*here, "leads"), "has no 'earth'", "for example 'earth: 0.5 m to pe'"
            return
        path = (*here, "leads", "earth")
        if judge_pairs and not to_earth:
            yield path, "no pair of this arrester goes to earth", "leave 'earth' out"
        elif earth.to in LIVE:
            words = f"lands on the live conductor {earth.to!r}"
            yield path, words, "name what is earthed, such as 'pe'"
        else:
            yield from self._absent(slot.at, {earth.to: path})

    def _run_through(
        self, here: Path, name: str, slot: Arrester, through: dict[Terminal, str]
    ) -> Iterator[Complaint]:
        for words in slot.across:
            terminal = Terminal(slot.at, words.partition(" to ")[0])
            yield from self._once((*here, "wiring"), name, terminal, through)

    def _once(
        self, path: Path, name: str, terminal: Terminal, through: dict[Terminal, str]
    ) -> Iterator[Complaint]:
        owner = through.setdefault(terminal, name)
        if owner != name:
            message = f"{str(terminal)!r} runs through the terminals of {owner!r} already"
            yield path, message, "wire one of the two as a tee"

    def _surges(self) -> Iterator[Complaint]:
        for name, surge in self.scenario.surges.items():
            here = ("surges", name)
            often = surge.happens
            if often and often.strikes and self.scenario.site.flash_density is None:
                hint = "give 'flash density' under 'site', such as '1.3 per km2 per year'"
                yield (*here, "happens"), "how often it strikes is not known", hint
            if surge.ends is None:
                continue  # flows beside the installation
            into, returns = surge.ends
            ends, complaints = self._found({(*here, "into"): into, (*here, "returns"): returns})
            yield from complaints
            if len(ends) == 2 and ends[0] == ends[1]:
                yield (*here, "returns"), "is where the surge enters", "name another terminal"
                continue
            live = [end for end in ends if end.name in LIVE]
            if live and surge.peak.unit == "A" and surge.channel is None:
                words = f"a current into the live conductor {str(live[0])!r} needs 'channel'"
                yield here, words, "for example 'channel: 1000 ohm'"

    def _found(self, references: dict[Path, str]) -> tuple[list[Terminal], list[Complaint]]:
        """The terminals that references mean, and a complaint for each that means none."""
        ends: list[Terminal] = []
        complaints: list[Complaint] = []
        for path, text in references.items():
            try:
                ends.append(self.terminals.find(text))
            except UnknownTerminal as error:
                complaints += self._told_once([(path, error)])
        return ends, complaints

    def _absent(self, place: str, wanted: dict[str, Path]) -> Iterator[Complaint]:
        """One complaint for those of the ``wanted`` names that are no terminals at ``place``,
        located where the first of them is wanted.
        """
        errors = []
        for name, path in wanted.items():
            try:
                self.terminals.at(place, name)
            except UnknownTerminal as error:
                errors.append((path, error))
        yield from self._told_once(errors)

    def _told_once(self, errors: list[tuple[Path, UnknownTerminal]]) -> Iterator[Complaint]:
        new = [(p, e) for p, e in errors if e.certain and e.absent not in self.told]
        self.told |= {error.absent for _, error in new if error.absent is not None}
        if new:
            path, first = new[0]
            # "'array' has no 'plus'" and "… has no 'minus'": "'array' has no 'plus', no 'minus'"
            rest = [str(error).partition(" has ")[2] for _, error in new[1:]]
            yield path, ", ".join([str(first), *rest]), first.hint
