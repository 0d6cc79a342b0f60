"""What must hold between the parts of a scenario, beyond the form of each.

Each check yields complaints: the path of the value, the message, a hint. All of them run, so
that a file's problems are told in one go.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import TextbookLine
from surgesim.reading.names import collisions, did_you_mean, folded
from surgesim.reading.quantities import LENGTH, format_quantity
from surgesim.reading.tree import shorten
from surgesim.scenario.connections import Connections
from surgesim.scenario.earthing import no_path_to_earth
from surgesim.scenario.nearby import positions
from surgesim.scenario.references import Complaint
from surgesim.scenario.schema import REMOTE_EARTH, Cable, Scenario
from surgesim.scenario.terminals import CONDUCTORS, Terminals, carried, cores_of

LEAST_RESISTIVITY = 0.1
"""Ohm m, half of that of sea water (0.2, common practice, no source)."""

_NAMED = (
    "places", "cables", "earths", "bonds", "supply", "loops", "batteries", "arresters", "equipment",
    "surges", "cards",
)  # fmt: skip


def complaints(scenario: Scenario) -> Iterator[Complaint]:
    """Everything wrong between the parts of ``scenario``.

    Paths to earth are looked for last: whatever else is wrong may be what breaks them.
    """
    terminals = Terminals.of(scenario)
    clean = terminals.complete
    connections = Connections(scenario, terminals)
    for complaint in itertools.chain(
        _conducts(("site", "soil"), scenario.site.soil),
        _names(scenario),
        _cables(scenario),
        _earths(scenario),
        _bonds(scenario),
        positions(scenario),
        connections.complaints(),
    ):
        clean = False
        yield complaint
    if clean:
        yield from no_path_to_earth(scenario, terminals)


def _names(scenario: Scenario) -> Iterator[Complaint]:
    for section in _NAMED:
        for first, second in collisions(getattr(scenario, section)):
            yield (section, second), f"differs from {first!r} only in lettering", "rename one"
    for name, place in scenario.places.items():
        if folded(name) == REMOTE_EARTH:
            yield ("places", name), "is what earth far away is called", "rename the place"
        yield from _bars(name, place.bars)


def _bars(place: str, bars: tuple[str, ...]) -> Iterator[Complaint]:
    path = ("places", place, "bars")
    for bar in dict.fromkeys(bars):
        if folded(bar) in CONDUCTORS:
            hint = "give the bar another name; a conductor need not be declared"
            yield path, f"bar {bar!r} has a conductor's name", hint
    for first, second in collisions(bars):
        yield path, f"bars {first!r} and {second!r} differ only in lettering", "rename one"
    if len(set(bars)) != len(bars):
        yield path, "names a bar twice", "take one out"


def _cables(scenario: Scenario) -> Iterator[Complaint]:
    for name, cable in scenario.cables.items():
        here = ("cables", name)
        if cable.from_ == cable.to:
            yield (*here, "to"), "joins a place to itself", "name two places"
        if _is_too_short(scenario, cable):
            distance = _distance(scenario, cable)
            words = f"is shorter than the {distance:.1f} m between its places"
            yield (*here, "length"), words, "check the length or the positions"
        card = scenario.cards.get(cable.type)
        if isinstance(card, CableCard | TextbookLine):
            yield from _carries(scenario, name, cable)
            yield from _laying(scenario, name, cable, textbook=isinstance(card, TextbookLine))
            yield from _metal(scenario, name, cable)


def _is_too_short(scenario: Scenario, cable: Cable) -> bool:
    return cable.length < 0.999 * _distance(scenario, cable)


def _carries(scenario: Scenario, name: str, cable: Cable) -> Iterator[Complaint]:
    path = ("cables", name, "carries")
    cores = cable.carries or ()
    own = cores_of(cable, scenario)
    for core in dict.fromkeys(cores):
        if core not in own:
            hint = f"it has: {', '.join(own)}"
            yield path, f"{cable.type!r} has no core {core!r}", hint
    if len(set(cores)) != len(cores):
        yield path, "names a core twice", "take one out"


def _distance(scenario: Scenario, cable: Cable) -> float:
    """Distance between a cable's places as far as it is known, m; 0 when it is not."""
    a, b = scenario.places.get(cable.from_), scenario.places.get(cable.to)
    if a is None or b is None or a.x is None or b.x is None:
        return 0.0
    rise = (a.height or 0.0) - (b.height or 0.0)
    return math.hypot(a.x - b.x, (a.y or 0.0) - (b.y or 0.0), rise)


def _laying(scenario: Scenario, name: str, cable: Cable, *, textbook: bool) -> Iterator[Complaint]:
    here = ("cables", name)
    if textbook:
        if cable.laying or cable.laid_with or cable.count != 1 or cable.metal_bonded:
            words = "a textbook line has no 'laying', 'laid with', 'metal bonded' or 'count'"
            yield here, words, "take them out"
    elif cable.laying is not None and cable.laid_with is not None:
        yield here, "has both 'laying' and 'laid with'", "keep one of the two"
    elif cable.laid_with is not None:
        yield from _companion(scenario, name, cable, cable.laid_with)
    elif cable.laying is None:
        hint = "for example 'laying: plastic duct 0.7 m deep' or 'laid with: field run'"
        yield here, "needs 'laying' or 'laid with'", hint


def _metal(scenario: Scenario, name: str, cable: Cable) -> Iterator[Complaint]:
    """Metal around a cable that has no bond to be given to, and bonds along the route."""
    layings = cable.laying or ()
    if cable.metal_bonded is None:
        for number, laying in enumerate(layings[1:-1], start=2):
            if laying.card is not None:
                words = (
                    f"the metal of its stretch {number} reaches no place: it is bonded to nothing"
                )
                hint = "bond it along the route, such as 'metal bonded: every 3 m to bond'"
                yield ("cables", name, "laying"), words, hint
        return
    here, other = ("cables", name, "metal bonded"), cable.metal_bonded.to
    beside = scenario.cables.get(other)
    if "screen" not in carried(cable, scenario) and not any(part.card for part in layings):
        words = "it has no screen and lies in no metal that could be bonded"
        yield here, words, "take it out, or lay it in metal"
    if beside is None:
        yield here, f"no other cable {other!r}", did_you_mean(other, scenario.cables)
    elif (
        other != name
        and beside.laid_with not in (name, cable.laid_with or name)
        and (cable.laid_with != other)
    ):
        yield here, f"{other!r} does not lie beside it", f"lay it with {name!r}"
    elif len([core for core in carried(beside, scenario) if core != "screen"]) != 1:
        words = f"{other!r} has more than one core to bond to"
        yield here, words, "name a cable of one core, or that carries one, such as 'carries: [pe]'"


def _in_soil(cable: Cable) -> bool:
    return any(laying.in_ == "plastic duct" for laying in cable.laying or ())


def _companion(scenario: Scenario, name: str, cable: Cable, other: str) -> Iterator[Complaint]:
    here = ("cables", name, "laid with")
    host = scenario.cables.get(other)
    if host is None or other == name:
        options = [option for option in scenario.cables if option != name]
        yield here, f"no other cable {other!r}", did_you_mean(other, options)
    elif (
        host.laying is None
        and host.laid_with is None
        and isinstance(scenario.cards.get(host.type), CableCard)
    ):
        return  # reported where the host lacks it
    elif host.laying is None:
        yield here, f"{other!r} has no 'laying' of its own", "name the cable that has it"
    elif cable.spacing is not None and cable.spacing.side != "beside" and _in_soil(host):
        hint = "in the soil a cable lies beside a duct, such as 'spacing: 0.4 m'"
        yield ("cables", name, "spacing"), "is above or below a duct", hint
    elif not {host.from_, host.to, cable.from_, cable.to} <= set(scenario.places):
        return  # reported with the references
    elif {host.from_, host.to} != {cable.from_, cable.to}:
        hint = "only cables between the same two places share a route"
        yield here, f"{other!r} does not join the same two places", hint
    elif _is_too_short(scenario, host) or _is_too_short(scenario, cable):
        return  # reported with the length
    elif host.length != cable.length:
        length = format_quantity(host.length, LENGTH)
        yield here, f"{other!r} is {length} long, this is not", "give both the same length"


def _earths(scenario: Scenario) -> Iterator[Complaint]:
    seen: dict[tuple[str, str], str] = {}
    for name, earth in scenario.earths.items():
        place = scenario.places.get(earth.at)
        if place is not None and earth.bar not in (*CONDUCTORS, *place.bars):
            hint = did_you_mean(earth.bar, ("pe", "frame", *place.bars))
            yield ("earths", name, "bar"), f"{earth.at!r} has no {shorten(earth.bar)!r}", hint
        first = seen.setdefault((earth.at, earth.bar), name)
        if first != name:
            bar = shorten(earth.bar)
            words = f"the {bar!r} of {earth.at!r} has an electrode already, {first!r}"
            yield ("earths", name), words, "describe both together, or give each its own bar"
        if earth.rod is not None and earth.rod.diameter >= earth.rod.length:
            yield ("earths", name, "rod"), "is thicker than long", "check the units"
        for key in ("soil", "water"):
            yield from _conducts(("earths", name, key), getattr(earth, key))


def _bonds(scenario: Scenario) -> Iterator[Complaint]:
    for name, bond in scenario.bonds.items():
        if bond.bare_in_soil is not None and f"bond {name}" in scenario.earths:
            words = f"what it leaks is listed as 'bond {name}', which an earth is called"
            yield ("bonds", name), words, "rename one"


def _conducts(path: tuple[str, ...], resistivity: float | None) -> Iterator[Complaint]:
    """Soil and water are refused where they would conduct better than anything on a site."""
    if resistivity is not None and resistivity < LEAST_RESISTIVITY:
        words = f"is less than any soil or water has, {LEAST_RESISTIVITY:g} ohm m"
        yield path, words, "sea water has 0.2 ohm m, lakes and soil 10 ohm m and more"
