"""Bare bonds that lie in the soil beside a duct: one more conductor of its route, which leaks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from surgesim.build.parts import label_of, node
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, Ammeter, AnyElement, Resistor
from surgesim.network.probes import EarthProbe
from surgesim.physics.conductors import solid_radius
from surgesim.physics.constants import EPSILON_0
from surgesim.physics.electrodes import buried_inductance, horizontal_resistance
from surgesim.physics.leaky import reach
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals

PERMITTIVITY = 10.0
"""Of soil, relative: 4 dry to 30 wet (common practice, no source). Its charge decides what the soil
does within soil resistivity times permittivity, 15 ns in 170 ohm m."""

STEP = 0.5
"""Longest piece of a tape between two leaks, as a share of how far the front's frequency comes
along it. Against leaks spread evenly crests so are within 3 % (tests/build/test_tapes.py)."""

FEWEST = 8
"""Pieces of a tape, however slow the front: its leaks at the two ends are those of half a piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A bare bond beside a route. Its ``start`` and ``end`` are nodes at the route's own first and
    last place; ``length``, ``radius`` and ``spacing`` from the duct's axis in m.

    ``resistance`` to remote earth with both ends at one potential in ohm, ``metal`` in ohm/m,
    ``joints`` what stands in it at either end in ohm.
    """

    bond: str
    start: str
    end: str
    length: float
    radius: float
    spacing: float
    soil: float
    resistance: float
    metal: float
    joints: tuple[float, float]

    @property
    def conductance(self) -> float:
        """Leakage in S/m."""
        return 1.0 / (self.resistance * self.length)

    @property
    def capacitance(self) -> float:
        """Of the same field in the soil, F/m."""
        return PERMITTIVITY * EPSILON_0 * self.soil * self.conductance

    def pieces(self, front: float) -> int:
        """How many are short enough for a front's frequency in Hz."""
        henry = buried_inductance(self.length, self.radius) / self.length
        longest = STEP * reach(henry, self.conductance, front)
        return max(FEWEST, math.ceil(self.length / longest))

    @property
    def _label(self) -> str:
        return label_of("bond", self.bond)

    def leaks(self, nodes: Sequence[str], group: str) -> Iterator[AnyElement]:
        """From the tape's nodes in order, half of a piece's at the first and the last; all that it
        leaks comes together in one ammeter before remote earth."""
        soil, pieces = f"{self._label}/soil", len(nodes) - 1
        for k, name in enumerate(nodes):
            share = (0.5 if k in (0, pieces) else 1.0) / pieces
            ohm = self.resistance / share
            yield Resistor(
                name=f"{self._label}/{k}/leak", a=name, b=soil, resistance=ohm, group=group
            )
        yield Ammeter(name=f"{self._label}/leaking", a=soil, b=GROUND, group=group)

    def probe(self, place: str) -> EarthProbe:
        """It is listed among the earths, at the ``place`` its bond begins at."""
        return EarthProbe(
            name=f"bond {self.bond}", place=place, node=self.start,
            ammeter=f"{self._label}/leaking", resistance=self.resistance,
            from_shape=self.resistance,
        )  # fmt: skip


def tape_beside(scenario: Scenario, route: str) -> Tape | None:
    """The bare bond that lies beside the route of a cable, if one does.

    Raises InputError for two, or for one that does not lie in the soil.
    """
    found = [(name, bond) for name, bond in scenario.bonds.items() if bond.laid_with == route]
    if not found:
        return None
    if len(found) > 1:
        raise InputError.of(
            f"{found[0][0]!r} lies beside {route!r} already: only one is followed",
            path=f"bonds.{found[1][0]}.laid with",
        )
    ((name, bond),) = found
    card, host, soil = scenario.cards[bond.type], scenario.cables[route], scenario.site.soil
    assert isinstance(card, CableCard)
    assert bond.bare_in_soil is not None
    assert bond.spacing is not None
    ends = [Terminals.of(scenario).find(end) for end in (bond.from_, bond.to)]
    joints = (0.0, bond.joint or 0.0)
    if ends[0].place != host.from_:
        ends, joints = ends[::-1], joints[::-1]
    radius = solid_radius(card.section.value) if bond.width is None else bond.width / 4
    try:
        ohm = horizontal_resistance(bond.length, radius, bond.bare_in_soil, soil)
    except ValueError as error:
        raise InputError.of(str(error), path=f"bonds.{name}.bare in soil") from None
    return Tape(
        bond=name, start=node(ends[0]), end=node(ends[1]), length=bond.length, radius=radius,
        spacing=bond.spacing, soil=soil, resistance=ohm, metal=card.resistance.value, joints=joints,
    )  # fmt: skip
