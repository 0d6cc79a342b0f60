"""The soil that electrodes share: what one carries raises the others, and so does a stroke.

An electrode's resistance is that to remote earth. Its outer part, what lies beyond a hemisphere
of some size around it, is in common with the electrodes near it: that part becomes a network of
resistors between all of them, with the same resistance for each by itself. What the electrode
has inside its hemisphere stays where it was.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from surgesim.build.electrodes import worked_out
from surgesim.build.parts import Parts, label_of
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, AnyElement, Element, IonisingSoil, Resistor
from surgesim.physics.common_soil import (
    as_resistors,
    hemisphere_radius,
    mutual_resistance,
    struck_radius,
)
from surgesim.scenario.schema import Scenario

GROUP = "common soil"
CLOSEST = 1.01
"""Least distance of two electrodes over the sum of their sizes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Electrode:
    """An electrode, or the spot that a stroke enters, as others in the soil see it.

    ``x`` and ``y`` in m, ``resistance`` to remote earth in ohm, ``length`` in m of a rod, 0 of
    anything else, which is seen as a point.
    """

    name: str
    x: float
    y: float
    resistance: float
    length: float = 0.0

    def distance(self, other: Electrode) -> float:
        """Distance in m between the middles of two electrodes."""
        return math.hypot(self.x - other.x, self.y - other.y)

    def size(self, soil: float) -> float:
        """Radius in m of the hemisphere of the same resistance."""
        return hemisphere_radius(self.resistance, soil)


def electrodes(scenario: Scenario) -> Iterator[Electrode]:
    """The electrodes whose distances are known: each alone at a place with a position."""
    at_place = Counter(earth.at for earth in scenario.earths.values())
    for name, earth in scenario.earths.items():
        place = scenario.places[earth.at]
        if place.x is None or place.y is None or at_place[earth.at] > 1:
            continue
        yield Electrode(
            name=name,
            x=place.x,
            y=place.y,
            resistance=worked_out(earth, scenario.site.soil).resistance,
            length=earth.rod.length if earth.rod is not None else 0.0,
        )


def struck_spot(scenario: Scenario) -> Electrode | None:
    """The spot on the ground that the surge strikes, if it does: as large as the soil breaks down
    around it. Its own resistance raises nothing else."""
    spot, soil, name = scenario.surge.strikes_ground_at, scenario.site.soil, scenario.surge_name
    if spot is None:
        return None
    radius = struck_radius(scenario.surge.peak.value, soil)
    ohm = soil / (2.0 * math.pi * radius)
    return Electrode(name=name, x=spot.x, y=spot.y, resistance=ohm)


def common_soil(scenario: Scenario, parts: Iterable[Parts]) -> Iterator[Parts]:
    """The ``parts`` of the scenario's earths, those that see each other joined through the soil."""
    soil, parts = scenario.site.soil, list(parts)
    seen = list(electrodes(scenario))
    where = {f"earth {each.name}": k for k, each in enumerate(seen)}
    nodes = [f"{label_of('earth', each.name)}/common soil" for each in seen]
    spot = struck_spot(scenario)
    if spot is not None:
        seen.append(spot)
        nodes.append(struck_node(spot.name))
    if len(seen) < 2:
        yield from parts
        return
    _require_apart(seen, spot, scenario)
    radii = _outer_radii(seen, soil)
    for part in parts:
        k = where.get(part.elements[0].group)
        if k is None:
            yield part
            continue
        inside = 1.0 - seen[k].size(soil) / radii[k]
        moved = tuple(_moved(element, nodes[k], inside) for element in part.elements)
        yield replace(part, elements=moved)
    yield Parts(tuple(_network(seen, nodes, outer_matrix(seen, radii, soil))))


def struck_node(surge: str) -> str:
    """The node of the spot on the ground that a surge strikes."""
    return f"{label_of('surge', surge)}/foot"


def _require_apart(seen: list[Electrode], spot: Electrode | None, scenario: Scenario) -> None:
    """Raise InputError for two that stand closer than their size."""
    soil = scenario.site.soil
    for first, second in itertools.combinations(seen, 2):
        apart, sizes = first.distance(second), (first.size(soil), second.size(soil))
        if apart >= CLOSEST * sum(sizes):
            continue
        if second is spot:
            earth = scenario.earths[first.name]
            raise InputError.of(
                f"is {apart:.3g} m from {first.name!r}, closer than the {sizes[1]:.3g} m of soil"
                f" that break down around it and the electrode's own size of {sizes[0]:.3g} m",
                path=f"surges.{second.name}.strikes ground at",
                hint=f"describe a stroke into it, 'into: {earth.at} {earth.bar}'",
            )
        raise InputError.of(
            f"stands {apart:.3g} m from {first.name!r}, closer than their size: of these"
            f" resistances are hemispheres of {sizes[0]:.3g} m and {sizes[1]:.3g} m",
            path=f"earths.{second.name}",
            hint="describe both together as one",
        )


def _outer_radii(seen: list[Electrode], soil: float) -> list[float]:
    """Radius in m of each one's hemisphere: as large as they are clear of each other.

    Of a plain resistance any radius gives the same. Of a chain along an electrode, or of one
    whose soil ionises, what lies outside is cut off every rung alike and does not ionise: the
    larger the hemisphere, the less that is.
    """
    own = [each.size(soil) for each in seen]
    room = [math.inf] * len(seen)
    for i, j in itertools.combinations(range(len(seen)), 2):
        apart = seen[i].distance(seen[j]) / (own[i] + own[j])
        clear = max(math.sqrt(apart), apart / 2.0)
        room[i], room[j] = min(room[i], clear), min(room[j], clear)
    return [radius * factor for radius, factor in zip(own, room, strict=True)]


def _moved(element: AnyElement, node: str, inside: float) -> AnyElement:
    """What an electrode has at remote earth, put on its ``node`` in the common soil instead, its
    resistance cut to the share ``inside`` the hemisphere."""
    if not isinstance(element, Element) or GROUND not in (element.a, element.b):
        return element
    a, b = (node if end == GROUND else end for end in (element.a, element.b))
    if isinstance(element, Resistor | IonisingSoil):
        return replace(element, a=a, b=b, resistance=inside * element.resistance)
    return replace(element, a=a, b=b)


def _network(
    seen: list[Electrode], nodes: list[str], outer: NDArray[np.float64]
) -> Iterator[AnyElement]:
    """Resistors between the nodes in the common soil, and to remote earth."""
    try:
        found = as_resistors(outer)
    except ValueError as error:
        names = ", ".join(repr(each.name) for each in seen)
        hint = "describe electrodes so close together as one"
        raise InputError.of(f"{error}: {names}", path="earths", hint=hint) from None
    for i, j in itertools.combinations(range(len(seen)), 2):
        if found.between[i, j] > 0.0:
            yield _resistor(
                f"{nodes[i]} to {seen[j].name}", nodes[i], nodes[j], found.between[i, j]
            )
    for node, siemens in zip(nodes, found.to_earth, strict=True):
        if siemens > 0.0:
            yield _resistor(f"{node} to remote earth", node, GROUND, siemens)


def _resistor(name: str, a: str, b: str, siemens: float) -> Resistor:
    return Resistor(name=name, a=a, b=b, resistance=float(1.0 / siemens), group=GROUP)


def outer_matrix(seen: list[Electrode], radii: list[float], soil: float) -> NDArray[np.float64]:
    """Resistances of the common soil in ohm, (n, n): each hemisphere's own, and between them."""
    matrix = np.diag([soil / (2.0 * math.pi * radius) for radius in radii])
    for i, j in itertools.combinations(range(len(seen)), 2):
        matrix[i, j] = matrix[j, i] = distance_and_mutual(seen[i], seen[j], soil)[1]
    return matrix


def distance_and_mutual(first: Electrode, second: Electrode, soil: float) -> tuple[float, float]:
    """How far apart two are, m, and what 1 A in one raises the other, V."""
    apart = first.distance(second)
    return apart, mutual_resistance(apart, soil, first=first.length, second=second.length)
