"""The guesses a scenario stands on, each with the range in which the truth may well lie.

A guess here is a number that nobody vouches for: a limit marked ``from: guess``, an assumption
that filled a gap, a value that the language takes without asking where it is from. Those of cards
stand in ``guesses_cards``; of arresters, choices and the model's constants below.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial

from surgesim.build import build
from surgesim.build.modelled import modelled
from surgesim.network.circuit import Network
from surgesim.network.elements import AnyElement, Coupling, Insulation, Varistor
from surgesim.reading.quantities import INDUCTANCE_PER_LENGTH
from surgesim.scenario.lead_assumptions import COUPLING
from surgesim.scenario.schema import Scenario
from surgesim.studies.guess import (
    PRACTICE,
    End,
    Guess,
    about,
    assumed,
    built,
    ends_at,
    with_thing,
)
from surgesim.studies.guesses_beside import guesses_beside
from surgesim.studies.guesses_equipment import capacitances, flashovers, limits
from surgesim.studies.guesses_site import bonds, ducts, ground, modules, supplies


def guesses_of(scenario: Scenario) -> Iterator[Guess]:
    """Every guess of a resolved scenario that has a number to vary."""
    yield from limits(scenario)
    yield from flashovers(scenario)
    yield from capacitances(scenario)
    yield from _leads(scenario)
    yield from ducts(scenario)
    yield from supplies(scenario)
    yield from modules(scenario)
    yield from ground(scenario)
    yield from bonds(scenario)
    yield from guesses_beside(scenario)
    yield from _choices(scenario)
    yield from _network_constants(scenario)


# --- arresters --------------------------------------------------------------------------------


def _leads(scenario: Scenario) -> Iterator[Guess]:
    filled = assumed(scenario, "arrester leads 1 uH/m")
    if filled and scenario.arresters:

        def changed(value: float) -> Scenario:
            leads = {
                name: slot.model_copy(
                    update={"leads": slot.leads.model_copy(update={"inductance": value})}
                )
                for name, slot in scenario.arresters.items()
                if about(filled, name)
            }
            return with_thing(scenario, "arresters", leads)

        yield Guess(
            what="inductance of the arresters' leads",
            kind="no source",
            used="1 uH/m",
            ends=ends_at((0.5e-6, 1.5e-6), INDUCTANCE_PER_LENGTH, changed),
            reason="0.5 uH/m with the return beside it to 1.5 uH/m for a thin wire alone"
            f" ({PRACTICE})",
        )
    if any(slot.leads.line or slot.leads.earth for slot in scenario.arresters.values()):
        yield Guess(
            what="lengths of the arresters' leads",
            kind="not stated",
            used="as given",
            ends=tuple(
                End(value=words, network=partial(built, partial(_longer, scenario), factor))
                for words, factor in (("half", 0.5), ("twice", 2.0))
            ),
            reason=f"half to twice as long as drawn ({PRACTICE})",
        )


def _longer(scenario: Scenario, factor: float) -> Scenario:
    changed = {}
    for name, slot in scenario.arresters.items():
        earth = slot.leads.earth
        longer = None if earth is None else earth.model_copy(
            update={"length": factor * earth.length}
        )  # fmt: skip
        leads = slot.leads.model_copy(update={"line": factor * slot.leads.line, "earth": longer})
        changed[name] = slot.model_copy(update={"leads": leads})
    return with_thing(scenario, "arresters", changed)


# --- choices ----------------------------------------------------------------------------------


def _choices(scenario: Scenario) -> Iterator[Guess]:
    """Assumptions that have another word instead of another number."""
    if assumed(scenario, "surges of positive polarity"):
        yield _choice(scenario, "polarity", "negative", "lightning has either polarity")
    if assumed(scenario, "arresters at their declared level") and scenario.arresters:
        yield _choice(
            scenario, "arrester_tolerance", "low", "elements of a card lie between low and declared"
        )
    dark = assumed(scenario, "array lit")
    if dark:
        supplies = {
            name: supply.model_copy(update={"state": "dark"})
            for name, supply in scenario.supply.items()
            if about(dark, name)
        }
        night = with_thing(scenario, "supply", supplies)
        yield Guess(
            what=f"state of {' and '.join(supplies)}",
            kind="not stated",
            used="lit",
            ends=(End(value="dark", network=partial(build, night)),),
            reason="surges come by night too",
        )


def _choice(scenario: Scenario, key: str, other: str, reason: str) -> Guess:
    changed = scenario.model_copy(update={key: other})
    return Guess(
        what=key.replace("_", " "),
        kind="not stated",
        used=str(getattr(scenario, key)),
        ends=(End(value=other, network=partial(build, changed)),),
        reason=reason,
    )


# --- constants of the model -------------------------------------------------------------------


def _network_constants(scenario: Scenario) -> Iterator[Guess]:
    said = list(modelled(scenario))
    if assumed(scenario, "halves of a V coupled") is not None:
        yield Guess(
            what="coupling of the halves of a V",
            kind="guess",
            used=COUPLING,
            ends=_scaled_ends(scenario, _coupled, ((0.05, 1 / 3), (0.3, 2.0)), "uH/m"),
            reason=f"conductors apart to tied closely together ({PRACTICE})",
        )
    if any("becomes an arc" in text for text in said):
        yield Guess(
            what="resistance of the arc where insulation has fired",
            kind="guess",
            used="0.1 ohm",
            ends=_scaled_ends(scenario, _arcing, ((0.01, 0.1), (1.0, 10.0)), "ohm"),
            reason=f"a tenth to ten times ({PRACTICE})",
        )
    if scenario.arresters:
        yield Guess(
            what="rise of varistors with the steepness of the front",
            kind="from memory",
            used="none",
            ends=_scaled_ends(scenario, _steeper, ((15, 1.15),), "% higher"),
            reason="5 to 15 % at fronts of 1 us, less at slower ones (from memory)",
        )


def _scaled_ends(
    scenario: Scenario,
    change: Callable[[AnyElement, float], AnyElement],
    ends: Iterable[tuple[float, float]],
    unit: str,
) -> tuple[End, ...]:
    """Ends that change elements of the network: the value shown, and the factor it stands for."""
    return tuple(
        End(value=f"{shown:g} {unit}", network=partial(_scaled, scenario, change, factor))
        for shown, factor in ends
    )


def _scaled(
    scenario: Scenario, change: Callable[[AnyElement, float], AnyElement], factor: float
) -> Network:
    network = build(scenario)
    return replace(network, elements=tuple(change(e, factor) for e in network.elements))


def _coupled(element: AnyElement, factor: float) -> AnyElement:
    if isinstance(element, Coupling) and element.group.startswith("arrester "):
        return replace(element, mutual=factor * element.mutual)
    return element


def _arcing(element: AnyElement, factor: float) -> AnyElement:
    if isinstance(element, Insulation):
        return replace(element, resistance=factor * element.resistance)
    return element


def _steeper(element: AnyElement, factor: float) -> AnyElement:
    if isinstance(element, Varistor):
        return replace(element, law=replace(element.law, scale=factor * element.law.scale))
    return element
