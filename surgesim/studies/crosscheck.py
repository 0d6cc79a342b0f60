"""Cross-check: a case that ngspice has answered, run by the second solver and compared.

Both results are measured by the same code, and every number of the one is held against the
other's. The end is one of three. *Agreed*: every number within its tolerance. *Knife-edge*:
insulation is at the edge of firing and both outcomes are legitimate; see ``knife_edge``.
*Disagreed*: anything else, and the case has no result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from surgesim.errors import ResultRefused, SurgesimError
from surgesim.findings.knife_edge import suspects
from surgesim.network.circuit import Network
from surgesim.studies.crosscheck_tally import AGREED, KNIFE_EDGE
from surgesim.studies.knife_edge import (
    Bench,
    Outcome,
    Story,
    as_other,
    examined,
    labels,
    same_story,
    story_of,
    towards,
)
from surgesim.studies.record_compare import (
    DIFFERS,
    SECOND_SOLVER,
    in_words,
    numbers_beside,
    widened,
)
from surgesim.studies.run import Result, measure
from surgesim.studies.worst import Record

Crosscheck = dict[str, Any]
_Item = Mapping[str, Any]


def crosschecked(result: Result) -> Result:
    """The result with its ``crosscheck``. Raises as :func:`crosscheck` does."""
    return replace(result, crosscheck=crosscheck(result))


def crosscheck(result: Result) -> Crosscheck:
    """How a result fares against the second solver: the ``crosscheck`` of a case of the findings.

    Raises the result's own error, and ResultRefused, naming the case, where the two solvers
    disagree or the second one has no answer.
    """
    findings = measure(result)
    record = findings.as_json()
    network, front, tail = result.network, result.front, result.tail
    assert network is not None
    assert front is not None
    assert tail is not None
    bench = Bench.of(result.case, network, front, tail)
    suspected = list(suspects(network, findings.terminals))
    try:
        mine = _Mine(record=record, story=story_of(network, record))
        beside = _beside(bench, mine)
        others = list(_others(bench, mine, beside, suspected))
    except SurgesimError as error:
        raise _refused(result, error) from error
    return _told(network, mine, beside, others)


@dataclass(frozen=True, kw_only=True)
class _Mine:
    """The engine's outcome."""

    record: Record
    story: Story


@dataclass(frozen=True, kw_only=True)
class _Beside:
    """The second solver's outcome that tells the engine's story, and every number of both."""

    outcome: Outcome
    items: Sequence[_Item]


class _Disagreed(SurgesimError):
    """Why two solvers' results are not those of one case."""

    def __init__(self, message: str, hint: str) -> None:
        self.hint = hint
        super().__init__(message)


def _beside(bench: Bench, mine: _Mine) -> _Beside:
    """The engine's numbers beside the second solver's; levels moved where that takes it."""
    outcome: Outcome | None = bench.as_given
    items = list(_compared(mine.record, bench.as_given))
    if same_story(mine.story, bench.as_given.story) or _within(mine, bench.as_given, items):
        return _agreeing(bench.as_given, items, bench.network)
    outcome = towards(bench, mine.story)
    if outcome is None:
        raise _Disagreed(
            f"ngspice has {_fired(bench.network, mine.story)}, the second solver"
            f" {_fired(bench.network, bench.as_given.story)}, and moving the levels in question by"
            " one percent does not bring the one to the other",
            hint=_HINT,
        )
    items = list(_compared(mine.record, outcome))
    return _agreeing(outcome, items, bench.network)


def _within(mine: _Mine, outcome: Outcome, items: Sequence[_Item]) -> bool:
    """Whether all numbers agree though other insulation fired first."""
    return set(mine.story) == set(outcome.story) and not _beyond(items)


def _agreeing(outcome: Outcome, items: Sequence[_Item], network: Network) -> _Beside:
    """Raises where a number is beyond its tolerance: the same story, and yet another answer."""
    beyond = _beyond(items)
    if beyond:
        raise _Disagreed(_differing(beyond, len(items), network, outcome), hint=_HINT)
    return _Beside(outcome=outcome, items=items)


_HINT = (
    "one of the two is wrong by more than is tolerated, so that neither is to be used: leave this"
    " case out by --choose, or shorten or simplify what is named and run it again"
)


def _compared(record: Record, outcome: Outcome) -> Iterator[_Item]:
    """Every number of both solvers; where levels were moved, by as much more may they differ."""
    more = max(map(abs, outcome.moved.values()), default=0.0)
    tolerances = widened(SECOND_SOLVER, more)
    return numbers_beside(record, outcome.record, tolerances, opposite=outcome.opposite)


def _beyond(items: Iterable[_Item]) -> list[_Item]:
    """Numbers that differ by more than their tolerance, the most first."""
    differing = [item for item in items if item["status"] == DIFFERS]
    return sorted(differing, key=_size, reverse=True)


def _size(item: _Item) -> float:
    percent = item["difference_percent"]
    return float("inf") if percent is None else abs(float(percent))


def _others(
    bench: Bench, mine: _Mine, beside: _Beside, suspected: Sequence[Any]
) -> Iterator[Outcome]:
    """Every legitimate outcome besides the engine's, each once."""
    told: list[Story] = [mine.story]
    for outcome in (bench.as_given, *examined(bench, suspected)):
        if not any(same_story(outcome.story, story) for story in told) and _is_other(
            beside, outcome
        ):
            told.append(outcome.story)
            yield outcome


def _is_other(beside: _Beside, outcome: Outcome) -> bool:
    """Not where the same insulation fires in another order and every number is the same."""
    if set(outcome.story) != set(beside.outcome.story):
        return True
    return bool(_beyond(_compared(beside.outcome.record, outcome)))


def _told(network: Network, mine: _Mine, beside: _Beside, others: Sequence[Outcome]) -> Crosscheck:
    names = labels(network)
    largest = max(beside.items, key=_size, default=None)
    return {
        "status": KNIFE_EDGE if others else AGREED,
        "step_s": beside.outcome.record["windows"]["front"]["step_s"],
        "compared": len(beside.items),
        "largest": None if largest is None else _number(largest),
        "moved_percent": {
            names[name]: 100.0 * share for name, share in beside.outcome.moved.items()
        },
        "fires": [names[name] for name in mine.story],
        "others": [as_other(network, outcome) for outcome in others],
    }


def _number(item: _Item) -> dict[str, Any]:
    return {
        "what": item["what"],
        "unit": item["unit"],
        "ngspice": item["claimed"],
        "second_solver": item["reproduced"],
        "difference_percent": item["difference_percent"],
    }


def _refused(result: Result, error: SurgesimError) -> ResultRefused:
    """The refusal of a case, by its name."""
    words, hint = getattr(error, "message", None) or str(error), getattr(error, "hint", "")
    words = words.removeprefix(f"{result.case.id}: ")
    if isinstance(error, _Disagreed):
        return ResultRefused(f"{result.case.id}: the two solvers disagree: {words}", hint=hint)
    return ResultRefused(
        f"{result.case.id}: could not be cross-checked: the second solver has no result: {words}",
        hint=hint,
    )


def _differing(beyond: Sequence[_Item], compared: int, network: Network, outcome: Outcome) -> str:
    """Which number is furthest apart, both its values, and how many there are."""
    worst = beyond[0]
    one, other = (_valued(worst[key], worst["unit"]) for key in ("claimed", "reproduced"))
    percent = worst["difference_percent"]
    apart = "" if percent is None else f", {abs(percent):.3g} % apart"
    moved = f" (with {_moved(network, outcome)})" if outcome.moved else ""
    return (
        f"{in_words(worst['what'])} is {one} by ngspice and {other} by the second solver"
        f"{moved}{apart} where {worst['tolerance_percent']:.2g} % are tolerated;"
        f" {len(beyond)} of {compared} numbers differ by more than that"
    )


def _valued(value: float | None, unit: str) -> str:
    if value is None:
        return "nothing"
    return f"{value:.4g} of the rating" if unit == "rating" else f"{value:.5g} {unit}"


def _fired(network: Network, story: Story) -> str:
    names = labels(network)
    if not story:
        return "no insulation fire"
    return f"{' and then '.join(names[name] for name in story)} fire"


def _moved(network: Network, outcome: Outcome) -> str:
    names = labels(network)
    return ", ".join(
        f"the level of {names[name]} moved by {100.0 * share:+.2g} %"
        for name, share in outcome.moved.items()
    )
