"""The guesses a scenario stands on, each with the range in which the truth may well lie.

A guess here is a number that nobody vouches for: a limit marked ``from: guess``, an assumption
that filled a gap, a value that the language takes without asking where it is from, a number of a
card without a source. Each has two ends, told as text and as the network that they make, and the
reason for its range. Ranges are common practice without a source where nothing else is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from surgesim.build import build
from surgesim.build.arresters import V_COUPLING
from surgesim.build.cables import WALL
from surgesim.build.modelled import modelled
from surgesim.network.circuit import Network
from surgesim.network.elements import AnyElement, Coupling, Insulation, Varistor
from surgesim.reading.quantities import (
    CAPACITANCE,
    FIELD,
    INDUCTANCE,
    INDUCTANCE_PER_LENGTH,
    LENGTH,
    RESISTANCE,
    RESISTIVITY,
    VOLTAGE,
    Dimension,
    format_quantity,
)
from surgesim.scenario.bonds import LONGEST
from surgesim.scenario.equipment import Flashover, Pair
from surgesim.scenario.schema import Scenario

PRACTICE = "common practice, no source"

SERIES = (330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0)
"""Preferred rated impulse voltages, V (IEC 60664-1, from memory)."""

MakeNetwork = Callable[[], Network]


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of a range: the value as text, and the network with it."""

    value: str
    network: MakeNetwork


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """``what`` was guessed, where the number is from (``kind``), which was used, its two ends."""

    what: str
    kind: str
    used: str
    ends: tuple[End, ...]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A guess that is not varied, and why."""

    what: str
    kind: str
    reason: str


def guesses_of(scenario: Scenario) -> Iterator[Guess]:
    """Every guess of a resolved scenario that has a number to vary."""
    yield from _limits(scenario)
    yield from _flashovers(scenario)
    yield from _capacitances(scenario)
    yield from _leads(scenario)
    yield from _ducts(scenario)
    yield from _supplies(scenario)
    yield from _modules(scenario)
    yield from _ground(scenario)
    yield from _bonds(scenario)
    yield from _choices(scenario)
    yield from _network_constants(scenario)


def assumed(scenario: Scenario, words: str) -> str | None:
    """The assumption of a scenario that begins with ``words``; None where it was not made."""
    return next((text for text in scenario.assumed if text.startswith(words)), None)


def about(assumption: str, name: str) -> bool:
    """Whether an assumption lists a thing of this name in its brackets."""
    listed = f", {assumption.partition('[')[2].removesuffix(']')}, "
    return f", {name}, " in listed


def with_thing(scenario: Scenario, section: str, things: dict[str, Any]) -> Scenario:
    """The scenario with some things of a section replaced."""
    return scenario.model_copy(update={section: {**getattr(scenario, section), **things}})


def _ends(
    values: Iterable[float], dimension: Dimension, make: Callable[[float], Scenario]
) -> tuple[End, ...]:
    """Ends that are values of the scenario; the scenario is made when the network is."""
    rounded = [float(f"{value:.4g}") for value in values]
    return tuple(
        End(value=format_quantity(value, dimension), network=partial(_built, make, value))
        for value in rounded
    )


def _built(make: Callable[[float], Scenario], value: float) -> Network:
    return build(make(value))


# --- equipment --------------------------------------------------------------------------------


def _pairs(
    scenario: Scenario, value: Callable[[str, Pair], float | None]
) -> Iterator[tuple[str, list[str], float]]:
    """Equipment, its pairs that have the same value, and that value."""
    for name, thing in scenario.equipment.items():
        groups: dict[float, list[str]] = {}
        for words, pair in thing.pairs.items():
            found = value(name, pair)
            if found is not None and found > 0:
                groups.setdefault(found, []).append(words)
        for number, members in groups.items():
            yield name, members, number


def _with_pairs(
    scenario: Scenario, name: str, pairs: list[str], change: Callable[[Pair], dict[str, Any]]
) -> Scenario:
    thing = scenario.equipment[name]
    changed = {w: thing.pairs[w].model_copy(update=change(thing.pairs[w])) for w in pairs}
    new = thing.model_copy(update={"pairs": {**thing.pairs, **changed}})
    return with_thing(scenario, "equipment", {name: new})


def _limits(scenario: Scenario) -> Iterator[Guess]:
    def withstand(_: str, pair: Pair) -> float | None:
        return pair.withstand if pair.from_ == "guess" else None

    def highest(_: str, pair: Pair) -> float | None:
        return pair.highest_voltage if pair.from_ == "guess" else None

    for name, pairs, volts in _pairs(scenario, withstand):

        def _raised(value: float, name: str = name, pairs: list[str] = pairs) -> Scenario:
            return _with_pairs(scenario, name, pairs, partial(_withstanding, value))

        yield Guess(
            what=f"withstand of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=_ends(_neighbours(volts), VOLTAGE, _raised),
            reason="one step of the preferred rated impulse voltages either way (IEC 60664-1,"
            " from memory); its insulation fires no lower than that",
        )
    for name, pairs, volts in _pairs(scenario, highest):

        def _changed(value: float, name: str = name, pairs: list[str] = pairs) -> Scenario:
            return _with_pairs(scenario, name, pairs, lambda _: {"highest_voltage": value})

        yield Guess(
            what=f"highest voltage of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=_ends((0.9 * volts, 1.2 * volts), VOLTAGE, _changed),
            reason=f"10 % less to 20 % more, a class of the part ({PRACTICE})",
        )


def _withstanding(volts: float, pair: Pair) -> dict[str, Any]:
    return {"withstand": volts, "flashover": _fires_at(pair, lambda level: max(level, volts))}


def _fires_at(pair: Pair, change: Callable[[float], float]) -> Flashover | None:
    """The pair's flashover with its level changed, its spread kept."""
    if pair.flashover is None:
        return None
    return pair.flashover.model_copy(update={"level": change(pair.flashover.level)})


def _neighbours(volts: float) -> tuple[float, float]:
    """The preferred values next below and next above."""
    below = [value for value in SERIES if value < 0.99 * volts]
    above = [value for value in SERIES if value > 1.01 * volts]
    return below[-1] if below else 0.75 * volts, above[0] if above else 1.5 * volts


def _flashovers(scenario: Scenario) -> Iterator[Guess]:
    """Levels that were assumed, and those beside a limit that is a guess itself."""
    filled = assumed(scenario, "insulation flashes over at twice") or ""

    def level(name: str, pair: Pair) -> float | None:
        if pair.flashover is None:
            return None
        volts = pair.flashover.level
        assumed_here = about(filled, name) and volts == 2 * (pair.withstand or 0.0)
        return volts if pair.from_ == "guess" or assumed_here else None

    for name, pairs, volts in _pairs(scenario, level):
        floor = max(scenario.equipment[name].pairs[words].withstand or 0.0 for words in pairs)
        low, high = max(0.75 * volts, floor), 1.5 * volts

        def _fires(value: float, name: str = name, pairs: list[str] = pairs) -> Scenario:
            return _with_pairs(
                scenario, name, pairs, lambda pair: {"flashover": _fires_at(pair, lambda _: value)}
            )

        yield Guess(
            what=f"flashover of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=_ends((low, high), VOLTAGE, _fires),
            reason=f"a quarter less to half more, no lower than the withstand ({PRACTICE})",
        )


def _capacitances(scenario: Scenario) -> Iterator[Guess]:
    for name, pairs, farad in _pairs(scenario, lambda _, pair: pair.capacitance):

        def _changed(value: float, name: str = name, pairs: list[str] = pairs) -> Scenario:
            return _with_pairs(scenario, name, pairs, lambda _: {"capacitance": value})

        yield Guess(
            what=f"capacitance of {name}, {' and '.join(pairs)}",
            kind="not stated",
            used=format_quantity(farad, CAPACITANCE),
            ends=_ends((farad / 2, 2 * farad), CAPACITANCE, _changed),
            reason=f"half to twice: filters and arrays are seldom measured ({PRACTICE})",
        )


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
            ends=_ends((0.5e-6, 1.5e-6), INDUCTANCE_PER_LENGTH, changed),
            reason="0.5 uH/m with the return beside it to 1.5 uH/m for a thin wire alone"
            f" ({PRACTICE})",
        )
    if any(slot.leads.line or slot.leads.earth for slot in scenario.arresters.values()):
        yield Guess(
            what="lengths of the arresters' leads",
            kind="not stated",
            used="as given",
            ends=tuple(
                End(value=words, network=partial(_built, partial(_longer, scenario), factor))
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


# --- cables, bonds, ground --------------------------------------------------------------------


def _ducts(scenario: Scenario) -> Iterator[Guess]:
    ducts = {
        n: c for n, c in scenario.cables.items() if any(laying.width for laying in c.laying or ())
    }
    if ducts:
        yield Guess(
            what="wall of the plastic ducts",
            kind="no source",
            used=f"{100 * WALL:g} % of the width",
            ends=tuple(
                End(value=f"{100 * wall:g} %", network=partial(build, scenario, wall=wall))
                for wall in (0.03, 0.1)
            ),
            reason=f"thin to thick ducts as they are sold ({PRACTICE})",
        )
    filled = assumed(scenario, "duct 50 mm wide") or ""
    named = [name for name in ducts if about(filled, name)]
    if named:

        def wide(value: float) -> Scenario:
            changed = {}
            for name in named:
                new = tuple(
                    laying.model_copy(update={"width": value}) if laying.width else laying
                    for laying in ducts[name].laying or ()
                )
                changed[name] = ducts[name].model_copy(update={"laying": new})
            return with_thing(scenario, "cables", changed)

        yield Guess(
            what=f"width of the duct of {' and '.join(named)}",
            kind="no source",
            used="50 mm",
            ends=_ends((0.04, 0.11), LENGTH, wide),
            reason=f"ducts as they are sold for such cables ({PRACTICE})",
        )


def _ground(scenario: Scenario) -> Iterator[Guess]:
    soil = scenario.site.soil

    def soaked(value: float) -> Scenario:
        return scenario.model_copy(
            update={"site": scenario.site.model_copy(update={"soil": value})}
        )

    yield Guess(
        what="resistivity of the soil",
        kind="not stated",
        used=format_quantity(soil, RESISTIVITY),
        ends=_ends((soil / 2, 2 * soil), RESISTIVITY, soaked),
        reason=f"half to twice, by season and depth; measured earths stay ({PRACTICE})",
    )
    for name, earth in scenario.earths.items():
        yield from _ionising(scenario, name)
        if not earth.lumped:
            yield from _along(scenario, name)
            continue

        def _coiled(value: float, name: str = name) -> Scenario:
            new = scenario.earths[name].model_copy(update={"inductance": value})
            return with_thing(scenario, "earths", {name: new})

        henry = earth.lumped
        yield Guess(
            what=f"inductance of earth {name}",
            kind="not stated",
            used=format_quantity(henry, INDUCTANCE),
            ends=_ends((henry / 2, 2 * henry), INDUCTANCE, _coiled),
            reason=f"half to twice: its lead is seldom measured ({PRACTICE})",
        )


def _ionising(scenario: Scenario, name: str) -> Iterator[Guess]:
    """The field at which the soil round an electrode gives way, where it does."""
    earth = scenario.earths[name]
    if earth.ionises_at is None:
        return

    def _at(value: float) -> Scenario:
        new = earth.model_copy(update={"ionises_at": value})
        return with_thing(scenario, "earths", {name: new})

    yield Guess(
        what=f"field at which the soil of earth {name} ionises",
        kind="not stated",
        used=format_quantity(earth.ionises_at, FIELD),
        ends=_ends((300e3, 1e6), FIELD, _at),
        reason="300 to 1000 kV/m, as soils were measured (from memory)",
    )


def _along(scenario: Scenario, name: str) -> Iterator[Guess]:
    """The chain along an electrode, against an electrode that is all of it at once."""
    earth = scenario.earths[name]
    if earth.lumped is not None:
        return

    def _at_once() -> Network:
        new = earth.model_copy(update={"inductance": 0.0})
        return build(with_thing(scenario, "earths", {name: new}))

    yield Guess(
        what=f"inductance along earth {name}",
        kind="not stated",
        used="from its shape",
        ends=(End(value="none", network=_at_once),),
        reason="without any the whole electrode counts from the first instant; formulas differ by"
        f" a fifth ({PRACTICE})",
    )


def _bonds(scenario: Scenario) -> Iterator[Guess]:
    for name, bond in scenario.bonds.items():

        def _long(value: float, name: str = name) -> Scenario:
            new = scenario.bonds[name].model_copy(update={"length": value})
            return with_thing(scenario, "bonds", {name: new})

        length, most = bond.length, LONGEST if bond.bare_in_soil is None else math.inf
        yield Guess(
            what=f"length of bond {name}",
            kind="not stated",
            used=format_quantity(length, LENGTH),
            ends=_ends((length / 2, min(2 * length, most)), LENGTH, _long),
            reason=f"half to twice as long as drawn ({PRACTICE})",
        )


# --- supply and choices -----------------------------------------------------------------------


def _supplies(scenario: Scenario) -> Iterator[Guess]:
    filled = assumed(scenario, "array conducts beyond") or ""
    for name, supply in scenario.supply.items():

        def _conducting(value: float, name: str = name) -> Scenario:
            new = scenario.supply[name].model_copy(update={"resistance": value})
            return with_thing(scenario, "supply", {name: new})

        def _leaking(value: float, name: str = name) -> Scenario:
            old = scenario.supply[name]
            reference = old.reference.model_copy(update={"each_pole": value})
            return with_thing(
                scenario, "supply", {name: old.model_copy(update={"reference": reference})}
            )

        ohm, leak = supply.resistance, supply.reference.each_pole
        if about(filled, name):
            yield Guess(
                what=f"resistance of {name} beyond its range",
                kind="guess",
                used=format_quantity(ohm, RESISTANCE),
                ends=_ends((ohm / 2, 2 * ohm), RESISTANCE, _conducting),
                reason=f"2 to 8 % of Voc/Isc instead of 4 % ({PRACTICE})",
            )
        if leak is not None:
            yield Guess(
                what=f"leakage of {name}, each pole",
                kind="not stated",
                used=format_quantity(leak, RESISTANCE),
                ends=_ends((leak / 4, 10 * leak), RESISTANCE, _leaking),
                reason=f"a quarter in wet, ten times in dry weather ({PRACTICE})",
            )


def _modules(scenario: Scenario) -> Iterator[Guess]:
    """The capacitance of modules to their frames, which is seldom measured."""
    for name, supply in scenario.supply.items():
        if not supply.to_frame:
            continue

        def _soaked(factor: float, name: str = name) -> Scenario:
            old = scenario.supply[name]
            assert old.modules is not None
            both = old.modules.capacitance_to_frame
            side = "dry" if old.surface == "dry" else "wet"
            cells = getattr(both, side)
            scaled = cells.model_copy(update={"value": factor * cells.value})
            modules = old.modules.model_copy(
                update={"capacitance_to_frame": both.model_copy(update={side: scaled})}
            )
            new = old.model_copy(update={"modules": modules})
            return with_thing(scenario, "supply", {name: new})

        guessed = about(assumed(scenario, "modules 100 nF per kW") or "", name)
        total = float(f"{supply.to_frame:.3g}")
        yield Guess(
            what=f"capacitance of the modules of {name} to their frames",
            kind="guess" if guessed else "not stated",
            used=format_quantity(total, CAPACITANCE),
            ends=tuple(
                End(
                    value=format_quantity(float(f"{factor * total:.3g}"), CAPACITANCE),
                    network=partial(_built, _soaked, factor),
                )
                for factor in (0.5, 2.0)
            ),
            reason=f"half to twice, by glass, frame and weather ({PRACTICE})",
        )


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
    if any(text.startswith("V wiring") for text in said):
        yield Guess(
            what="coupling of the halves of a V",
            kind="guess",
            used=f"{1e6 * V_COUPLING:g} uH/m",
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
    if isinstance(element, Coupling):
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
