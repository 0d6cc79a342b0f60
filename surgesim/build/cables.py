"""Cables: routes of one or more cables laid together, each route one multiconductor line."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.build.parts import Parts, at, label_of
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import TextbookLine
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, AnyElement, Inductor, Line, Resistor
from surgesim.physics.bundle import packed_in_air, packed_in_duct, parallel_reduced, transposed
from surgesim.physics.conductors import (
    Conductor,
    LineConstants,
    aerial_constants,
    duct_constants,
    solid_radius,
)
from surgesim.physics.modes import Modes, decompose
from surgesim.scenario.schema import Cable, Scenario
from surgesim.scenario.terminals import carried

WHOLE = 0.01
"""Loss of the soil at the front's frequency, as a share of the impedance that the line has for
all conductors together, up to which it may stand at the two ends of the whole line."""

PIECE = 1.0 / 16.0
"""Beyond that it stands at joints along the line, at each at most this share. Against the same
line with its loss spread out peaks so are within 1.5 % (tests/build/test_soil.py). All of it at
the two ends read a pole to its bar 10 % low where it was 6 %."""

SHORT = 8.0
"""Pieces that a front is long, with no more than ``COARSE`` lost at each joint, are short enough:
in shorter ones nothing moved by more than 0.1 %."""

COARSE = 1.0 / 8.0

MOST_PIECES = 100

WALL = 0.06
"""Wall of a plastic duct as a share of its inner width (common practice, no source). The soil
begins outside it; the wall itself counts as air."""


@dataclass(frozen=True, slots=True)
class Band:
    """Frequencies of the surge, Hz, between which and beyond a line's soil is followed."""

    front: float
    tail: float


@dataclass(frozen=True, slots=True)
class Core:
    """One conductor of a route before equal runs are joined: its cable and its name there."""

    cable: str
    name: str
    card: CableCard


def cables(
    scenario: Scenario, band: Band, cable_side: dict[str, str], *, wall: float = WALL
) -> Iterator[Parts]:
    """The lines of a scenario. ``cable_side`` maps a terminal's node to the node at which
    cables end there, where an arrester in V wiring stands between the two. ``wall`` is that of
    a duct, as a share of its width.
    """
    for name, cable in scenario.cables.items():
        card = scenario.cards[cable.type]
        if isinstance(card, TextbookLine):
            yield Parts((_textbook(name, cable, card, cable_side),))
        elif cable.laid_with is None:
            companions = {n: c for n, c in scenario.cables.items() if c.laid_with == name}
            route = {name: cable, **companions}
            yield Parts(tuple(_route(route, scenario, band, cable_side, wall=wall)))


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
) -> Iterator[AnyElement]:
    """The cables of one route as one line, half of each conductor's metal at either end.

    The metal's resistance stands on the conductors themselves: among the modes it would be a
    full matrix, and its diagonal alone makes equal poles unequal.
    """
    host_name, host = next(iter(route.items()))
    constants, kept = route_constants(route, scenario, band, wall=wall)
    ohms = 0.5 * host.length * constants.resistance
    group = "cable " + ", ".join(route)
    inner: list[list[str]] = [[], []]
    for core, ohm in zip(kept, ohms, strict=True):
        for side, place in enumerate((host.from_, host.to)):
            end = _end(core, route[core.cable], place)
            outer = cable_side.get(end, end)
            label = f"{label_of('cable', core.cable)}/{core.name} at {place}"
            inner[side].append(label if ohm > 0 else outer)
            if ohm > 0:
                yield Resistor(name=label, a=outer, b=label, resistance=float(ohm), group=group)
    yield from _Pieces(host_name, host, constants, band, group).elements(inner, kept)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """A route as equal pieces in a row, the soil's loss where one ends and the next begins."""

    name: str
    host: Cable
    constants: LineConstants
    band: Band
    group: str

    def elements(self, ends: list[list[str]], cores: list[Core]) -> Iterator[AnyElement]:
        """Lines between the nodes ``ends`` on either side, and the soil where they end.

        At a joint one sum of currents flows from piece to piece: its soil stands there once.
        """
        modes = decompose(self.constants.inductance, self.constants.capacitance)
        count = self._count(modes)
        length = self.host.length / count
        joints = [ends[0], *(self._joint(k, cores) for k in range(1, count)), ends[1]]
        soils = [(self.host.from_, length / 2), *((f"joint/{k}", length) for k in range(1, count)),
                 (self.host.to, length / 2)]  # fmt: skip
        references = [self._reference(where) for where, _ in soils]
        for k, (near, far) in enumerate(itertools.pairwise(joints)):
            yield Line(
                name=self.name if count == 1 else f"{self.name}, piece {k + 1} of {count}",
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

    @property
    def _label(self) -> str:
        return label_of("cable", self.name)

    def _reference(self, where: str) -> str:
        """Node of the soil at an end or a joint; remote earth where it is in nobody's way."""
        lossy = np.any(self.constants.earth.resistance > 0.0)
        return f"{self._label}/soil at {where}" if lossy else GROUND

    def _count(self, modes: Modes) -> int:
        """Pieces short enough for each one's loss to stand at its ends."""
        together = np.linalg.solve(
            (modes.voltage_modes * modes.impedance) @ modes.voltage_modes.T,
            np.ones(len(modes.impedance)),
        )
        lost = self.constants.earth.impedance(self.band.front).real * self.host.length
        share = lost * float(together.sum())
        count = 1 + math.ceil(share / PIECE) if share > WHOLE else 1
        front = 1.0 / (math.pi * self.band.front)
        crossed = self.host.length / float(modes.velocity[-1])
        count = min(count, max(math.ceil(SHORT * crossed / front), 1 + math.ceil(share / COARSE)))
        if count > MOST_PIECES:
            raise InputError.of(
                f"{self.host.length:g} m are too long for this surge: the soil under them takes"
                f" {lost:.3g} ohm from its front, which would need {count} pieces, more than"
                f" {MOST_PIECES}",
                path=f"cables.{self.name}.length",
                hint="of such a front little arrives there; leave out what lies behind it",
            )
        return count

    def _joint(self, number: int, cores: list[Core]) -> list[str]:
        # no place's name holds a slash
        return [f"{label_of('cable', c.cable)}/{c.name} at joint/{number}" for c in cores]

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


def _floats(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _end(core: Core, cable: Cable, place: str) -> str:
    if place not in (cable.from_, cable.to):
        raise ValueError(f"cable {core.cable!r} does not end at {place!r}")
    return at(place, core.name)


def route_constants(
    route: dict[str, Cable], scenario: Scenario, band: Band, *, wall: float = WALL
) -> tuple[LineConstants, list[Core]]:
    """Line constants of the cables in ``route``, equal runs joined, and its conductors in order.

    The first cable says how the route is laid; the others lie close-packed beside it.
    """
    host_name, host = next(iter(route.items()))
    cores, groups = _cores(route, scenario)
    laying = host.laying
    if laying is None:
        raise ValueError(f"cable {host_name!r} has no laying of its own")
    diameters = [core.card.core_diameter.value for core in cores]
    resistance = np.array([core.card.resistance.value for core in cores])
    try:
        if laying.in_ == "air":
            spots = packed_in_air(diameters, height=laying.distance)
            constants = aerial_constants(
                _conductors(cores, spots), soil=scenario.site.soil, front_frequency=band.front,
                tail_frequency=band.tail, resistance=resistance,
            )  # fmt: skip
        else:
            assert laying.width is not None
            _require_buried(laying.width * (0.5 + wall), laying.distance)
            spots = packed_in_duct(diameters, inner_radius=laying.width / 2)
            constants = duct_constants(
                _conductors(cores, spots), duct_radius=laying.width * (0.5 + wall),
                depth=laying.distance,
                soil=scenario.site.soil, front_frequency=band.front, tail_frequency=band.tail,
                resistance=resistance,
            )  # fmt: skip
    except ValueError as error:
        raise InputError.of(str(error), path=f"cables.{host_name}.laying") from None
    kept = [cores[group[0]] for group in groups]
    joined = parallel_reduced(constants, groups)
    return transposed(joined, _of_one_cable(kept)), kept


def _of_one_cable(cores: list[Core]) -> list[list[int]]:
    """The conductors that change places with each other along the route: those of one cable."""
    members: dict[str, list[int]] = {}
    for index, core in enumerate(cores):
        members.setdefault(core.cable, []).append(index)
    return list(members.values())


def _require_buried(radius: float, depth: float) -> None:
    """Raise ValueError for a duct that would look out of the ground."""
    if depth <= radius:
        raise ValueError(
            f"a duct {2e3 * radius:.0f} mm wide over its wall does not lie in the soil"
            f" with its middle {1e3 * depth:.0f} mm deep"
        )


def _cores(route: dict[str, Cable], scenario: Scenario) -> tuple[list[Core], list[list[int]]]:
    """Every conductor of a route, and which of them are one because their runs are joined."""
    cores: list[Core] = []
    groups: list[list[int]] = []
    for name, cable in route.items():
        card = scenario.cards[cable.type]
        assert isinstance(card, CableCard)
        names = carried(cable, scenario)
        first = len(cores)
        cores += [Core(name, core, card) for _ in range(cable.count) for core in names]
        groups += [
            [first + run * len(names) + index for run in range(cable.count)]
            for index in range(len(names))
        ]
    return cores, groups


def _conductors(
    cores: list[Core], spots: list[tuple[float, float]] | NDArray[np.float64]
) -> list[Conductor]:
    return [
        Conductor(
            x=float(x),
            y=float(y),
            radius=solid_radius(core.card.section.value),
            outer_radius=core.card.core_diameter.value / 2,
            permittivity=core.card.permittivity.value,
        )
        for core, (x, y) in zip(cores, spots, strict=True)
    ]
