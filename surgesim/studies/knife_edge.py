"""Knife-edge: two outcomes of one case that are both legitimate, and how that is shown.

Two outcomes are both legitimate where the same solver goes from one to the other when the
levels of the insulation in question are moved by no more than one percent
(:data:`surgesim.findings.knife_edge.EDGE`). That two solvers differ is not enough: a solver
that is wrong differs too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from surgesim.findings.knife_edge import EDGE, Suspect
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation
from surgesim.network.waveforms import Waveforms
from surgesim.scenario.file import Case
from surgesim.studies.crests import opposite_crests
from surgesim.studies.record_compare import OUTCOME
from surgesim.studies.run import Result, measure
from surgesim.studies.worst import Record

MOVES = (0.001, 0.003, EDGE)
"""By how much levels are moved, as shares of them: the least that brings the other outcome."""

Story = tuple[str, ...]
"""The insulation that fired, by element name, in the order in which it did."""
Moved = Mapping[str, float]
"""Share by which the level of each insulation is moved, by element name."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What the second solver finds for a case with some levels moved: the case as plain data."""

    moved: Moved
    record: Record
    story: Story
    opposite: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A case that the second solver can run again and again, its levels moved."""

    case: Case
    network: Network
    steps: tuple[float, float]
    stops: tuple[float, float]

    @classmethod
    def of(cls, case: Case, network: Network, front: Waveforms, tail: Waveforms) -> Bench:
        """Over the times of an engine's run, at steps no longer than its own."""
        return cls(
            case=case, network=network,
            steps=(front.step, tail.step), stops=(front.stop, tail.stop),
        )  # fmt: skip

    def outcome(self, moved: Moved) -> Outcome:
        """Run and measured. Raises EngineError, and ResultRefused for a result that is none."""
        from surgesim.studies.second_solver import by_second_solver

        network = with_levels_moved(self.network, moved)
        front, tail = by_second_solver(network, steps=self.steps, stops=self.stops)
        result = Result(case=self.case, network=network, front=front, tail=tail)
        record = measure(result).as_json()
        return Outcome(
            moved=dict(moved),
            record=record,
            story=story_of(network, record),
            opposite=opposite_crests(network, front, tail),
        )

    @cached_property
    def as_given(self) -> Outcome:
        """With every level as it is."""
        return self.outcome({})


def with_levels_moved(network: Network, moved: Moved) -> Network:
    """The network with the levels of some insulation multiplied by one and a share.

    What is said of the terminals stays, so that a level reads the same in both outcomes.
    """
    elements = tuple(
        replace(element, level=element.level * (1.0 + moved[element.name]))
        if isinstance(element, Insulation) and element.name in moved
        else element
        for element in network.elements
    )
    return replace(network, elements=elements)


def story_of(network: Network, record: Record) -> Story:
    """Which insulation fired in a case, by element name, in order."""
    fired = [
        (terminal["insulation"]["fired_at_s"], probe.insulation)
        for probe, terminal in zip(network.terminals, record["terminals"], strict=True)
        if probe.insulation is not None and terminal["insulation"]["fired"]
    ]
    return tuple(name for _, name in sorted(fired))


def same_story(one: Story, other: Story) -> bool:
    """Whether the same insulation fired, and the same first."""
    return set(one) == set(other) and one[:1] == other[:1]


def towards(bench: Bench, target: Story) -> Outcome | None:
    """The outcome of another solver brought about in the second one, by the least move; or None.

    The insulation in question is what fired in one outcome alone, or, where the same fired,
    what fired first in each.
    """
    mine = bench.as_given.story
    only_there, only_here = set(target) - set(mine), set(mine) - set(target)
    if not only_there and not only_here:
        only_there, only_here = set(target[:1]), set(mine[:1])
    for share in MOVES:
        moved = {**dict.fromkeys(only_there, -share), **dict.fromkeys(only_here, share)}
        outcome = bench.outcome(moved)
        if same_story(outcome.story, target):
            return outcome
    return None


def examined(bench: Bench, suspected: Sequence[Suspect]) -> Iterator[Outcome]:
    """What the second solver finds with the levels of suspects moved by one percent."""
    for suspect in suspected:
        for moved in _moves(suspect):
            yield bench.outcome(moved)


def _moves(suspect: Suspect) -> Iterator[Moved]:
    if suspect.unfired is not None:
        yield {suspect.unfired: -EDGE}
    if suspect.together:
        first, second = suspect.together
        # first the one behind no longer fires, then it fires first
        yield {second: EDGE}
        yield {first: EDGE, second: -EDGE}


def as_other(network: Network, outcome: Outcome) -> dict[str, Any]:
    """An outcome besides a case's own, as the findings object tells it."""
    names = labels(network)
    return {
        "moved_percent": {names[name]: 100.0 * share for name, share in outcome.moved.items()},
        "fires": [names[name] for name in outcome.story],
        **{key: outcome.record[key] for key in OUTCOME},
    }


def labels(network: Network) -> dict[str, str]:
    """Names of insulation as a reader knows it, by element name."""
    return {
        probe.insulation: f"{probe.equipment}, {probe.pair}"
        for probe in network.terminals
        if probe.insulation is not None
    }
