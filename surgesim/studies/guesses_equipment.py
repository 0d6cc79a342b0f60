"""Guesses about equipment: what it stands, where its insulation fires, its capacitances."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from surgesim.reading.quantities import CAPACITANCE, VOLTAGE, format_quantity
from surgesim.scenario.equipment import Flashover, Pair
from surgesim.scenario.schema import Scenario
from surgesim.studies.guess import PRACTICE, Guess, about, assumed, ends_at, with_thing

SERIES = (330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0)
"""Preferred rated impulse voltages, V (IEC 60664-1, from memory)."""


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


def _changing(
    scenario: Scenario, name: str, pairs: list[str], change: Callable[[float, Pair], dict[str, Any]]
) -> Callable[[float], Scenario]:
    """How to make the scenario with some pairs of an equipment changed to a value."""

    def make(value: float) -> Scenario:
        thing = scenario.equipment[name]
        changed = {
            words: thing.pairs[words].model_copy(update=change(value, thing.pairs[words]))
            for words in pairs
        }
        new = thing.model_copy(update={"pairs": {**thing.pairs, **changed}})
        return with_thing(scenario, "equipment", {name: new})

    return make


def limits(scenario: Scenario) -> Iterator[Guess]:
    """Withstands and highest voltages that are marked as guesses."""

    def withstand(_: str, pair: Pair) -> float | None:
        return pair.withstand if pair.from_ == "guess" else None

    def highest(_: str, pair: Pair) -> float | None:
        return pair.highest_voltage if pair.from_ == "guess" else None

    for name, pairs, volts in _pairs(scenario, withstand):
        yield Guess(
            what=f"withstand of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=ends_at(
                _neighbours(volts), VOLTAGE, _changing(scenario, name, pairs, _withstanding)
            ),
            reason="one step of the preferred rated impulse voltages either way (IEC 60664-1,"
            " from memory); its insulation fires no lower than that",
        )
    for name, pairs, volts in _pairs(scenario, highest):
        yield Guess(
            what=f"highest voltage of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=ends_at(
                (0.9 * volts, 1.2 * volts),
                VOLTAGE,
                _changing(scenario, name, pairs, lambda value, _: {"highest_voltage": value}),
            ),
            reason=f"10 % less to 20 % more, a class of the part ({PRACTICE})",
        )


def _withstanding(volts: float, pair: Pair) -> dict[str, Any]:
    return {"withstand": volts, "flashover": _fires_at(pair, lambda level: max(level, volts))}


def _firing(volts: float, pair: Pair) -> dict[str, Any]:
    return {"flashover": _fires_at(pair, lambda _: volts)}


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


def flashovers(scenario: Scenario) -> Iterator[Guess]:
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

        yield Guess(
            what=f"flashover of {name}, {' and '.join(pairs)}",
            kind="guess",
            used=format_quantity(volts, VOLTAGE),
            ends=ends_at((low, high), VOLTAGE, _changing(scenario, name, pairs, _firing)),
            reason=f"a quarter less to half more, no lower than the withstand ({PRACTICE})",
        )


def capacitances(scenario: Scenario) -> Iterator[Guess]:
    """Every capacitance of a pair: the language does not ask where it is from."""
    for name, pairs, farad in _pairs(scenario, lambda _, pair: pair.capacitance):
        yield Guess(
            what=f"capacitance of {name}, {' and '.join(pairs)}",
            kind="not stated",
            used=format_quantity(farad, CAPACITANCE),
            ends=ends_at(
                (farad / 2, 2 * farad),
                CAPACITANCE,
                _changing(scenario, name, pairs, lambda value, _: {"capacitance": value}),
            ),
            reason=f"half to twice: filters and arrays are seldom measured ({PRACTICE})",
        )
