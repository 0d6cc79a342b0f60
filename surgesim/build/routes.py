"""The cross-section of a route: which conductors lie in it, where, and their line constants."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from surgesim.build.tapes import Tape, tape_beside
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import Enclosure
from surgesim.errors import InputError
from surgesim.physics.bundle import (
    packed_in_air,
    packed_in_duct,
    packed_on_floor,
    packed_within,
    parallel_reduced,
    transposed,
)
from surgesim.physics.conductors import (
    Conductor,
    LineConstants,
    assembled,
    in_duct,
    over_soil,
    soil_below,
    solid_radius,
)
from surgesim.physics.constants import EPSILON_0, SPEED_OF_LIGHT
from surgesim.physics.cross_section import Coefficients, Surface, potential_coefficients
from surgesim.physics.earth_return import saad_ground_impedance
from surgesim.physics.shields import beside, enclosed, strip_radius, strip_transfer
from surgesim.scenario.laying import Laying, Spacing
from surgesim.scenario.schema import Cable, Scenario
from surgesim.scenario.terminals import carried

Spots = NDArray[np.float64]
InSoil = Callable[[float], complex]

WALL = 0.06
"""Wall of a plastic duct as a share of its inner width (common practice, no source). The soil
begins outside it; the wall itself counts as air."""

BONDS_A_FRONT = 10
"""Bonds of a cable's metal that a front must span, for the two to count as one conductor."""


@dataclass(frozen=True, slots=True)
class Band:
    """Frequencies of the surge, Hz, between which and beyond a line's soil is followed."""

    front: float
    tail: float


@dataclass(frozen=True, slots=True)
class Core:
    """One conductor of a route: its cable and its name there.

    ``metal`` tells a screen, or the metal that the cables lie in, from the cores. What is ``bare``
    is a bond beside the route's first cable.
    """

    cable: str
    name: str
    metal: bool = False
    bare: bool = False


@dataclass(frozen=True, slots=True)
class _Body:
    """What lies as one round thing: a core, or a screened cable with the cores inside it.

    ``core`` is the number of the core, or of the screen.
    """

    core: int
    radius: float
    outer_radius: float
    permittivity: float
    inside: tuple[Conductor, ...] = ()
    inside_cores: tuple[int, ...] = ()
    transfer: float = 0.0

    @property
    def diameter(self) -> float:
        return 2 * self.outer_radius


@dataclass(slots=True)
class _Cores:
    """Every conductor before equal runs are joined, how they lie together, and which are joined."""

    cores: list[Core] = field(default_factory=list)
    resistance: list[float] = field(default_factory=list)
    groups: list[list[int]] = field(default_factory=list)
    bodies: dict[str, list[_Body]] = field(default_factory=dict)
    tape: Tape | None = None

    def add(self, name: str, cable: Cable, card: CableCard, names: tuple[str, ...]) -> None:
        """The runs of one cable."""
        first, screen = len(self.cores), card.screen
        for run in range(cable.count):
            numbers = range(first + run * len(names), first + (run + 1) * len(names))
            for core in names:
                metal = core == "screen"
                self.cores.append(Core(name, core, metal))
                self.resistance.append(
                    screen.resistance if metal and screen else card.resistance.value
                )
            self.bodies.setdefault(name, []).extend(_bodies(card, names, numbers))
        self.groups += [
            [first + run * len(names) + index for run in range(cable.count)]
            for index in range(len(names))
        ]


def _bodies(card: CableCard, names: tuple[str, ...], numbers: Sequence[int]) -> list[_Body]:
    """One run of a cable as what lies in the route."""
    radius, outer = solid_radius(card.section.value), card.core_diameter.value / 2
    permittivity = card.permittivity.value
    if "screen" not in names:
        return [_Body(number, radius, outer, permittivity) for number in numbers]
    assert card.screen is not None
    inside = [number for number, name in zip(numbers, names, strict=True) if name != "screen"]
    sizes = [2 * outer] * len(inside)
    spots = packed_within(sizes, inner_radius=card.screen.diameter / 2) if sizes else ()
    (around,) = set(numbers) - set(inside)
    return [
        _Body(
            core=around,
            radius=card.screen.diameter / 2,
            outer_radius=card.screen.sheath_diameter / 2,
            permittivity=card.screen.sheath_permittivity,
            inside=tuple(
                Conductor(x=float(x), y=float(y), radius=radius, outer_radius=outer,
                          permittivity=permittivity) for x, y in spots
            ),
            inside_cores=tuple(inside),
            transfer=card.screen.transfer_inductance,
        )
    ]  # fmt: skip


def route_constants(
    route: dict[str, Cable],
    scenario: Scenario,
    band: Band,
    *,
    laying: Laying | None = None,
    wall: float = WALL,
) -> tuple[LineConstants, list[Core]]:
    """Line constants of the cables in ``route``, equal runs joined, and its conductors in order.

    The first cable says how the route is laid, the first of its stretches unless ``laying`` is
    another; the others lie close-packed with it, or at their spacing. The metal it is laid in, or
    a bare bond beside it, comes last.
    """
    host_name, host = next(iter(route.items()))
    if laying is None:
        if host.laying is None:
            raise ValueError(f"cable {host_name!r} has no laying of its own")
        laying = host.laying[0]
    found = _Cores()
    for name, cable in route.items():
        card = scenario.cards[cable.type]
        assert isinstance(card, CableCard)
        found.add(name, cable, card, carried(cable, scenario))
    if laying.card is not None:
        enclosure = scenario.cards[laying.card]
        assert isinstance(enclosure, Enclosure)
        found.groups.append([len(found.cores)])
        found.cores.append(Core(host_name, enclosure.conductor, metal=True))
        found.resistance.append(enclosure.resistance.value)
    found.tape = tape_beside(scenario, host_name)
    if found.tape is not None:
        found.groups.append([len(found.cores)])
        found.cores.append(Core(host_name, f"bond {found.tape.bond}", bare=True))
        found.resistance.append(found.tape.metal)
    groups = _bonded_along(found, route, band)
    try:
        coefficients, in_soil = _Section(route, found, scenario, laying, wall).field()
        constants = assembled(
            coefficients, in_soil=in_soil, front_frequency=band.front, tail_frequency=band.tail,
            resistance=np.array(found.resistance),
        )  # fmt: skip
    except ValueError as error:
        hint = "lay it with room, such as 'laying: plastic duct 125 mm wide 0.7 m deep'"
        raise InputError.of(str(error), path=f"cables.{host_name}.laying", hint=hint) from None
    kept = [found.cores[group[0]] for group in groups]
    return transposed(parallel_reduced(constants, groups), _of_one_cable(kept)), kept


def _bonded_along(found: _Cores, route: dict[str, Cable], band: Band) -> list[list[int]]:
    """The groups of conductors that are one: runs, and metal with what it is bonded to along."""
    groups = [list(group) for group in found.groups]
    for name, cable in route.items():
        if cable.metal_bonded is None:
            continue
        limit = SPEED_OF_LIGHT / (math.pi * band.front) / BONDS_A_FRONT
        if cable.metal_bonded.every > limit:
            raise InputError.of(
                f"is bonded every {cable.metal_bonded.every:g} m, too far apart for this surge to"
                f" count as one conductor: at most {limit:.2g} m",
                path=f"cables.{name}.metal bonded",
                hint=f"that is a tenth of the {BONDS_A_FRONT * limit:.2g} m its front is long",
            )
        (target,) = [group for group in groups if _is(found.cores[group[0]], cable.metal_bonded.to)]
        metal = [group for group in groups if _is(found.cores[group[0]], name, metal=True)]
        for group in metal:
            target += group
            groups.remove(group)
    return groups


def _is(core: Core, cable: str, *, metal: bool = False) -> bool:
    return core.cable == cable and core.metal == metal and not core.bare


def _of_one_cable(cores: list[Core]) -> list[list[int]]:
    """The conductors that change places with each other along the route: those of one cable."""
    members: dict[tuple[str, bool], list[int]] = {}
    for index, core in enumerate(cores):
        members.setdefault((core.cable, core.metal or core.bare), []).append(index)
    return [m for (_, metal), m in members.items() if not metal]


@dataclass(frozen=True, slots=True)
class _Section:
    """Where everything in a route lies, and the field it has there.

    Each step gives coefficients and the numbers of the conductors they are of, in their order.
    """

    route: dict[str, Cable]
    found: _Cores
    scenario: Scenario
    laying: Laying
    wall: float

    def field(self) -> tuple[Coefficients, InSoil]:
        """Coefficients in the order of the cores, and what the soil adds."""
        build = {"air": self._in_air, "plastic duct": self._in_soil, "metal": self._in_metal}
        coefficients, order, in_soil = build[self.laying.in_]()
        for body in (body for bodies in self.found.bodies.values() for body in bodies):
            if body.inside:
                within = potential_coefficients(body.inside, Surface("cylinder", body.radius))
                leak = [body.transfer] * len(body.inside)
                coefficients = enclosed(coefficients, order.index(body.core), within, leak)
                order = [*order, *body.inside_cores]
        back = np.argsort(order)
        sorted_ = (m[np.ix_(back, back)] for m in (coefficients.bare, coefficients.insulated))
        return Coefficients(*sorted_), in_soil

    def _together(self) -> list[_Body]:
        """What lies in one bundle with the first cable."""
        return [
            body for name, cable in self.route.items() if cable.spacing is None
            for body in self.found.bodies[name]
        ]  # fmt: skip

    def _spaced(self) -> list[tuple[Spacing, list[_Body]]]:
        return [
            (cable.spacing, self.found.bodies[name])
            for name, cable in self.route.items()
            if cable.spacing is not None
        ]

    def _in_air(self) -> tuple[Coefficients, list[int], InSoil]:
        together = self._together()
        spots = packed_in_air([b.diameter for b in together], height=self.laying.distance)
        placed = [*_at(together, spots), *self._aside()]
        return self._over_soil(placed, [b.core for b in together])

    def _aside(self) -> list[Conductor]:
        """Bundles beside, above or below the first cable's."""
        placed: list[Conductor] = []
        for spacing, bodies in self._spaced():
            spots = packed_in_air([b.diameter for b in bodies], height=self.laying.distance)
            placed += _at(bodies, spots + np.array([spacing.across, spacing.up]))
        return placed

    def _over_soil(
        self, placed: list[Conductor], first: list[int]
    ) -> tuple[Coefficients, list[int], InSoil]:
        order = [*first, *(body.core for _, bodies in self._spaced() for body in bodies)]
        return over_soil(placed), order, soil_below(placed, self.scenario.site.soil)

    def _in_metal(self) -> tuple[Coefficients, list[int], InSoil]:
        card = self.scenario.cards[self.laying.card or ""]
        assert isinstance(card, Enclosure)
        together, width = self._together(), card.width.value
        diameters = [b.diameter for b in together]
        if card.conductor == "tray":
            radius, spots = strip_radius(width), packed_on_floor(diameters, width=width)
            surface = Surface("plane")
            transfer = [strip_transfer(width, float(x), float(y)) for x, y in spots]
        else:
            radius, spots = width / 2, packed_in_duct(diameters, inner_radius=width / 2)
            surface = Surface("cylinder", width / 2)
            assert card.transfer_inductance is not None
            transfer = [card.transfer_inductance.value] * len(spots)
        metal = Conductor(
            x=0.0, y=self.laying.distance, radius=radius, outer_radius=radius, permittivity=1.0
        )
        outside, order, in_soil = self._over_soil(
            [metal, *self._aside()], [len(self.found.cores) - 1]
        )
        inside = potential_coefficients(tuple(_at(together, spots)), surface)
        order = [*order, *(b.core for b in together)]
        return enclosed(outside, 0, inside, transfer), order, in_soil

    def _in_soil(self) -> tuple[Coefficients, list[int], InSoil]:
        width, depth, soil = self.laying.width, self.laying.distance, self.scenario.site.soil
        assert width is not None
        around = width * (0.5 + self.wall)
        _require_buried(around, depth)
        together, spaced = self._together(), self._spaced()
        spots = packed_in_duct([b.diameter for b in together], inner_radius=width / 2)
        field_ = in_duct(_at(together, spots), around)
        order = [body.core for body in together]
        if self.found.tape is not None:
            return self._beside_a_tape(self.found.tape, field_, order, around)
        if not spaced:
            return field_, order, lambda hertz: saad_ground_impedance(around, depth, soil, hertz)
        if len(spaced) > 1:
            raise ValueError("only one cable can lie in the soil at a spacing from a duct")
        ((spacing, bodies),) = spaced
        apart = spacing.distance
        reach = max(b.outer_radius for b in bodies)
        if len(bodies) > 1:
            reach *= 1 + math.sqrt(len(bodies))
        placed = _at(bodies, packed_within([b.diameter for b in bodies], inner_radius=reach))
        reach = max(abs(c.axis) + c.outer_radius for c in placed)
        _require_room(apart, around + reach, depth)
        both = beside(field_, in_duct(placed, reach), (around, reach), apart)
        order += [body.core for body in bodies]
        return both, order, lambda hertz: saad_ground_impedance(apart, depth, soil, hertz)

    def _beside_a_tape(
        self, tape: Tape, duct: Coefficients, order: list[int], around: float
    ) -> tuple[Coefficients, list[int], InSoil]:
        """A bare conductor has the soil for its wall."""
        depth, soil, apart = self.laying.distance, self.scenario.site.soil, tape.spacing
        if self._spaced():
            raise ValueError("only one conductor can lie in the soil at a spacing from a duct")
        _require_room(apart, around + tape.radius, depth)
        insulated = np.array([[2.0 * math.pi * EPSILON_0 / tape.capacitance]])
        wire = Coefficients(bare=np.zeros((1, 1)), insulated=insulated)
        both = beside(duct, wire, (around, tape.radius), apart)
        order = [*order, len(self.found.cores) - 1]
        return both, order, lambda hertz: saad_ground_impedance(apart, depth, soil, hertz)


def _at(bodies: list[_Body], spots: Spots) -> list[Conductor]:
    return [
        Conductor(
            x=float(x), y=float(y), radius=body.radius, outer_radius=body.outer_radius,
            permittivity=body.permittivity,
        )
        for body, (x, y) in zip(bodies, spots, strict=True)
    ]  # fmt: skip


def _require_buried(radius: float, depth: float) -> None:
    """Raise ValueError for a duct that would look out of the ground."""
    if depth <= radius:
        raise ValueError(
            f"a duct {2e3 * radius:.0f} mm wide over its wall does not lie in the soil"
            f" with its middle {1e3 * depth:.0f} mm deep"
        )


def _require_room(apart: float, least: float, depth: float) -> None:
    """Raise ValueError for a cable in soil that a duct leaves no room, or that is too far off."""
    if apart <= least:
        raise ValueError(
            f"a cable {1e3 * apart:g} mm from the middle of the duct overlaps it: they take up"
            f" {1e3 * least:.0f} mm"
        )
    if apart >= depth:
        raise ValueError(
            f"a cable {apart:g} m beside a duct {depth:g} m deep is not followed: at most as far"
            " away as they are deep"
        )
