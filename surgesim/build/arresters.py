"""Arresters in their slots: leads, elements, and the bar where the earth lead lands.

Every live conductor has one line lead, shared by the elements on it; all elements to earth
share one earth lead. In tee wiring the line lead hangs off the conductor, and its drop adds to
what the equipment sees. In V wiring the conductor itself runs to the arrester and on: the lead
stands in the run, only the coupling between its two halves is left. The earth lead may be
a V too: the earth of the equipment then comes from the arrester's terminal. A fuse or breaker
stands in each line lead, behind a V.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from surgesim.build.arrester_elements import Spot, element
from surgesim.build.parts import Parts, at, inductance, label_of
from surgesim.build.series import in_series
from surgesim.build.worn import as_they_are
from surgesim.catalogue.cards import ArresterDevice
from surgesim.errors import InputError
from surgesim.network.elements import AnyElement, Coupling
from surgesim.network.probes import ModeProbe, SeriesProbe
from surgesim.scenario.devices import legs, modes
from surgesim.scenario.schema import Arrester, Scenario
from surgesim.scenario.terminals import LIVE


def cable_sides(scenario: Scenario) -> dict[str, str]:
    """Node of a conductor -> node at which cables end there, where a V-wired arrester stands."""
    return {
        at(slot.at, conductor): f"{at(slot.at, conductor)}/cable side"
        for slot in scenario.arresters.values()
        if slot.wiring == "V" and slot.leads.line > 0
        for conductor in _conductors(slot)
    }


def equipment_sides(scenario: Scenario) -> dict[str, str]:
    """Node of a bar -> node at which equipment stands, its earth led through an arrester's V."""
    return {
        at(slot.at, slot.leads.earth.to): f"{at(slot.at, slot.leads.earth.to)}/equipment side"
        for slot in scenario.arresters.values()
        if slot.earth_wiring == "V" and slot.leads.earth is not None and slot.leads.earth.length
    }


def arresters(scenario: Scenario) -> Iterator[Parts]:
    """Each fitted slot with its leads and elements. Raises InputError for leads that cannot be."""
    for name, slot in scenario.arresters.items():
        for henry, length in _halves(slot):
            if length > 0 and henry <= slot.leads.coupling_of(length):
                coupled, own = 1e6 * slot.leads.coupling_of(1.0), 1e6 * henry / length
                raise InputError.of(
                    f"of {coupled:g} uH/m is not less than the {own:.3g} uH/m of the lead itself",
                    path=f"arresters.{name}.leads.coupling",
                    hint="a lead has about 1 uH/m, halves that are tied together share 0.15",
                )
        yield as_they_are(_slot(name, slot, scenario), slot, scenario)


def _halves(slot: Arrester) -> Iterator[tuple[float, float]]:
    """Inductance and length of one half of each lead that is wired as a V."""
    if slot.wiring == "V":
        yield slot.leads.line_inductance, slot.leads.line
    if slot.earth_wiring == "V" and slot.leads.earth is not None:
        yield slot.leads.earth_inductance, slot.leads.earth.length


def _conductors(slot: Arrester) -> list[str]:
    """The live conductors a slot is connected to, in order."""
    ends = [end for words in slot.across for end in words.split(" to ", 1)]
    return [end for end in dict.fromkeys(ends) if end in LIVE]


def _slot(name: str, slot: Arrester, scenario: Scenario) -> Parts:
    group, label = f"arrester {name}", label_of("arrester", name)
    elements: list[AnyElement] = []
    clamps: dict[str, str] = {}
    fuses: dict[str, SeriesProbe] = {}
    for conductor in _conductors(slot):
        bare = at(slot.at, conductor)
        clamps[conductor] = f"{label}/{conductor}" if slot.leads.line > 0 else bare
        elements += _line_lead(label, slot, conductor, group)
        cut_out = slot.fuse or slot.breaker
        if cut_out is not None:
            made, fuses[conductor] = in_series(label, conductor, clamps[conductor], cut_out)
            elements += made
            clamps[conductor] = made[-1].b
    foot, made_foot = _earth_lead(label, slot, group)
    elements += made_foot
    clamps |= {
        words.split(" to ", 1)[1]: foot
        for words in slot.across
        if words.split(" to ", 1)[1] not in LIVE
    }
    probes = []
    for leg in legs(slot, scenario.cards):
        hot, cold = (clamps.get(end, f"{label}/{end}") for end in (leg.first, leg.second))
        here = Spot(slot=name, place=slot.at, words=leg.words, hot=hot, cold=cold)
        made_element, probe = element(here, leg.card, scenario, alone=leg.alone)
        elements += made_element
        series = tuple(fuses[end] for end in (leg.first, leg.second) if end in fuses)
        probes.append(replace(probe, card=slot.card, series=series))
    return Parts(
        tuple(elements), arresters=tuple(probes), modes=tuple(_modes(name, slot, clamps, scenario))
    )


def _modes(
    name: str, slot: Arrester, clamps: Mapping[str, str], scenario: Scenario
) -> Iterator[ModeProbe]:
    """What a device of several elements limits, between its own terminals."""
    card = scenario.cards[slot.card]
    for first, second in modes(slot, scenario.cards):
        assert isinstance(card, ArresterDevice)
        yield ModeProbe(
            slot=name, mode=f"{first} to {second}", card=slot.card, place=slot.at,
            a=clamps[first], b=clamps[second], level=card.Up.value if card.Up else None,
        )  # fmt: skip


def _line_lead(label: str, slot: Arrester, conductor: str, group: str) -> Iterator[AnyElement]:
    henry = slot.leads.line_inductance
    if henry == 0:
        return
    inner, outer = f"{label}/{conductor}", at(slot.at, conductor)
    if slot.wiring == "tee":
        yield from inductance(f"{label}/{conductor} lead", outer, inner, henry, group)
        return
    ends = (f"{outer}/cable side", inner, outer)
    mutual = slot.leads.coupling_of(slot.leads.line)
    yield from _as_v(f"{label}/{conductor}", ends, henry, mutual, group)


def _earth_lead(label: str, slot: Arrester, group: str) -> tuple[str, list[AnyElement]]:
    """Node at which the elements to earth end, and the lead from there to its bar."""
    earth = slot.leads.earth
    if earth is None:
        return "", []
    bar, henry = at(slot.at, earth.to), slot.leads.earth_inductance
    if henry == 0:
        return bar, []
    foot = f"{label}/earth"
    if slot.earth_wiring != "V":
        return foot, list(inductance(f"{label}/earth lead", foot, bar, henry, group))
    ends, mutual = (bar, foot, f"{bar}/equipment side"), slot.leads.coupling_of(earth.length)
    return foot, list(_as_v(f"{label}/earth", ends, henry, mutual, group))


def _as_v(
    label: str, ends: tuple[str, str, str], henry: float, mutual: float, group: str
) -> Iterator[AnyElement]:
    """A lead in two halves, from where the current comes to the arrester and on to what it guards.

    The current goes in along one half and out along the other, side by side: against the dots at
    their a ends the coupling counts negative.
    """
    before, inner, behind = ends
    into, out = f"{label} lead in", f"{label} lead out"
    yield from inductance(into, before, inner, henry, group)
    yield from inductance(out, inner, behind, henry, group)
    yield Coupling(name=f"{label} V", first=into, second=out, mutual=-mutual, group=group)
