"""Random valid installations by both solvers: agreed, knife-edge, or refused with the reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

import pytest

from surgesim.errors import ResultRefused
from surgesim.scenario.file import Case, loads
from surgesim.scenario.written import as_yaml
from surgesim.studies.crosscheck import crosschecked
from surgesim.studies.run import Result, measure, run
from tests.attacks.installations import installation

QUICK, FEW_PLACES = range(50), 4
QUICK_BY_BOTH = (2, 3, 4, 9, 13, 15, 18)
"""Of those, some that the second solver runs within seconds: one of each surge, a flashover."""

MANY = range(1000, 2000)

RESULT, AGREED, KNIFE_EDGE, DISAGREED, UNCHECKED, NO_RESULT = (
    "result", "agreed", "knife-edge", "solvers disagree", "second solver has no result",
    "no result",
)  # fmt: skip


REFUSED_AT_MOST = 0.03
"""Share of installations that either solver may have no result for."""

DISAGREED_AT_MOST = 0.01
"""Share of results of both solvers that may be more than 1 % apart. None was of those seen, but
they were few beside a thousand."""


def case_of(seed: int, *, most: int = 12) -> Case:
    (case,) = loads(as_yaml(installation(seed, most=most)), name=f"seed {seed}").all_cases
    return replace(case, id=f"c{seed:04d}")


def outcomes(seeds: Iterable[int], *, most: int = 12, both: bool = True) -> dict[str, str]:
    """What became of each seed, with ``both`` by both solvers. Anything raised that is no refusal
    is a fault of the program."""
    cases = [case_of(seed, most=most) for seed in seeds]
    results = run(cases, check=crosschecked) if both else run(cases)
    return {result.case.id: ended(result) for result in results}


def ended(result: Result) -> str:
    """In one word, after looking at what it says."""
    if result.error is not None:
        words = getattr(result.error, "message", None) or str(result.error)
        assert len(words) > 20, "a refusal without a word"
        if "the two solvers disagree: " in words:
            return DISAGREED
        return UNCHECKED if "could not be cross-checked: " in words else NO_RESULT
    try:
        found = measure(result)
    except ResultRefused:
        return NO_RESULT  # by a broken invariant, with what it is and where
    for terminal in found.terminals:
        assert terminal.insulation is not None
        assert (terminal.peak_v is None) == terminal.insulation.fired
        assert abs(terminal.peak_v or 0.0) <= 1.01 * terminal.insulation.level_v
    if found.crosscheck is None:
        return RESULT
    largest = found.crosscheck["largest"]["difference_percent"]
    moved = max(map(abs, found.crosscheck["moved_percent"].values()), default=0.0)
    assert abs(largest) <= 2.0 + 2.0 * moved
    return str(found.crosscheck["status"])


def test_the_same_seed_is_the_same_installation() -> None:
    assert installation(7) == installation(7) != installation(8)


def told(found: dict[str, str]) -> str:
    """How many ended how, and which did not end in agreement."""
    counted = Counter(found.values())
    rest = ", ".join(f"{case} {end}" for case, end in sorted(found.items()) if end != AGREED)
    return f"{dict(counted)}; {rest}"


def check(found: dict[str, str]) -> None:
    """No end but the named ones; and next to all are agreement or a knife-edge."""
    assert set(found.values()) <= {AGREED, KNIFE_EDGE, DISAGREED, UNCHECKED, NO_RESULT}
    ends = list(found.values())
    refused = ends.count(NO_RESULT) + ends.count(UNCHECKED)
    assert refused <= REFUSED_AT_MOST * len(ends), told(found)
    assert ends.count(DISAGREED) <= DISAGREED_AT_MOST * len(ends), told(found)


def test_fifty_end_in_results_or_named_refusals() -> None:
    """By the engine alone; every result holds its invariants, or it were a refusal."""
    found = outcomes(QUICK, most=FEW_PLACES, both=False)
    assert set(found.values()) <= {RESULT, NO_RESULT}
    assert list(found.values()).count(NO_RESULT) <= REFUSED_AT_MOST * len(found), told(found)


def test_some_of_them_agree_by_both_solvers() -> None:
    found = outcomes(QUICK_BY_BOTH, most=FEW_PLACES)
    assert set(found.values()) == {AGREED}, told(found)


@pytest.mark.slow
def test_the_fifty_end_in_agreement_a_knife_edge_or_a_named_refusal() -> None:
    check(outcomes(QUICK, most=FEW_PLACES))


@pytest.mark.slow
@pytest.mark.parametrize("first", MANY[::100])
def test_a_thousand_end_so(first: int) -> None:
    """A hundred at a time, every tenth of them with as many places as there may be."""
    seeds = range(first, first + 100)
    large = [seed for seed in seeds if seed % 10 == 0]
    found = outcomes(large) | outcomes([s for s in seeds if s not in large], most=FEW_PLACES)
    print(told(found))
    check(found)
