"""What the builders take for granted, said in words for every result."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.cables import WALL
from surgesim.build.soil import electrodes
from surgesim.catalogue.cards import GapArrester
from surgesim.physics.induction import Channel
from surgesim.scenario.devices import legs
from surgesim.scenario.nearby import source_of
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import carried


def modelled(scenario: Scenario) -> Iterator[str]:
    """Assumptions of the model itself that bear on this scenario."""
    laid = [cable for cable in scenario.cables.values() if cable.laying is not None]
    if any(cable.count > 1 for cable in laid) or len(scenario.cables) > len(laid) > 0:
        yield "cables laid together, and equal runs of one cable, lie close-packed"
    ways = [laying for cable in laid for laying in cable.laying or ()]
    if any(laying.in_ == "plastic duct" for laying in ways):
        yield (
            f"duct wall {100 * WALL:g} % of the duct's width, counted as air"
            " (common practice, no source)"
        )
    if laid:
        yield from _metal(scenario)
        yield "soil's loss at joints along a line: peaks within 1.5 % of one spread evenly"
        if any(len(carried(cable, scenario)) > 1 for cable in laid):
            yield "cores of one cable change places along the route: no pole is nearer to another"
    yield from _arcs(scenario)
    stands = scenario.supply or scenario.batteries
    if stands and (scenario.surge.channel or scenario.surge.source_impedance):
        yield "a surge's own impedance passes no direct current"
    yield from _in_the_soil(scenario)
    yield from _beside(scenario)
    if scenario.arresters:
        slots = scenario.arresters.values()
        cards = [scenario.cards[leg.card] for slot in slots for leg in legs(slot, scenario.cards)]
        if any(isinstance(card, GapArrester) for card in cards):
            yield (
                "gaps recover at their current's end by one time constant; the milliseconds to"
                " their full strength are not modelled"
            )
        yield "varistors follow their 8/20 curve at every front: steeper ones read 5 to 15 % low"
    yield from _condition(scenario)


def _condition(scenario: Scenario) -> Iterator[str]:
    """In which condition arresters are taken."""
    if scenario.arresters and not scenario.arrester_tolerance.startswith("unequal"):
        yield "all elements equal: with one 10 % lower than its twin, it carries up to 1.8 times"
    if scenario.arresters and scenario.arrester_condition in ("hot", "cold"):
        yield (
            "arresters hot at 70 degC, cold at -25 degC (no source): -0.05 %/K at 1 mA and none at"
            " In, leak by 0.5 eV (from memory)"
        )
    if scenario.arresters and scenario.arrester_condition == "aged":
        yield (
            "arresters aged: 10 % less at 1 mA, where tests count a disc as failed (from memory),"
            " ten times the leak (a guess), as new at In"
        )
    if any(slot.failed for slot in scenario.arresters.values()):
        yield "a failed element is open, or a short of 0.1 ohm (a guess)"


def _metal(scenario: Scenario) -> Iterator[str]:
    cables = scenario.cables.values()
    yield (
        "skin effect of round solid wires, at both ends of a route; what neighbours add to it"
        " is left out"
    )
    lies_in = any(laying.in_ == "metal" for cable in cables for laying in cable.laying or ())
    if lies_in or any("screen" in carried(cable, scenario) for cable in cables):
        yield (
            "metal around cables holds its direct-current resistance at every frequency:"
            " behind closed metal voltages read high"
        )


def _in_the_soil(scenario: Scenario) -> Iterator[str]:
    ionising = [name for name, earth in scenario.earths.items() if earth.ionises_at is not None]
    if len(ionising) < len(scenario.earths):
        yield (
            "earths keep their resistance whatever the current: soil does not ionise"
            " unless an earth says so"
        )
    if ionising:
        yield (
            "ionised soil follows its current without delay (CIGRE TB 63, from memory), and its"
            " resistance is whole again as soon as the current falls"
        )
    if any(earth.lumped is None for earth in scenario.earths.values()):
        yield (
            "electrodes as chains without the soil's capacitance, nor what one path induces in"
            " another: steep rises in poor soil, above 1000 ohm m, read high"
        )
    bare = [bond for bond in scenario.bonds.values() if bond.bare_in_soil is not None]
    if any(bond.laid_with is None for bond in bare):
        yield (
            "bare bonds in soil induce nothing in cables that they are not laid with nor these in"
            " them: what stands between such a cable and its ends reads high on a steep front,"
            " twice and more within half a metre"
        )
    if any(bond.laid_with is not None for bond in bare):
        yield (
            "a bare bond laid with a cable leaks evenly into soil of ten times the permittivity of"
            " air (common practice, no source)"
        )
    if bare:
        yield (
            "bare bonds share no soil with the earths at their ends: both together read up to a"
            " tenth low"
        )


def _arcs(scenario: Scenario) -> Iterator[str]:
    """What is taken for granted about insulation that has fired."""
    pairs = [pair for thing in scenario.equipment.values() for pair in thing.pairs.values()]
    if any(pair.flashover is not None for pair in pairs):
        yield "insulation that flashes over becomes an arc of 0.1 ohm and stays one (a guess)"
    if any(pair.arc_voltage is not None for pair in pairs):
        yield "an arc holds the same voltage at every current, in series with its resistance"


def _beside(scenario: Scenario) -> Iterator[str]:
    """What is taken for granted of soil and field between things that do not touch."""
    seen = [each.name for each in electrodes(scenario)]
    unseen = [name for name in scenario.earths if name not in seen]
    if len(seen) > 1 or (seen and scenario.surge.strikes_ground_at):
        yield (
            "soil uniform; electrodes see each other as rods, or as hemispheres of their resistance"
        )
    if unseen and len(scenario.earths) > 1:
        named = ", ".join(unseen)
        yield (
            "earths do not raise each other where a position is missing or several share a place"
            f" [{named}]"
        )
    if scenario.loops:
        yield "a loop of strings as one wire in air, its strings without each other's flux"
    source = source_of(scenario.surge)
    if source is None:
        return
    yield (
        "beside a current, cables run straight and level between their places, straight up or"
        " down at their ends"
    )
    if isinstance(source, Channel):
        yield (
            "a return stroke's current runs up its upright channel unchanged (transmission-line"
            " model; Uman and McLain 1969, from memory)"
        )
        layings = [one for cable in scenario.cables.values() for one in cable.laying or ()]
        if any(laying.in_ == "air" for laying in layings):
            yield (
                "without the channel's charge: a route in air may have 30 ohm x peak x height /"
                " distance on top (Rusck 1958, from memory)"
            )
    else:
        yield (
            "a conductor acts by its own length and image alone, and not on routes in the soil:"
            " what feeds and drains it is left out"
        )
