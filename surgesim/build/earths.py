"""Electrodes between a bar and remote earth, and bonds between two terminals."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.buried import bare_bond, buried
from surgesim.build.chains import chain_of
from surgesim.build.electrodes import WorkedOut, worked_out
from surgesim.build.parts import Parts, at, inductance, label_of, node
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, Ammeter, AnyElement, IonisingSoil, Resistor
from surgesim.network.probes import EarthProbe
from surgesim.physics.conductors import solid_radius, wire_inductance
from surgesim.scenario.bonds import Bond
from surgesim.scenario.electrodes import Earth
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals


def earths(scenario: Scenario, front: float) -> Iterator[Parts]:
    """Each electrode: an ammeter, what stands before it, its way to remote earth.

    ``front`` is the frequency of the surge's front, Hz, for which chains are fine enough.
    """
    for name, earth in scenario.earths.items():
        group, label = f"earth {name}", label_of("earth", name)
        bar, meter = at(earth.at, earth.bar), f"{label}/current"
        head = f"{label}/head"
        found = worked_out(earth, scenario.site.soil)
        elements: list[AnyElement] = [
            Ammeter(name=meter, a=bar, b=head, group=group),
            *_into_the_soil(earth, found, label, group, front=front),
        ]
        probe = EarthProbe(
            name=name, place=earth.at, node=bar, ammeter=meter,
            resistance=found.resistance, from_shape=found.from_shape,
        )  # fmt: skip
        yield Parts(tuple(elements), earths=(probe,))


def _into_the_soil(
    earth: Earth, found: WorkedOut, label: str, group: str, *, front: float
) -> Iterator[AnyElement]:
    """From the head of an electrode to remote earth: an inductance and the soil, or a chain."""
    ohm = found.resistance
    head, foot = f"{label}/head", f"{label}/foot"
    chain = chain_of(earth, ohm, front)
    if chain is not None:
        yield from chain.elements(label, head, ohm, group)
        return
    if earth.lumped:
        yield from inductance(f"{label}/inductance", head, foot, earth.lumped, group)
    else:
        foot = head
    if found.critical is None:
        yield Resistor(name=label, a=foot, b=GROUND, resistance=ohm, group=group)
    else:
        yield IonisingSoil(
            name=label, a=foot, b=GROUND, resistance=ohm, critical=found.critical, group=group
        )


def bonds(scenario: Scenario, front: float) -> Iterator[Parts]:
    """Each bond as the inductance and resistance of a straight wire; a bare one as a chain.

    ``front`` is the frequency of the surge's front, Hz. One that lies beside a cable is a conductor
    of that cable's route.
    """
    terminals = Terminals.of(scenario)
    for name, bond in scenario.bonds.items():
        if bond.laid_with is not None:
            continue
        card = scenario.cards[bond.type]
        assert isinstance(card, CableCard)
        start, end = (node(terminals.find(end)) for end in (bond.from_, bond.to))
        joint = bond.joint or 0.0
        if bond.bare_in_soil is not None:
            found = buried(name, bond, card, soil=scenario.site.soil, front=front)
            yield bare_bond(name, found, card, start=start, end=end, joint=joint)
            continue
        group, label = f"bond {name}", label_of("bond", name)
        middle, henry = f"{label}/middle", _bond_inductance(name, bond, card)
        ohm = max(card.resistance.value * bond.length + joint, 1e-6)
        metal = Resistor(name=label, a=middle, b=end, resistance=ohm, group=group)
        wire = inductance(f"{label}/inductance", start, middle, henry, group)
        yield Parts((*wire, metal))


def _bond_inductance(name: str, bond: Bond, card: CableCard) -> float:
    """Of a straight wire, H. Raises InputError for one hardly longer than it is thick.

    The formula is of a wire far longer than its radius; below five radii it goes to zero and
    beyond. A flat bar counts as round with a quarter of its width as radius.
    """
    radius = solid_radius(card.section.value) if bond.width is None else bond.width / 4
    if bond.length < 5 * radius:
        thick, short = 2e3 * radius, 1e3 * bond.length
        raise InputError.of(
            f"{short:g} mm of a conductor {thick:.2g} mm thick is no wire",
            path=f"bonds.{name}.length",
            hint="give the length of the conductor from terminal to terminal",
        )
    return wire_inductance(bond.length, radius)
