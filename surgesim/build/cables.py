"""Cables: routes of one or more cables laid together, each route one multiconductor line."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.build.metal import Metal
from surgesim.build.parts import Parts, at, label_of
from surgesim.build.routes import WALL, Band, Core, route_constants
from surgesim.build.tapes import Tape, tape_beside
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import TextbookLine
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, AnyElement, Inductor, Line, Resistor
from surgesim.network.halves import half_names
from surgesim.physics.conductors import LineConstants
from surgesim.physics.modes import Modes, decompose
from surgesim.scenario.schema import Cable, Scenario

__all__ = ["WALL", "Band", "Core", "Stretch", "cables", "route_constants", "stretches"]

WHOLE = 0.03
"""What the soil adds at the front's frequency, as a share of the impedance that the line has for
all conductors together, up to which it may stand at the two ends of the whole line."""

PIECES = 4.0
"""Beyond that it stands at joints along the line by Simpson's rule, on so many pieces for each
front that the line is long, and for the root of that share. Of 400 random lines by themselves,
10 to 200 m, the peaks were within 0.3 % of those with the soil spread out, and moved by less than
0.2 % where the line was cut in two."""

MOST_PIECES = 100


def cables(
    scenario: Scenario,
    band: Band,
    cable_side: dict[str, str],
    *,
    wall: float = WALL,
    in_halves: bool = False,
) -> Iterator[Parts]:
    """The lines of a scenario. ``cable_side`` maps a terminal's node to the node at which
    cables end there, where an arrester in V wiring stands between the two. ``wall`` is that of
    a duct, as a share of its width. ``in_halves`` cuts every piece of a route in two, with the
    soil spread over twice as many joints.
    """
    for name, cable in scenario.cables.items():
        card = scenario.cards[cable.type]
        if isinstance(card, TextbookLine):
            yield Parts((_textbook(name, cable, card, cable_side),))
        elif cable.laid_with is None:
            companions = {n: c for n, c in scenario.cables.items() if c.laid_with == name}
            route = {name: cable, **companions}
            tape = tape_beside(scenario, name)
            earths = () if tape is None else (tape.probe(cable.from_),)
            made = _route(
                route, scenario, band, cable_side, wall=wall, tape=tape, in_halves=in_halves
            )
            yield Parts(tuple(made), earths=earths)


def _textbook(name: str, cable: Cable, card: TextbookLine, cable_side: dict[str, str]) -> Line:
    ends = [at(place, card.cores[0]) for place in (cable.from_, cable.to)]
    near, far = (cable_side.get(end, end) for end in ends)
    return Line(
        name=name, group=f"cable {name}", near=(near,), far=(far,), voltage_modes=((1.0,),),
        impedance=(card.surge_impedance.value,), delay=(cable.length / card.velocity.value,),
        resistance=(0.0,),
    )  # fmt: skip


def _route(
    route: dict[str, Cable],
    scenario: Scenario,
    band: Band,
    cable_side: dict[str, str],
    *,
    wall: float,
    tape: Tape | None,
    in_halves: bool,
) -> Iterator[AnyElement]:
    """The cables of one route as lines in a row, half of each conductor's metal at either end.

    The metal's resistance stands on the conductors themselves: among the modes it would be a
    full matrix, and its diagonal alone makes equal poles unequal.
    """
    parts = list(stretches(route, scenario, band, wall=wall))
    ohms: dict[Core, float] = {}
    for part in parts:
        for core, ohm in zip(part.cores, part.length * part.constants.resistance, strict=True):
            ohms[core] = ohms.get(core, 0.0) + float(ohm)
    group = "cable " + ", ".join(route)
    inner: dict[tuple[str, Core], str] = {}
    places = ((parts[0].host.from_, parts[0]), (parts[-1].host.to, parts[-1]))
    for core, ohm in ohms.items():
        for end in (end for end, part in places if core in part.cores):
            outer, extra = at(end, core.name), 0.0
            if tape is not None and core.bare:
                last = end == places[1][0]
                outer, extra = (tape.start, tape.end)[last], tape.joints[last]
            metal = Metal(
                label=f"{label_of('cable', core.cable)}/{core.name} at {end}",
                outer=cable_side.get(outer, outer),
                ohm=0.5 * ohm + extra,
                wire=_wire(core, route, scenario),
                group=group,
            )
            inner[end, core], elements = metal.chain(band)
            yield from elements
    for part in parts:
        ends = [
            [inner.get((end, core)) or f"{label_of('cable', core.cable)}/{core.name} at {end}"
             for core in part.cores]
            for end in (part.host.from_, part.host.to)
        ]  # fmt: skip
        pieces = _Pieces(part.name, part.host, part.constants, band, group, tape, in_halves)
        yield from pieces.elements(ends, part.cores)


def _wire(core: Core, route: dict[str, Cable], scenario: Scenario) -> float | None:
    """Resistance of one wire of a conductor, ohm/m; None where it is no round wire alone."""
    joined = {cable.metal_bonded.to for cable in route.values() if cable.metal_bonded}
    card = scenario.cards[route[core.cable].type]
    if core.metal or core.bare or core.cable in joined or not isinstance(card, CableCard):
        return None
    return card.resistance.value


@dataclass(frozen=True, slots=True)
class Stretch:
    """A route, or the part of it that is laid in one way.

    ``host`` is the route's first cable as if it were as long as this part; where it begins or
    ends between two stretches, a name that no place has stands for that.
    """

    name: str
    host: Cable
    constants: LineConstants
    cores: list[Core]

    @property
    def length(self) -> float:
        """Length in m."""
        return self.host.length


def stretches(
    route: dict[str, Cable], scenario: Scenario, band: Band, *, wall: float = WALL
) -> Iterator[Stretch]:
    """The stretches of a route from its first cable's ``from`` to its ``to``."""
    name, host = next(iter(route.items()))
    layings = host.laying or ()
    last = len(layings)
    for k, laying in enumerate(layings, start=1):
        constants, kept = route_constants(route, scenario, band, laying=laying, wall=wall)
        cut = {
            "length": host.length if laying.length is None else laying.length,
            "from_": host.from_ if k == 1 else f"change/{k - 1}",
            "to": host.to if k == last else f"change/{k}",
            "laying": (laying,),
        }
        whole = name if last == 1 else f"{name}/stretch {k} of {last}"
        yield Stretch(whole, host.model_copy(update=cut), constants, kept)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """A route as equal pieces in a row, the soil's loss where one ends and the next begins."""

    name: str
    host: Cable
    constants: LineConstants
    band: Band
    group: str
    tape: Tape | None
    in_halves: bool

    def elements(self, ends: list[list[str]], cores: list[Core]) -> Iterator[AnyElement]:
        """Lines between the nodes ``ends`` on either side, and the soil where they end.

        At a joint one sum of currents flows from piece to piece: its soil stands there once.
        """
        modes = decompose(self.constants.inductance, self.constants.capacitance)
        names = self._names(self._count(modes))
        count = len(names)
        length = self.host.length / count
        joints = [ends[0], *(self._joint(k, cores) for k in range(1, count)), ends[1]]
        inner = [f"joint/{k}" for k in range(1, count)]
        places = [self.host.from_, *inner, self.host.to]
        soils = [
            (where, length * share) for where, share in zip(places, _simpson(count), strict=True)
        ]
        references = [self._reference(where) for where, _ in soils]
        for k, (near, far) in enumerate(itertools.pairwise(joints)):
            yield Line(
                name=names[k],
                group=self.group,
                near=tuple(near),
                far=tuple(far),
                voltage_modes=tuple(tuple(map(float, row)) for row in modes.voltage_modes),
                impedance=_floats(modes.impedance),
                delay=_floats(length / modes.velocity),
                resistance=(0.0,) * len(near),
                near_reference=references[0] if k == 0 else GROUND,
                far_reference=references[k + 1],
            )
        for (where, metres), reference in zip(soils, references, strict=True):
            yield from self._soil(f"{self._label}/soil at {where}", reference, metres)
        if self.tape is not None:
            (bare,) = (k for k, core in enumerate(cores) if core.bare)
            yield from self.tape.leaks([joint[bare] for joint in joints], self.group)

    def _names(self, count: int) -> list[str]:
        whole = [f"{self.name}, piece {k} of {count}" for k in range(1, count + 1)]
        names = whole if count > 1 else [self.name]
        return [half for name in names for half in half_names(name)] if self.in_halves else names

    @property
    def _label(self) -> str:
        return label_of("cable", self.name)

    def _reference(self, where: str) -> str:
        """Node of the soil at an end or a joint; remote earth where it is in nobody's way."""
        lossy = np.any(self.constants.earth.resistance > 0.0)
        return f"{self._label}/soil at {where}" if lossy else GROUND

    def _count(self, modes: Modes) -> int:
        """Pieces short enough for the soil to stand at their ends.

        They are the shorter the steeper the front, whose wave the soil slows down as well; and the
        more the soil is in the way of what swings along the whole line.
        """
        together = np.linalg.solve(
            (modes.voltage_modes * modes.impedance) @ modes.voltage_modes.T,
            np.ones(len(modes.impedance)),
        )
        added = abs(self.constants.earth.impedance(self.band.front)) * self.host.length
        share = added * float(together.sum())
        front = 1.0 / (math.pi * self.band.front)
        crossed = self.host.length / float(modes.velocity[-1]) * (1.0 + share) ** 0.4
        wanted = PIECES * (crossed / front + math.sqrt(share)) if share > WHOLE else 1.0
        if self.tape is not None:
            wanted = max(wanted, self.tape.pieces(self.band.front))
        count = 2 * math.ceil(wanted / 2) if wanted > 1.0 else 1
        if count > MOST_PIECES:
            raise InputError.of(
                f"{self.host.length:g} m are too long for this surge: the soil under them adds"
                f" {added:.3g} ohm to its front, which would need {count} pieces, more than"
                f" {MOST_PIECES}",
                path=f"cables.{self.name.partition('/')[0]}.length",
                hint="of such a front little arrives there; leave out what lies behind it",
            )
        return count

    def _joint(self, number: int, cores: list[Core]) -> list[str]:
        # no place's name holds a slash
        _, _, stretch = self.name.partition("/")
        joint = f"joint/{stretch}/{number}" if stretch else f"joint/{number}"
        return [f"{label_of('cable', c.cable)}/{c.name} at {joint}" for c in cores]

    def _soil(self, label: str, reference: str, metres: float) -> Iterator[AnyElement]:
        """The chain from a reference to remote earth."""
        earth = self.constants.earth
        felt = [k for k, ohm in enumerate(earth.resistance) if ohm > 0.0]
        nodes = [reference, *(f"{label}/{k}" for k in range(1, len(felt))), GROUND]
        for k, (a, b) in zip(felt, itertools.pairwise(nodes), strict=False):
            ohm = float(earth.resistance[k] * metres)
            name, henry = f"{a}/loss", ohm * float(earth.time[k])
            yield Resistor(name=name, a=a, b=b, resistance=ohm, group=self.group)
            yield Inductor(name=f"{a}/lag", a=a, b=b, inductance=henry, group=self.group)


def _simpson(count: int) -> list[float]:
    """Shares of a piece's soil at the ends of ``count`` pieces; halves for a single one.

    An error of fourth order in the pieces' length. Half of each piece's soil at either end of it,
    an error of second order, takes three times as many for the same.
    """
    if count == 1:
        return [1 / 2, 1 / 2]
    return [1 / 3, *(4 / 3 if k % 2 else 2 / 3 for k in range(1, count)), 1 / 3]


def _floats(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)
