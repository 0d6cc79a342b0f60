"""What the circuit of a scenario is made of, as plain data: each model, its numbers, its source.

One function a section. Each takes one resolved scenario and gives its entries; how often an
entry occurs among many cases is counted in :mod:`surgesim.studies.disclosures`. Numbers that are
computed here are given to six digits.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from numpy.typing import NDArray

from surgesim.build.arrester_elements import TOLERANCE, rating, varistor_law
from surgesim.build.buried import buried
from surgesim.build.cables import Band, Stretch, stretches
from surgesim.build.cables import cables as built_cables
from surgesim.build.chains import chain_of
from surgesim.build.electrodes import worked_out
from surgesim.build.surges import generator_figures, surge_waveform
from surgesim.build.tapes import tape_beside
from surgesim.build.whole import band_of, surge_kind
from surgesim.build.worn import HIGH, LOW
from surgesim.catalogue.cards import Arrester as ArresterCard
from surgesim.catalogue.cards import ArresterDevice, GapArrester, TextbookLine, VaristorArrester
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.described import card_fields
from surgesim.findings.plain import plain
from surgesim.network.elements import Line
from surgesim.physics.conductors import solid_radius, wire_inductance
from surgesim.physics.electrodes import buried_inductance
from surgesim.physics.waveforms import shape_figures
from surgesim.reading.form import Form
from surgesim.scenario.devices import legs
from surgesim.scenario.equipment import Pair
from surgesim.scenario.laying import laying_text
from surgesim.scenario.schema import Arrester, Cable, Scenario
from surgesim.scenario.supply import Battery, Supply

Entry = dict[str, Any]

AIR = (
    "field between cores and insulations by multipoles over a plane, the soil by the"
    " complex-depth earth return of Deri et al. 1981"
)
DUCT = (
    "field between cores and insulations by multipoles inside a cylinder whose outer conductor"
    " is the soil, the soil's impedance in the"
    " closed form of Saad, Gaba and Giroux 1996"
)
METAL = (
    "field between cores and insulations by multipoles inside the metal, whose transfer impedance"
    " couples them to it; the metal over soil as a conductor in air"
)
TEXTBOOK = "surge impedance and velocity as its card states them"
TWO_TERM = (
    "two-term varistor law through the reference voltage at 1 mA and Up/1.1 at In, behind its"
    " own inductance, with its capacitance beside it"
)
GAP = (
    "gap with one memory, the logarithm of its conductance, through the static sparkover voltage"
    " and the impulse level of its card, behind its own inductance, with its capacitance beside it"
)
CLAMP = "ideal limiter: open below its voltage, its resistance above"
WIRE = "straight wire without return, Rosa 1908"


def surges(scenario: Scenario) -> Iterator[Entry]:
    """The surge: its formula, its figures as measured from the waveform, its impedance."""
    surge, waveform = scenario.surge, surge_waveform(scenario)
    figures = shape_figures(waveform, kind=surge_kind(scenario))
    yield {
        "name": scenario.surge_name,
        "shape": surge.card,
        "formula": waveform.formula,
        "polarity": scenario.polarity,
        "peak": six(figures.peak),
        "unit": surge.peak.unit,
        "t1_s": six(figures.front),
        "t2_s": _six(figures.tail),
        "charge_c": _six(figures.charge),
        "specific_energy_j_per_ohm": _six(figures.specific_energy),
        "steepest_per_s": six(figures.steepest),
        "into": surge.into,
        "returns": surge.returns,
        "beside": _beside(scenario),
        "impedance_ohm": _ohms(scenario),
        "impedance_is": _impedance(scenario),
    }


def _ohms(scenario: Scenario) -> float | None:
    surge, generator = scenario.surge, generator_figures(scenario)
    if generator is not None:
        return six(surge.peak.value / abs(generator.short_circuit.peak))
    return surge.channel if surge.peak.unit == "A" else surge.source_impedance


def _beside(scenario: Scenario) -> str | None:
    """Where a current outside the installation flows."""
    surge = scenario.surge
    if surge.strikes_ground_at is not None:
        return f"strikes the ground at {_where(surge.strikes_ground_at)}"
    if surge.flows_in is not None:
        start, end = _where(surge.flows_in.from_), _where(surge.flows_in.to)
        return f"flows in a conductor from {start} to {end}"
    return None


def _where(spot: Form) -> str:
    return ", ".join(f"{key} {value}" for key, value in spot.written().items())


def _impedance(scenario: Scenario) -> str:
    if scenario.surge.generator is not None:
        return (
            "of a generator's own circuit with its coupling network, open-circuit voltage over"
            " short-circuit current"
        )
    if scenario.surge.peak.unit == "V":
        return "in series with an ideal voltage source"
    if scenario.surge.channel is not None:
        return "beside an ideal current source, the channel"
    return "none: an ideal current source"


def arresters(scenario: Scenario) -> Iterator[Entry]:
    """Each fitted slot, card by card: the model made of it at its declared level, its leads."""
    for name, slot in scenario.arresters.items():
        for card_name in dict.fromkeys(leg.card for leg in legs(slot, scenario.cards)):
            yield {**_element_of(scenario, name, card_name), **_leads_of(slot)}


def _element_of(scenario: Scenario, name: str, card_name: str) -> Entry:
    """The elements of one card in a slot: the slot's own, or one inside its device."""
    slot, card = scenario.arresters[name], scenario.cards[card_name]
    assert isinstance(card, ArresterCard)
    model, law = _model(card)
    inside = [leg.words for leg in legs(slot, scenario.cards) if leg.card == card_name]
    device = scenario.cards[slot.card]
    of = f"{slot.card} ({device.connection}): " if isinstance(device, ArresterDevice) else ""
    return {
        "slot": name,
        "at": slot.at,
        "across": inside,
        "wiring": slot.wiring,
        "card": f"{of}{card_name}",
        "model": model,
        "law": law,
        "rating_basis": rating(card).basis,
    }


def _leads_of(slot: Arrester) -> Entry:
    """The leads of a slot, and what stands in them."""
    return {
        "line_lead_m": slot.leads.line,
        "earth_lead_m": slot.leads.earth.length if slot.leads.earth else None,
        "earth_lead_to": slot.leads.earth.to if slot.leads.earth else None,
        "line_lead_h": six(slot.leads.line_inductance),
        "earth_lead_h": six(slot.leads.earth_inductance) if slot.leads.earth else None,
        "leads_are": _leads_are(slot),
        "in_series": _in_series(slot),
    }


def _leads_are(slot: Arrester) -> str:
    """Where the inductance of a slot's leads is from."""
    leads = slot.leads
    said = [] if leads.inductance is None else [f"{1e6 * leads.inductance:.4g} uH/m"]
    if leads.line_section is not None or leads.earth_section is not None:
        said.append("of their sections as straight round wires without return (Rosa 1908)")
    if slot.earth_wiring == "V":
        said.append("the earth lead as a V")
    if leads.coupling is not None:
        said.append(f"halves of a V coupled by {1e6 * leads.coupling:.4g} uH/m")
    return ", ".join(said)


def _in_series(slot: Arrester) -> str | None:
    """The fuse or breaker in each line lead, in words."""
    device = slot.fuse or slot.breaker
    if device is None:
        return None
    limits = f"{device.opens_from:g} to {device.opens_by:g} A2s"
    of = " (IEC 60269-1, from memory)" if slot.fuse is not None else ""
    return (
        f"{device.words} in each line lead, {1e3 * device.resistance:.4g} mohm and"
        f" {1e9 * device.inductance:.4g} nH, opens at {limits}{of}"
    )


def _model(card: ArresterCard) -> tuple[str, Entry | None]:
    """What an element is computed as, and its law at the declared level."""
    if isinstance(card, GapArrester):
        return GAP, {key: six(value) for key, value in plain(card.law("declared")).items()}
    if isinstance(card, VaristorArrester):
        law = varistor_law(card, "declared")
        return TWO_TERM, {key: six(value) for key, value in plain(law).items()}
    return CLAMP, None


def tolerances(scenario: Scenario) -> Iterator[Entry]:
    """At which level of its tolerance every arrester of the scenario was taken."""
    if scenario.arresters:
        level = scenario.arrester_tolerance
        if level.startswith("unequal"):
            which = "last" if level == "unequal turned" else "first"
            yield {"level": f"{level}: the {which} of a slot", "voltage_over_nominal": LOW}
            yield {"level": f"{level}: its others", "voltage_over_nominal": HIGH}
        else:
            yield {"level": level, "voltage_over_nominal": TOLERANCE[level]}


def cards(scenario: Scenario) -> Iterator[Entry]:
    """Each card that is used, with the source of every number."""
    for name, card in scenario.cards.items():
        numbers = [field for field in card_fields(card) if field["field"] not in ("kind", "about")]
        yield {"name": name, "kind": card.kind, "about": card.about, "numbers": numbers}


def lines(scenario: Scenario) -> Iterator[Entry]:
    """Each route: its constants per metre, how they were obtained, and the modes they give."""
    band = band_of(surge_waveform(scenario), surge_kind(scenario))
    pieces: dict[str, list[Line]] = {}
    for parts in built_cables(scenario, band, {}):
        for element in parts.elements:
            if isinstance(element, Line):
                whole, _, _ = element.name.partition(", piece ")
                pieces.setdefault(whole, []).append(element)
    for name, cable in scenario.cables.items():
        if cable.laid_with is not None:
            continue
        companions = {n: c for n, c in scenario.cables.items() if c.laid_with == name}
        route = {name: cable, **companions}
        if isinstance(scenario.cards[cable.type], TextbookLine):
            entry = _line(route, name, cable, pieces[name])
            yield {**entry, "obtained": TEXTBOOK, "laying": None, "constants": None}
            continue
        for stretch in stretches(route, scenario, band):
            entry = _line(route, stretch.name, stretch.host, pieces[stretch.name])
            yield {**entry, **_constants(stretch, band)}


def _line(route: dict[str, Cable], name: str, cable: Cable, line: list[Line]) -> Entry:
    """What a route, or a stretch ``name`` of one, is as lines."""
    _, _, stretch = name.partition("/")
    return {
        "cables": [*route, *([stretch] if stretch else [])],
        "from": cable.from_,
        "to": cable.to,
        "length_m": cable.length,
        "pieces": len(line),
        "modes": list(_modes(line, cable.length)),
    }


OBTAINED = {"air": AIR, "plastic duct": DUCT, "metal": METAL}


def _constants(stretch: Stretch, band: Band) -> Entry:
    """How a stretch is laid, and its constants a metre."""
    constants, (laying,) = stretch.constants, stretch.host.laying or ()
    return {
        "obtained": OBTAINED[laying.in_],
        "laying": laying_text(laying),
        "constants": {
            "conductors": [
                core.name if core.bare else f"{core.cable} {core.name}" for core in stretch.cores
            ],
            "front_hz": six(band.front),
            "tail_hz": six(band.tail),
            "inductance_h_per_m": _matrix(constants.inductance),
            "capacitance_f_per_m": _matrix(constants.capacitance),
            "earth_return": [
                {"resistance_ohm_per_m": six(ohm), "time_s": six(time)}
                for ohm, time in zip(constants.earth.resistance, constants.earth.time, strict=True)
                if ohm > 0.0
            ],
            "resistance_ohm_per_m": [six(value) for value in constants.resistance],
        },
    }


def _modes(pieces: Sequence[Line], length: float) -> Iterator[Entry]:
    """Modes of a whole route, whose pieces are equal."""
    line = pieces[0]
    for mode, impedance in enumerate(line.impedance):
        delay = len(pieces) * line.delay[mode]
        yield {
            "impedance_ohm": six(impedance),
            "velocity_m_per_s": six(length / delay),
            "delay_s": six(delay),
            "resistance_ohm": six(len(pieces) * line.resistance[mode]),
        }


def earths(scenario: Scenario) -> Iterator[Entry]:
    """Each electrode: the resistance that counts and where it is from, and what its shape gives."""
    front = band_of(surge_waveform(scenario), surge_kind(scenario)).front
    for name, earth in scenario.earths.items():
        found = worked_out(earth, scenario.site.soil)
        chain = chain_of(earth, found.resistance, front)
        yield {
            "name": name,
            "at": earth.at,
            "bar": earth.bar,
            "resistance_ohm": six(found.resistance),
            "obtained": found.obtained,
            "from_shape_ohm": _six(found.from_shape),
            "shape": found.shape,
            "inductance_h": earth.lumped,
            "along": "" if chain is None else chain.words,
        }


def bonds(scenario: Scenario) -> Iterator[Entry]:
    """Each bond as the wire, or the leaking chain, it was computed as."""
    for name, bond in scenario.bonds.items():
        card = scenario.cards[bond.type]
        assert isinstance(card, CableCard)
        henry, obtained = wire_inductance(bond.length, solid_radius(card.section.value)), WIRE
        if bond.laid_with is not None:
            tape = tape_beside(scenario, bond.laid_with)
            assert tape is not None
            henry = buried_inductance(bond.length, tape.radius)
            obtained = (
                f"bare in soil {bond.bare_in_soil:g} m deep, {bond.spacing:g} m beside the duct of"
                f" {bond.laid_with}, a conductor of its route, leaking evenly:"
                f" {tape.resistance:.4g} ohm to remote earth (Dwight 1936); its inductance here as"
                " of a straight wire without return"
            )
        elif bond.bare_in_soil is not None:
            front = band_of(surge_waveform(scenario), surge_kind(scenario)).front
            found = buried(name, bond, card, soil=scenario.site.soil, front=front)
            henry = found.inductance * bond.length
            obtained = (
                f"bare in soil {bond.bare_in_soil:g} m deep, leaking evenly:"
                f" {found.resistance:.4g} ohm to remote earth (Dwight 1936) in"
                f" {len(found.rungs)} pieces; a straight wire without return"
            )
        yield {
            "name": name,
            "from": bond.from_,
            "to": bond.to,
            "length_m": bond.length,
            "inductance_h": six(henry),
            "obtained": obtained + (f", with a joint of {bond.joint:g} ohm" if bond.joint else ""),
        }


def supplies(scenario: Scenario) -> Iterator[Entry]:
    """What stood on the wires before the surge, with its reference to earth."""
    for name, supply in scenario.supply.items():
        yield {
            "name": name,
            "at": supply.at,
            "state": supply.state,
            "open_circuit_v": supply.voltage,
            "short_circuit_a": supply.Isc_at_STC,
            "obtained": _array(supply, scenario),
            "resistance_ohm": supply.resistance,
            "to_frame_f": six(supply.to_frame),
            "frames_to_earth_f": six(supply.frames_to_earth),
            "reference": _reference(supply),
            "earth_fault": _earth_fault(supply),
        }


def batteries(scenario: Scenario) -> Iterator[Entry]:
    """The batteries, with their reference to earth."""
    for name, battery in scenario.batteries.items():
        yield {
            "name": name,
            "at": battery.at,
            "voltage_v": battery.voltage,
            "resistance_ohm": battery.resistance,
            "inductance_h": battery.inductance,
            "reference": _reference(battery),
            "earth_fault": _earth_fault(battery),
        }


def joins(scenario: Scenario) -> Iterator[Entry]:
    """What equipment joins inside."""
    for name, thing in scenario.equipment.items():
        for words, join in thing.joins.items():
            yield {
                "equipment": name,
                "pair": words,
                "at": thing.at,
                "resistance_ohm": join.resistance,
                "inductance_h": join.inductance,
            }


def _array(supply: Supply, scenario: Scenario) -> str:
    if supply.modules is None:
        return "as given"
    words = supply.modules.written()
    lowest = scenario.site.written()["lowest air temperature"]
    by = "the factors of IEC 62548:2016 for crystalline silicon (from memory)"
    if "Voc coefficient" in words:
        by = words["Voc coefficient"]
    return (
        f"{words['in series']} modules in series, {words['strings']} strings, Voc"
        f" {words['Voc at STC']} and Isc {words['Isc at STC']} at STC; at {lowest} by {by};"
        f" {supply.surface}"
    )


def _reference(supply: Supply | Battery) -> str:
    words: Mapping[str, str] = supply.reference.written()
    place = f" at {words['at']}" if "at" in words else ""
    if "each pole" in words:
        return f"each pole {words['each pole']} to {words['to']}{place}"
    return f"{words['earthed pole']} pole to {words['to']}{place} through {words['through']}"


def _earth_fault(supply: Supply | Battery) -> str | None:
    if supply.earth_fault is None:
        return None
    words: Mapping[str, str] = supply.earth_fault.written()
    place = f" at {words['at']}" if "at" in words else ""
    return f"{words['pole']} pole to {words['to']}{place} through {words['through']}"


def terminals(scenario: Scenario) -> Iterator[Entry]:
    """Each terminal pair: what it stands and from where, its capacitance, its insulation."""
    for name, thing in scenario.equipment.items():
        for words, pair in thing.pairs.items():
            impulse = pair.withstand is not None
            yield {
                "equipment": name,
                "pair": words,
                "at": thing.at,
                "limit": "withstand" if impulse else "highest voltage",
                "limit_v": pair.withstand if impulse else pair.highest_voltage,
                "origin": pair.from_,
                "where": pair.where,
                "capacitance_f": pair.capacitance,
                "flashover_v": _fires_at(pair, scenario),
                "flashover_given": pair.written().get("flashover"),
                "arc_voltage_v": pair.arc_voltage,
            }


def _fires_at(pair: Pair, scenario: Scenario) -> float | None:
    """The level that insulation was taken at, at its end of the spread."""
    if pair.flashover is None:
        return None
    return six(pair.flashover.at(scenario.insulation_level or "nominal"))


def six(value: float) -> float:
    """A computed number to six digits, as many as a reader can use and machines agree on."""
    return float(f"{float(value):.6g}")


def _six(value: float | None) -> float | None:
    return None if value is None else six(value)


def _matrix(values: NDArray[Any]) -> list[list[float]]:
    return [[six(value) for value in row] for row in values]
