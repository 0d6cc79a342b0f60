"""Arresters in their slots: leads, elements, and the bar where the earth lead lands.

Every live conductor has one line lead, shared by the elements on it; all elements to earth
share one earth lead. In tee wiring the line lead hangs off the conductor, and its drop adds to
what the equipment sees. In V wiring the conductor itself runs to the arrester and on: the lead
stands in the run, only the coupling between its two halves is left.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from surgesim.build.parts import Parts, at, inductance, label_of
from surgesim.catalogue.cards import TextbookLimiter, VaristorArrester
from surgesim.errors import InputError
from surgesim.network.elements import (
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    Coupling,
    Varistor,
)
from surgesim.network.probes import ArresterProbe, Rating
from surgesim.physics.impulses import (
    class_one_charge,
    class_one_specific_energy,
    eight_twenty_charge,
    eight_twenty_specific_energy,
)
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers
from surgesim.scenario.schema import Arrester, Scenario
from surgesim.scenario.terminals import LIVE

V_COUPLING = 0.15e-6
"""Mutual inductance per metre between the two halves of a V, H/m: conductors tied together,
go and return (a guess; it decides less than a tenth of a tee's drop)."""

TOLERANCE = {"low": 0.9, "nominal": 1.0, "declared": 1.1}
"""Voltage at any current over the nominal element's: +-10 %, the declared Up being the upper
limit (IEC 61643-01; tolerance of the disc, from memory)."""


def cable_sides(scenario: Scenario) -> dict[str, str]:
    """Node of a conductor -> node at which cables end there, where a V-wired arrester stands."""
    return {
        at(slot.at, conductor): f"{at(slot.at, conductor)}/cable side"
        for slot in scenario.arresters.values()
        if slot.wiring == "V" and slot.leads.line > 0
        for conductor in _conductors(slot)
    }


def arresters(scenario: Scenario) -> Iterator[Parts]:
    """Each fitted slot with its leads and elements. Raises InputError for leads that cannot be."""
    for name, slot in scenario.arresters.items():
        if slot.wiring == "V" and slot.leads.inductance <= V_COUPLING:
            raise InputError.of(
                f"is not more than the {1e6 * V_COUPLING:g} uH/m that couple the halves of a V",
                path=f"arresters.{name}.leads.inductance",
                hint="a lead has about 1 uH/m",
            )
        yield _slot(name, slot, scenario)


def _conductors(slot: Arrester) -> list[str]:
    """The live conductors a slot is connected to, in order."""
    ends = [end for words in slot.across for end in words.split(" to ", 1)]
    return [end for end in dict.fromkeys(ends) if end in LIVE]


def _slot(name: str, slot: Arrester, scenario: Scenario) -> Parts:
    group, label = f"arrester {name}", label_of("arrester", name)
    elements: list[AnyElement] = []
    clamps: dict[str, str] = {}
    for conductor in _conductors(slot):
        bare = at(slot.at, conductor)
        clamps[conductor] = f"{label}/{conductor}" if slot.leads.line > 0 else bare
        elements += _line_lead(label, slot, conductor, group)
    earth = slot.leads.earth
    if earth is not None:
        bar = at(slot.at, earth.to)
        foot = f"{label}/earth" if earth.length > 0 else bar
        if earth.length > 0:
            henry = slot.leads.inductance * earth.length
            elements += inductance(f"{label}/earth lead", foot, bar, henry, group)
        clamps |= {
            words.split(" to ", 1)[1]: foot
            for words in slot.across
            if words.split(" to ", 1)[1] not in LIVE
        }
    probes = []
    for words in slot.across:
        first, second = words.split(" to ", 1)
        made, probe = _element(name, slot, words, clamps[first], clamps[second], scenario)
        elements += made
        probes.append(probe)
    return Parts(tuple(elements), arresters=tuple(probes))


def _line_lead(label: str, slot: Arrester, conductor: str, group: str) -> Iterator[AnyElement]:
    henry = slot.leads.inductance * slot.leads.line
    if henry == 0:
        return
    inner, outer = f"{label}/{conductor}", at(slot.at, conductor)
    if slot.wiring == "tee":
        yield from inductance(f"{label}/{conductor} lead", outer, inner, henry, group)
        return
    into, out = f"{label}/{conductor} lead in", f"{label}/{conductor} lead out"
    yield from inductance(into, f"{outer}/cable side", inner, henry, group)
    yield from inductance(out, inner, outer, henry, group)
    # The current goes in along one half and out along the other, side by side: against the
    # dots at their a ends the coupling counts negative.
    mutual = -V_COUPLING * slot.leads.line
    yield Coupling(
        name=f"{label}/{conductor} V", first=into, second=out, mutual=mutual, group=group
    )


def _element(
    name: str, slot: Arrester, words: str, hot: str, cold: str, scenario: Scenario
) -> tuple[list[AnyElement], ArresterProbe]:
    """One element between two clamps: ammeter, own inductance, law and capacitance."""
    card = scenario.cards[slot.card]
    assert isinstance(card, VaristorArrester | TextbookLimiter)
    group, label = f"arrester {name}", f"{label_of('arrester', name)}/{words}"
    inner, meter = f"{label}/inner", f"{label}/current"
    made: list[AnyElement] = [Ammeter(name=meter, a=hot, b=inner, group=group)]
    core = inner
    if isinstance(card, TextbookLimiter):
        made.append(
            Clamp(
                name=label, a=inner, b=cold, group=group,
                voltage=card.voltage.value, resistance=card.resistance.value,
            )
        )  # fmt: skip
    else:
        if card.inductance.value > 0:
            core = f"{label}/core"
            made += inductance(f"{label}/inductance", inner, core, card.inductance.value, group)
        law = varistor_law(card, scenario.arrester_tolerance)
        made.append(Varistor(name=label, a=core, b=cold, law=law, group=group))
        if card.capacitance.value > 0:
            farad = card.capacitance.value
            made.append(
                Capacitor(
                    name=f"{label}/capacitance", a=core, b=cold, capacitance=farad, group=group
                )
            )
    probe = ArresterProbe(
        slot=name, element=words, card=slot.card, place=slot.at, a=hot, b=cold, ammeter=meter,
        rating=rating(card),
    )  # fmt: skip
    return made, probe


def varistor_law(card: VaristorArrester, tolerance: str) -> VaristorLaw:
    """The element's law at ``low``, ``nominal`` or ``declared``.

    The printed Up is the upper limit, so the nominal element passes Up / 1.1 at In.
    """
    nominal = fit_three_numbers(
        reference_voltage=card.reference_voltage.value,
        nominal_current=card.In.value,
        level=card.Up.value / TOLERANCE["declared"],
    )
    return replace(nominal, scale=TOLERANCE[tolerance])


def rating(card: VaristorArrester | TextbookLimiter) -> Rating:
    """What one element may bear once, by its class."""
    if isinstance(card, TextbookLimiter):
        return Rating(
            device_class="textbook", continuous=None, nominal_current=None, peak=None,
            charge=None, specific_energy=None, basis="a textbook limiter has no rating",
        )  # fmt: skip
    if card.test_class == "I":
        assert card.Iimp is not None
        impulse = card.Iimp.value
        peak = max(impulse, card.Imax.value if card.Imax else 0.0, card.In.value)
        charge, energy = class_one_charge(impulse), class_one_specific_energy(impulse)
        basis = "charge and W/R of one 10/350 impulse of Iimp (IEC 61643-11:2011), peak of Imax"
    else:
        assert card.Imax is not None
        peak = card.Imax.value
        charge, energy = eight_twenty_charge(peak), eight_twenty_specific_energy(peak)
        basis = "one 8/20 impulse of Imax; a longer wave compared by charge and W/R, our own rule"
    return Rating(
        device_class=card.test_class, continuous=card.Ucpv.value, nominal_current=card.In.value,
        peak=peak, charge=charge, specific_energy=energy, basis=basis,
    )  # fmt: skip
