"""Arresters as they may be instead of new and equal: unequal, hot, cold, aged, or failed.

Applied to the elements of a slot after they have been built as new ones of the declared level.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from surgesim.build.parts import Parts
from surgesim.catalogue.cards import GAP_TOLERANCE
from surgesim.network.elements import Ammeter, AnyElement, Resistor, SparkGap, Varistor
from surgesim.network.probes import FAILED, ArresterProbe, Rating
from surgesim.physics.varistor import VaristorLaw
from surgesim.physics.varistor_condition import aged, at_temperature
from surgesim.scenario.schema import Arrester, Scenario

HOT, COLD = 343.15, 248.15
"""K: 70 degC in a box in the sun, -25 degC in a winter's night (common practice, no source)."""

CONDITIONS: dict[str, Callable[[VaristorLaw], VaristorLaw]] = {
    "hot": lambda law: at_temperature(law, HOT),
    "cold": lambda law: at_temperature(law, COLD),
    "aged": aged,
}

LOW, HIGH = 0.9, 1.1
"""Voltage over nominal of the one low element and of the others, where elements are unequal."""

OPEN, SHORTED = 1e9, 0.1
"""Ohm across an element that was taken off by its disconnector, or that was punctured: 0.05 to 1
ohm are told of punctured discs (a guess)."""

NO_RATING = Rating(
    device_class=FAILED, continuous=None, nominal_current=None, peak=None, charge=None,
    specific_energy=None, basis="a failed element has no rating",
)  # fmt: skip


def as_they_are(parts: Parts, slot: Arrester, scenario: Scenario) -> Parts:
    """A slot's parts in the scenario's condition, with what has failed in it."""
    elements = list(parts.elements)
    if scenario.arrester_tolerance.startswith("unequal"):
        elements = _unequal(elements, turned=scenario.arrester_tolerance == "unequal turned")
    change = CONDITIONS.get(scenario.arrester_condition or "new")
    if change is not None:
        elements = [
            replace(e, law=change(e.law)) if isinstance(e, Varistor) else e for e in elements
        ]
    probes = list(parts.arresters)
    for element, how in (slot.failed or {}).items():
        for number, probe in enumerate(probes):
            if probe.element == element:
                elements = _failed(elements, probe, OPEN if how == "open" else SHORTED)
                probes[number] = replace(probe, rating=NO_RATING, gap=None)
    return replace(parts, elements=tuple(elements), arresters=tuple(probes))


def _unequal(elements: Sequence[AnyElement], *, turned: bool) -> list[AnyElement]:
    """One element of a slot at its low end, the first or ``turned`` the last; the others high."""
    names = [e.name for e in elements if isinstance(e, Varistor | SparkGap)]
    low = names[-1 if turned else 0] if names else ""
    return [_one_of_unequal(e, low=e.name == low) for e in elements]


def _one_of_unequal(element: AnyElement, *, low: bool) -> AnyElement:
    if isinstance(element, Varistor):
        return replace(element, law=replace(element.law, scale=LOW if low else HIGH))
    if isinstance(element, SparkGap) and low:
        share = GAP_TOLERANCE["low"] / GAP_TOLERANCE["declared"]
        law = replace(element.law, sparkover=share * element.law.sparkover)
        return replace(element, law=law)
    return element


def _failed(elements: Sequence[AnyElement], probe: ArresterProbe, ohm: float) -> list[AnyElement]:
    """A resistance in the place of all that stands behind the element's ammeter."""
    meter = next(e for e in elements if isinstance(e, Ammeter) and e.name == probe.ammeter)
    whole = probe.ammeter.removesuffix("/current")
    kept = [
        e for e in elements if e is meter or not (e.name == whole or e.name.startswith(f"{whole}/"))
    ]
    stands_in = Resistor(name=whole, a=meter.b, b=probe.b, resistance=ohm, group=meter.group)
    return [*kept, stands_in]
