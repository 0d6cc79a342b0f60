"""Decks of a record: what each was written from, and writing it again from the scenario.

A front's deck follows from the network and from the steps it was run at. A tail's also depends
on when insulation fired in the front, how the discharge of each spark gap went there, and where
the front ended. These numbers are kept beside each deck, so that it can be rebuilt byte for byte
without running anything.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from surgesim.engine.emit import Flashovers
from surgesim.engine.flashover import flashovers
from surgesim.engine.gap import Course
from surgesim.engine.validate import validate
from surgesim.engine.windows import MOST_POINTS, Plan
from surgesim.engine.writer import write_deck
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms, Window

LAST_DIGIT = 1.001e-9
"""One unit in the last of the ten digits of a deck's number, as a share of it."""

_NUMBER = re.compile(r"(?<![\w.])[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?(?![\w.])")


@dataclass(frozen=True, slots=True, kw_only=True)
class DeckInputs:
    """What a deck depends on besides its network.

    ``step`` and ``stop`` in s; ``lumped`` lines; ``options`` of the engine; of a tail, when (s)
    each insulation fired in the front, the course (s, z) of each spark gap there, and
    ``armed_from`` (s), the front's end, before which no other insulation may fire.
    """

    window: Window
    step: float
    stop: float
    lumped: tuple[str, ...]
    options: str
    fired_at: Mapping[str, float] = field(default_factory=dict)
    gaps: Mapping[str, Course] = field(default_factory=dict)
    armed_from: float = 0.0

    def as_json(self) -> dict[str, Any]:
        """As it stands in a manifest."""
        return {
            "step_s": self.step,
            "stop_s": self.stop,
            "lumped": list(self.lumped),
            "options": self.options,
            "fired_at_s": dict(self.fired_at),
            "gaps": {name: [list(corner) for corner in c] for name, c in self.gaps.items()},
            "armed_from_s": self.armed_from,
        }

    @classmethod
    def from_json(cls, window: Window, entry: Mapping[str, Any]) -> DeckInputs:
        """From a manifest's entry that its schema has found right."""
        return cls(
            window=window,
            step=float(entry["step_s"]),
            stop=float(entry["stop_s"]),
            lumped=tuple(entry["lumped"]),
            options=str(entry["options"]),
            fired_at={name: float(at) for name, at in entry["fired_at_s"].items()},
            gaps={name: _course(corners) for name, corners in entry["gaps"].items()},
            armed_from=float(entry["armed_from_s"]),
        )


def _course(corners: Iterable[Sequence[float]]) -> Course:
    return tuple((float(time), float(z)) for time, z in corners)


def inputs_of(network: Network, front: Waveforms, tail: Waveforms) -> tuple[DeckInputs, DeckInputs]:
    """What the decks of both windows were written from, as their runs tell it."""
    decided = flashovers(network, front)
    return _inputs(front, Flashovers()), _inputs(tail, decided)


def _inputs(waves: Waveforms, decided: Flashovers) -> DeckInputs:
    return DeckInputs(
        window=waves.window,
        step=waves.step,
        stop=waves.stop,
        lumped=waves.lumped,
        options=waves.options,
        fired_at=decided.fired_at,
        gaps=decided.gaps,
        armed_from=decided.until,
    )


def deck_text(network: Network, inputs: DeckInputs) -> str:
    """The deck of a network from its inputs; the same bytes that the engine was given.

    Raises EngineError for a network, or for inputs, that no run can have had.
    """
    validate(network)
    plan = Plan(window=inputs.window, step=inputs.step, stop=inputs.stop, lumped=inputs.lumped)
    if plan.points > MOST_POINTS:
        raise EngineError(f"the {inputs.window} window has {plan.points} points, which no run has")
    decided = Flashovers(fired_at=inputs.fired_at, gaps=inputs.gaps, until=inputs.armed_from)
    return write_deck(network, plan, flashovers=decided, options=inputs.options).text


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """The first line in which two texts differ, counted from 1; empty where one has ended.

    ``rounding`` says that nothing but last printed digits differ anywhere in the two texts: so
    a machine whose linear algebra rounds otherwise writes them.
    """

    line: int
    recorded: str
    rebuilt: str
    rounding: bool


def first_difference(recorded: str, rebuilt: str) -> Difference | None:
    """Where two decks part, None when they are the same text."""
    if recorded == rebuilt:
        return None
    was, now = recorded.split("\n"), rebuilt.split("\n")
    shared = min(len(was), len(now))
    at = next((k for k in range(shared) if was[k] != now[k]), shared)
    return Difference(
        line=at + 1,
        recorded=was[at] if at < len(was) else "",
        rebuilt=now[at] if at < len(now) else "",
        rounding=_same_but_rounding(recorded, rebuilt),
    )


def _same_but_rounding(recorded: str, rebuilt: str) -> bool:
    was, now = _NUMBER.findall(recorded), _NUMBER.findall(rebuilt)
    return _NUMBER.sub("#", recorded) == _NUMBER.sub("#", rebuilt) and all(
        math.isclose(float(a), float(b), rel_tol=LAST_DIGIT) for a, b in zip(was, now, strict=True)
    )
