"""What a guess is: a number that nobody vouches for, and the range in which the truth may lie.

Each has two ends, told as text and as the network that they make, and the reason for its range.
Ranges are common practice without a source where nothing else is said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any

from surgesim.build import build
from surgesim.network.circuit import Network
from surgesim.reading.quantities import Dimension, format_quantity
from surgesim.scenario.schema import Scenario

PRACTICE = "common practice, no source"

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


def with_value(
    scenario: Scenario, section: str, name: str, field: str
) -> Callable[[float], Scenario]:
    """How to make the scenario with another value in one field of one thing."""

    def make(value: float) -> Scenario:
        new = getattr(scenario, section)[name].model_copy(update={field: value})
        return with_thing(scenario, section, {name: new})

    return make


def ends_at(
    values: Iterable[float], dimension: Dimension, make: Callable[[float], Scenario]
) -> tuple[End, ...]:
    """Ends that are values of the scenario; the scenario is made when the network is."""
    rounded = [float(f"{value:.4g}") for value in values]
    return tuple(
        End(value=format_quantity(value, dimension), network=partial(built, make, value))
        for value in rounded
    )


def built(make: Callable[[float], Scenario], value: float) -> Network:
    """The network of the scenario that ``make`` makes of a value."""
    return build(make(value))
