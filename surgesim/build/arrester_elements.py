"""The elements of arresters: what stands between two clamps, by its card.

Each is an ammeter, its own inductance, its law, and its capacitance beside that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from surgesim.build.parts import inductance, label_of
from surgesim.catalogue.cards import Arrester as ArresterCard
from surgesim.catalogue.cards import GapArrester, TextbookLimiter, VaristorArrester
from surgesim.network.elements import (
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    Element,
    Resistor,
    SparkGap,
    Varistor,
)
from surgesim.network.probes import ArresterProbe, Rating
from surgesim.physics.impulses import (
    class_one_charge,
    class_one_specific_energy,
    eight_twenty_charge,
    eight_twenty_specific_energy,
)
from surgesim.physics.varistor import VaristorLaw
from surgesim.scenario.schema import Scenario

TOLERANCE = {
    "low": 0.9,
    "nominal": 1.0,
    "declared": 1.1,
    "unequal": 1.1,
    "unequal turned": 1.1,
}
"""Voltage at any current over the nominal element's: +-10 %, the declared Up being the upper
limit (IEC 61643-01; tolerance of the disc, from memory). Of unequal elements one is low."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where an element stands: of which slot, at which place, ``words`` for it, between which
    nodes."""

    slot: str
    place: str
    words: str
    hot: str
    cold: str

    @property
    def group(self) -> str:
        return f"arrester {self.slot}"

    @property
    def label(self) -> str:
        return f"{label_of('arrester', self.slot)}/{self.words}"


EQUALISER = 20e6
"""Ohm beside a gap in series with other elements, so that it takes what stands there: 10 to 50
megohm are usual (common practice, no source)."""


def element(
    spot: Spot, card_name: str, scenario: Scenario, *, alone: bool = True
) -> tuple[list[AnyElement], ArresterProbe]:
    """One element and what is to be read off it; not ``alone`` where others are in its leg."""
    card = scenario.cards[card_name]
    assert isinstance(card, ArresterCard)
    meter, inner = f"{spot.label}/current", f"{spot.label}/inner"
    made: list[AnyElement] = [Ammeter(name=meter, a=spot.hot, b=inner, group=spot.group)]
    made += _body(card, spot, inner, scenario.arrester_tolerance)
    if isinstance(card, GapArrester) and not alone:
        made.append(
            Resistor(
                name=f"{spot.label}/equaliser", a=inner, b=spot.cold, resistance=EQUALISER,
                group=spot.group,
            )
        )  # fmt: skip
    probe = ArresterProbe(
        slot=spot.slot, element=spot.words, card=card_name, place=spot.place, a=spot.hot,
        b=spot.cold, ammeter=meter, rating=rating(card),
        gap=spot.label if isinstance(card, GapArrester) else None,
    )  # fmt: skip
    return made, probe


def _body(card: ArresterCard, spot: Spot, inner: str, tolerance: str) -> Iterator[AnyElement]:
    """Own inductance, law and capacitance, from ``inner`` on."""
    if isinstance(card, TextbookLimiter):
        yield Clamp(
            name=spot.label, a=inner, b=spot.cold, group=spot.group,
            voltage=card.voltage.value, resistance=card.resistance.value,
        )  # fmt: skip
        return
    core = inner
    if card.inductance.value > 0:
        core = f"{spot.label}/core"
        henry = card.inductance.value
        yield from inductance(f"{spot.label}/inductance", inner, core, henry, spot.group)
    yield _core(card, spot, core, tolerance)
    if card.capacitance.value > 0:
        yield Capacitor(
            name=f"{spot.label}/capacitance", a=core, b=spot.cold,
            capacitance=card.capacitance.value, group=spot.group,
        )  # fmt: skip


def _core(card: VaristorArrester | GapArrester, spot: Spot, core: str, tolerance: str) -> Element:
    """What limits the voltage."""
    name, group = spot.label, spot.group
    if isinstance(card, GapArrester):
        return SparkGap(name=name, a=core, b=spot.cold, law=card.law(tolerance), group=group)
    law = varistor_law(card, tolerance)
    return Varistor(name=name, a=core, b=spot.cold, law=law, group=group)


def varistor_law(card: VaristorArrester, tolerance: str) -> VaristorLaw:
    """The element's law at ``low``, ``nominal`` or ``declared``.

    The printed Up is the upper limit, so the nominal element passes Up / 1.1 at In.
    """
    nominal = card.law()
    return replace(nominal, scale=TOLERANCE[tolerance])


def rating(card: ArresterCard) -> Rating:
    """What one element may bear once, by its class."""
    if isinstance(card, TextbookLimiter):
        return Rating(
            device_class="textbook", continuous=None, nominal_current=None, peak=None,
            charge=None, specific_energy=None, basis="a textbook limiter has no rating",
        )  # fmt: skip
    if card.test_class == "I":
        assert card.Iimp is not None
        impulse = card.Iimp.value
        peak = max(impulse, card.Imax.value if card.Imax else 0.0, card.In.value)
        charge, energy = class_one_charge(impulse), class_one_specific_energy(impulse)
        basis = "charge and W/R of one 10/350 impulse of Iimp (IEC 61643-11:2011), peak of Imax"
    else:
        assert card.Imax is not None
        peak = card.Imax.value
        charge, energy = eight_twenty_charge(peak), eight_twenty_specific_energy(peak)
        basis = "one 8/20 impulse of Imax; a longer wave compared by charge and W/R, our own rule"
    continuous = card.Uc.value if isinstance(card, GapArrester) else card.continuous
    return Rating(
        device_class=card.test_class, continuous=continuous, nominal_current=card.In.value,
        peak=peak, charge=charge, specific_energy=energy, basis=basis,
    )  # fmt: skip
