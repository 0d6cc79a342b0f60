"""Running cases: build, simulate, measure, one result after another as they finish."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from surgesim.build import build
from surgesim.engine import engine_version, map_networks, run_network
from surgesim.engine.flashover import flashovers
from surgesim.engine.windows import Plan
from surgesim.engine.writer import write_deck
from surgesim.errors import InputError, Problem, SurgesimError
from surgesim.findings.case import CaseFindings, CaseInfo
from surgesim.findings.case import measure as measure_case
from surgesim.findings.certified import Again, certified
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms, Window
from surgesim.scenario.file import Case
from surgesim.studies.certify import fired_in, run_variants

TIMEOUT = 120.0
"""Seconds one engine process may take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One case that has been run: its network and both windows, or the error instead.

    ``variants`` are the runs that certify its numerical errors, where that was asked for.
    ``crosscheck`` is how it fared against the second solver, None where that was not run.
    """

    case: Case
    network: Network | None = None
    front: Waveforms | None = None
    tail: Waveforms | None = None
    error: SurgesimError | None = None
    variants: tuple[Again, ...] = ()
    crosscheck: Mapping[str, Any] | None = None


Check = Callable[[Result], Result]
"""What else is done with a result; what it raises takes the result's place."""


def run(
    cases: Iterable[Case],
    *,
    workers: int | None = None,
    timeout: float = TIMEOUT,
    keep: Path | None = None,
    certify: bool = False,
    check: Check | None = None,
) -> Iterator[Result]:
    """Run cases, yielding each result as it finishes, whatever became of it.

    ``workers`` engine processes at once (all processors when None); ``timeout`` in s bounds
    one of them; ``keep`` is a folder for every deck and log; ``certify`` runs each case again
    for its numerical errors (:mod:`surgesim.studies.certify`); ``check`` is applied to each
    result beside the other runs, such as :func:`surgesim.crosschecked`. A case that fails is a
    result with an error, and the others go on. Before anything is run raises EngineMissing, and
    InputError where parts of a case cannot be put together.
    """
    engine_version()
    networks = built(cases)

    def work(job: tuple[Case, Network]) -> Result:
        case, network = job
        folder = keep / case.id if keep else None
        front, tail = run_network(network, timeout=timeout, keep=folder)
        result = Result(case=case, network=network, front=front, tail=tail)
        if certify:
            result = replace(result, variants=_variants(result, timeout))
        return check(result) if check is not None else result

    for outcome in map_networks(networks, work, workers=workers):
        case, network = outcome.job
        yield outcome.result or Result(case=case, network=network, error=outcome.error)


def built(cases: Iterable[Case]) -> list[tuple[Case, Network]]:
    """Each case with its network. Raises InputError with the problems of all of them."""
    networks: list[tuple[Case, Network]] = []
    problems: dict[Problem, None] = {}
    for case in cases:
        try:
            with case.locating():
                networks.append((case, build(case.scenario)))
        except InputError as error:
            problems.update(dict.fromkeys(error.problems))
    if problems:
        raise InputError(list(problems))
    return networks


def measure(result: Result) -> CaseFindings:
    """The findings on one result. Raises the result's own error, or ResultRefused."""
    if result.error is not None:
        raise result.error
    assert result.network is not None
    assert result.front is not None
    assert result.tail is not None
    alone = measure_case(
        result.network,
        result.front,
        result.tail,
        info=case_info(result.case),
        asked_margin_percent=100 * result.case.scenario.asked_margin,
    )
    found = replace(alone, crosscheck=result.crosscheck)
    if not result.variants:
        return found
    return certified(found, fired_in(result.network, result.front, result.tail), result.variants)


def _variants(result: Result, timeout: float) -> tuple[Again, ...]:
    assert result.network is not None
    assert result.front is not None
    assert result.tail is not None
    return run_variants(
        result.network,
        (result.front, result.tail),
        doubled=build(result.case.scenario, in_halves=True),
        info=case_info(result.case),
        asked_margin_percent=100 * result.case.scenario.asked_margin,
        timeout=timeout,
    )


def case_info(case: Case) -> CaseInfo:
    """What identifies a case in the findings."""
    return CaseInfo(id=case.id, axes=case.axes, surge=case.surge)


def deck_as_run(network: Network, *, window: Window, timeout: float = TIMEOUT) -> str:
    """The deck that gives a network's accepted result, found by running it.

    Raises EngineError where there is none.
    """
    front, tail = run_network(network, timeout=timeout)
    waves = front if window == "front" else tail
    plan = Plan(window=window, step=waves.step, stop=waves.stop, lumped=waves.lumped)
    decided = flashovers(network, None if window == "front" else front)
    return write_deck(network, plan, flashovers=decided, options=waves.options).text
