"""Where a current beside the installation flows, and where the cables lie that it acts on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.catalogue.cards import SurgeShape, TextbookLine
from surgesim.physics.common_soil import struck_radius
from surgesim.physics.induced import starts_gently
from surgesim.physics.induction import Channel, Conductor, clearance
from surgesim.physics.induction import Point as Triple
from surgesim.reading.names import did_you_mean
from surgesim.scenario.laying import Laying, Spacing
from surgesim.scenario.references import Complaint
from surgesim.scenario.schema import Cable, Scenario, Surge

TOUCHING = 0.02
"""m. A cable whose axis is nearer than this to a down-conductor's touches it."""


def source_of(surge: Surge) -> Channel | Conductor | None:
    """The current outside the installation that its loops are coupled to; None where the surge
    has none."""
    if surge.strikes_ground_at is not None:
        return Channel(surge.strikes_ground_at.x, surge.strikes_ground_at.y)
    if surge.flows_in is not None:
        return Conductor(surge.flows_in.from_.position, surge.flows_in.to.position)
    return None


@dataclass(frozen=True, slots=True)
class Course:
    """A part of a cable's route that is laid in one way: straight and level from ``start`` to
    ``end``, at the height of its ``laying``, at the ground's surface in a duct."""

    laying: Laying
    start: Triple
    end: Triple

    @property
    def path(self) -> tuple[Triple, Triple]:
        """Its two ends, each (x, y, height) in m."""
        return self.start, self.end


def courses(cable: Cable, scenario: Scenario) -> tuple[Course, ...]:
    """The way of a cable straight from one of its places to the other, in order; nothing for one
    without a laying or a position."""
    a, b = scenario.places.get(cable.from_), scenario.places.get(cable.to)
    if a is None or b is None or a.x is None or a.y is None or b.x is None or b.y is None:
        return ()
    found, begun = [], 0.0
    for laying in cable.laying or ():
        ended = begun + (cable.length if laying.length is None else laying.length) / cable.length
        height = 0.0 if laying.in_ == "plastic duct" else laying.distance
        start, end = (
            (a.x + share * (b.x - a.x), a.y + share * (b.y - a.y), height)
            for share in (begun, ended)
        )
        found.append(Course(laying, start, end))
        begun = ended
    return tuple(found)


def spaced(host: str, scenario: Scenario) -> dict[str, Spacing]:
    """The cables at a spacing from the first one of a route, and where they lie.

    None beside a duct: level with it in the soil they make a flat loop, in which an upright
    channel induces nothing.
    """
    layings = scenario.cables[host].laying or ()
    if any(laying.in_ == "plastic duct" for laying in layings):
        return {}
    return {
        name: cable.spacing
        for name, cable in scenario.cables.items()
        if cable.laid_with == host and cable.spacing is not None
    }


def loop_beside(path: tuple[Triple, Triple], spacing: Spacing) -> tuple[Triple, ...]:
    """Along a cable at a spacing from a level path, and back along that path: closed."""
    (ax, ay, z), (bx, by, _) = path
    length = math.hypot(bx - ax, by - ay)
    right = spacing.across * (by - ay) / length, -spacing.across * (bx - ax) / length
    near, far = ((x + right[0], y + right[1], z + spacing.up) for x, y in ((ax, ay), (bx, by)))
    return path[0], near, far, path[1], path[0]


def _clear(name: str, source: Channel | Conductor, scenario: Scenario) -> float:
    """Shortest distance of a cable from a current, m; without end where it lies nowhere, or in the
    bundle of another."""
    host = scenario.cables[name].laid_with
    paths: list[tuple[Triple, ...]] = []
    if host is None:
        paths = [course.path for course in courses(scenario.cables[name], scenario)]
    elif host in scenario.cables and name in (apart := spaced(host, scenario)):
        found = courses(scenario.cables[host], scenario)
        paths = [loop_beside(course.path, apart[name])[1:3] for course in found]
    return min((clearance(path, source) for path in paths), default=math.inf)


def positions(scenario: Scenario) -> Iterator[Complaint]:
    """Everything that stands where it cannot, or stands nowhere where a position is needed."""
    yield from _loops(scenario)
    for name, surge in scenario.surges.items():
        if source_of(surge) is not None:
            yield from _shape(name, surge, scenario)
            yield from _unplaced(name, surge, scenario)
            yield from _struck(name, surge, scenario)
            yield from _touching(name, surge, scenario)


def _loops(scenario: Scenario) -> Iterator[Complaint]:
    owners: dict[str, str] = {}
    for name, loop in scenario.loops.items():
        if loop.of not in scenario.supply:
            hint = did_you_mean(loop.of, scenario.supply) or "a loop belongs to an array"
            yield ("loops", name, "of"), f"no supply {loop.of!r}", hint
        first = owners.setdefault(loop.of, name)
        if first != name:
            words = f"{loop.of!r} has a loop already, {first!r}"
            yield ("loops", name, "of"), words, "describe its strings as one loop"


def _shape(name: str, surge: Surge, scenario: Scenario) -> Iterator[Complaint]:
    card = scenario.cards.get(surge.card)
    if isinstance(card, SurgeShape) and not starts_gently(card.waveform(surge.peak.value)):
        words = f"{surge.card!r} begins with its steepest rise: what it induces would jump"
        hint = "take a stroke's shape, such as 10/350, 1/200 or 0.25/100"
        yield ("surges", name, "shape"), words, hint


def _unplaced(name: str, surge: Surge, scenario: Scenario) -> Iterator[Complaint]:
    """What has to stand somewhere for the surge to be computed."""
    key = "strikes ground at" if surge.strikes_ground_at is not None else "flows in"
    wanted = [(place, "cables", cable) for cable, thing in scenario.cables.items()
              for place in (thing.from_, thing.to)]  # fmt: skip
    if surge.strikes_ground_at is not None:
        wanted += [(thing.at, "earths", earth) for earth, thing in scenario.earths.items()]
    missing = dict.fromkeys(
        place for place, _, _ in wanted
        if place in scenario.places and scenario.places[place].x is None
    )  # fmt: skip
    if missing:
        names = ", ".join(repr(place) for place in missing)
        words = f"needs the position of every cable's end and electrode; {names} has none"
        yield ("surges", name, key), words, "for example 'x: 0 m, y: 0 m'"
    for bond, wire in scenario.bonds.items():
        if surge.strikes_ground_at is not None and wire.bare_in_soil is not None:
            words = f"cannot be computed beside {bond!r}, bare in soil whose potential it raises"
            yield ("surges", name, key), words, "leave the bond out, or take it as insulated"
    for cable, thing in scenario.cables.items():
        if isinstance(scenario.cards.get(thing.type), TextbookLine):
            words = f"cannot be coupled to {cable!r}, a textbook line, which lies nowhere"
            yield ("surges", name, key), words, "use a cable with a 'laying'"


def _struck(name: str, surge: Surge, scenario: Scenario) -> Iterator[Complaint]:
    spot = surge.strikes_ground_at
    if spot is None:
        return
    broken = struck_radius(surge.peak.value, scenario.site.soil)
    for cable in scenario.cables:
        apart = _clear(cable, Channel(spot.x, spot.y), scenario)
        if apart < broken:
            words = (
                f"strikes {apart:.3g} m from {cable!r}, inside the {broken:.3g} m of soil that"
                " break down around it: the stroke would enter the cable"
            )
            yield ("surges", name, "strikes ground at"), words, "move it away from the cable"


def _touching(name: str, surge: Surge, scenario: Scenario) -> Iterator[Complaint]:
    source = source_of(surge)
    for loop, wiring in scenario.loops.items():
        if source is not None and clearance(wiring.around, source) < TOUCHING:
            key = "flows in" if isinstance(source, Conductor) else "strikes ground at"
            words = f"touches the loop {loop!r}: it has no distance from the current"
            yield ("surges", name, key), words, "keep them apart"
    if not isinstance(source, Conductor):
        return
    for cable in scenario.cables:
        if _clear(cable, source, scenario) < TOUCHING:
            words = f"touches the cable {cable!r}: their loop has no distance from the current"
            yield ("surges", name, "flows in"), words, "keep them apart"
