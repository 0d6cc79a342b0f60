"""Bare bonds in the soil: conductors that leak along their length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.build.parts import Parts, inductance, label_of
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, Ammeter, AnyElement, Resistor
from surgesim.network.probes import EarthProbe
from surgesim.physics.conductors import solid_radius
from surgesim.physics.electrodes import buried_inductance, horizontal_resistance
from surgesim.physics.leaky import Rung, through_chain
from surgesim.scenario.bonds import Bond


@dataclass(frozen=True, slots=True, kw_only=True)
class Buried:
    """What a bare bond works out to.

    ``resistance`` to remote earth when both ends are at one potential, ohm; ``inductance`` H/m;
    ``rungs`` from its first end and ``rest``, the way from the last of them to the other end.
    """

    resistance: float
    inductance: float
    rungs: tuple[Rung, ...]
    rest: Rung


def buried(name: str, bond: Bond, card: CableCard, *, soil: float, front: float) -> Buried:
    """Of a bond that is bare in ``soil`` ohm m, for a front of frequency ``front`` Hz.

    Raises InputError for one that does not lie in the soil or is no wire.
    """
    assert bond.bare_in_soil is not None
    flat = bond.width
    radius = solid_radius(card.section.value) if flat is None else flat / 4
    try:
        ohm = horizontal_resistance(bond.length, radius, bond.bare_in_soil, soil)
        per_metre = buried_inductance(bond.length, radius) / bond.length
    except ValueError as error:
        raise InputError.of(str(error), path=f"bonds.{name}.bare in soil") from None
    rungs, rest = through_chain(
        bond.length, inductance=per_metre, conductance=1 / (ohm * bond.length), front=front
    )
    return Buried(resistance=ohm, inductance=per_metre, rungs=rungs, rest=rest)


def bare_bond(
    name: str, found: Buried, card: CableCard, *, start: str, end: str, joint: float
) -> Parts:
    """A bare bond as a chain between the nodes ``start`` and ``end``, its joint at the far one.

    All that it leaks comes together in one ammeter before remote earth.
    """
    group, label = f"bond {name}", label_of("bond", name)
    soil, meter = f"{label}/soil", f"{label}/leaking"
    per_metre = card.resistance.value
    elements: list[AnyElement] = []
    here = start
    for k, rung in enumerate(found.rungs, start=1):
        there, ohm = f"{label}/{k}", found.resistance / rung.share
        elements += _step(f"{label}/{k}", here, there, rung, per_metre, group)
        leak = Resistor(name=f"{label}/{k}/leak", a=there, b=soil, resistance=ohm, group=group)
        elements.append(leak)
        here = there
    elements += _step(f"{label}/end", here, end, found.rest, per_metre, group, extra=joint)
    elements.append(Ammeter(name=meter, a=soil, b=GROUND, group=group))
    probe = EarthProbe(
        name=f"bond {name}", place=start.split("/")[0], node=start, ammeter=meter,
        resistance=found.resistance, from_shape=found.resistance,
    )  # fmt: skip
    return Parts(tuple(elements), earths=(probe,))


def _step(
    label: str, a: str, b: str, rung: Rung, per_metre: float, group: str, *, extra: float = 0.0
) -> Iterator[AnyElement]:
    """Inductance and metal of one stretch, the metal at ``per_metre`` ohm and ``extra`` on top."""
    middle = f"{label}/middle"
    yield from inductance(f"{label}/inductance", a, middle, rung.inductance, group)
    ohm = max(per_metre * rung.length + extra, 1e-6)
    yield Resistor(name=f"{label}/metal", a=middle, b=b, resistance=ohm, group=group)
