"""Reproducing a record: decks written again, cases run again, claimed beside reproduced.

Everything is done from the recorded scenarios. The recorded decks are compared as texts and
never run; the recorded findings are compared as numbers and never believed.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from surgesim import __version__
from surgesim.build import build
from surgesim.engine import engine_version, map_networks
from surgesim.errors import EngineMissing, InputError, SurgesimError
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms
from surgesim.reading.names import did_you_mean
from surgesim.scenario.file import Case
from surgesim.studies import record_compare as compare
from surgesim.studies.bench import same_aside
from surgesim.studies.breakdown import adds_up, breakdown, entries_of
from surgesim.studies.compare import compose
from surgesim.studies.crests import opposite_crests
from surgesim.studies.failed_arresters import failed_arresters
from surgesim.studies.influence import follows, influence, same_influence
from surgesim.studies.info import EngineRecord, Failure
from surgesim.studies.outcomes_again import KnifeEdges, with_others
from surgesim.studies.record import FINDINGS, WINDOWS, Render, made_with
from surgesim.studies.record_consistency import inconsistencies, study_of
from surgesim.studies.record_decks import DeckInputs, deck_text, first_difference, inputs_of
from surgesim.studies.record_reading import RecordedCase, RecordReader
from surgesim.studies.run import TIMEOUT, Check, Result, measure, run
from surgesim.studies.study import failure
from surgesim.studies.worst import Record

SCHEMA = "surgesim.reproduction/1"
Engine = Literal["ngspice", "oracle"]
Comparison = dict[str, Any]
_Plan = tuple[str, float, float, tuple[str, ...], str, tuple[str, ...]]
Watch = Callable[[int], None]
"""Called with how many cases have finished."""

HELD, NOT_REPRODUCED, NO_RESULT = 0, 1, 3


def reproduce(
    record: RecordReader,
    *,
    render: Render,
    only: Sequence[str] = (),
    engine: Engine = "ngspice",
    workers: int | None = None,
    timeout: float = TIMEOUT,
    watch: Watch | None = None,
) -> Comparison:
    """Run a record's cases again and compare (surgesim.reproduction/1).

    ``only`` names the cases to run, all when empty; ``engine`` may be the second solver, which
    needs no ngspice. ``render`` is the disclosures' text, for the text in the record to be
    compared with. Raises InputError for a case that is not in the record, or that cannot be
    built at all.
    """
    chosen = _chosen(record, only)
    tolerances = compare.SAME_ENGINE if engine == "ngspice" else compare.SECOND_SOLVER
    solver = _engine_record(engine)
    work = _Work(record, tolerances)
    knife_edges = KnifeEdges(record)
    results = _run(chosen, engine, workers, timeout, knife_edges.check)
    for number, result in enumerate(results, start=1):
        work.add(result)
        if watch is not None:
            watch(number)
    study = study_of(record, [recorded.case for recorded in chosen], solver)
    found = compose(study, work.records, failures=work.failures)
    whole = len(chosen) == len(record.cases)
    cases = sorted(work.compared, key=lambda case: (len(case["id"]), case["id"]))
    comparison: Comparison = {
        "schema": SCHEMA,
        "title": found["scenario"]["title"],
        "record": _about(record),
        "here": made_with({"name": solver.name, "version": solver.version}),
        "tolerances": compare.tolerances_as_json(tolerances),
        "remarks": [*_remarks(record, engine, chosen), *_run_otherwise(work.otherwise)],
        "inconsistencies": [
            *inconsistencies(record, render=render),
            *_influence(record, workers, again=whole and engine == "oracle"),
            *_asides(record, workers, again=whole and engine == "oracle"),
        ],
        "decks": {
            "compared": work.decks,
            "different": sorted(work.different, key=lambda d: (len(d["case"]), *d.values())),
        },
        "cases": cases,
        "alternatives": _alternatives(record, found, cases) if whole else [],
        "claims": (
            compare.compare_claims(record.findings["claims"], found["claims"], tolerances)
            if whole
            else []
        ),
    }
    return {**comparison, **_outcome(comparison)}


def _influence(record: RecordReader, workers: int | None, *, again: bool) -> Iterator[str]:
    """Whether the ranking of guesses follows from itself, and ``again`` whether it comes out so.

    That takes two runs of the second solver a guess; another version may have other guesses.
    """
    claimed = record.findings.get("influence")
    if claimed is None:
        return
    if not follows(claimed, record.findings):
        yield f"{FINDINGS}: 'influence' does not follow from its own numbers"
    elif again and record.manifest["made_with"]["surgesim"] == __version__:
        cases = [recorded.case for recorded in record.cases]
        if not same_influence(claimed, influence(record.findings, cases, workers=workers)):
            yield f"{FINDINGS}: 'influence' is not what the recorded scenarios give"


def _asides(record: RecordReader, workers: int | None, *, again: bool) -> Iterator[str]:
    """Whether what was run beside the study follows from itself, and ``again`` comes out so."""
    findings = record.findings
    told = {key: findings.get(key) for key in ("breakdown", "failed_arresters")}
    if told["breakdown"] is not None and not adds_up(told["breakdown"]):
        yield f"{FINDINGS}: the parts of 'breakdown' do not add up to its peaks"
    if not again or record.manifest["made_with"]["surgesim"] != __version__:
        return
    cases = [recorded.case for recorded in record.cases]
    if told["breakdown"] is not None:
        only = entries_of(told["breakdown"], findings)
        found = breakdown(findings, cases, only=only, workers=workers)
        if not same_aside(told["breakdown"], found):
            yield f"{FINDINGS}: 'breakdown' is not what the recorded scenarios give"
    if told["failed_arresters"] is not None:
        found = failed_arresters(findings, cases, workers=workers)
        if not same_aside(told["failed_arresters"], found):
            yield f"{FINDINGS}: 'failed_arresters' is not what the recorded scenarios give"


def exit_code(comparison: Mapping[str, Any]) -> int:
    """0 reproduced, 1 not reproduced or a claim not met, 3 a result that could not be had."""
    code: int = comparison["exit_code"]
    return code


def _chosen(record: RecordReader, only: Sequence[str]) -> list[RecordedCase]:
    known = {recorded.case.id: recorded for recorded in record.cases}
    for case_id in only:
        if case_id not in known:
            hint = did_you_mean(case_id, known)
            raise InputError.of(f"no case {case_id!r} in the record", file=record.name, hint=hint)
    return [recorded for recorded in record.cases if not only or recorded.case.id in only]


def _engine_record(engine: Engine) -> EngineRecord:
    """What is run with. Raises EngineMissing where that is not there."""
    if engine == "ngspice":
        version = engine_version().version
    else:
        version = __version__
        try:
            importlib.import_module("surgesim.oracle")
        except ImportError as error:
            words = f"the second solver cannot be loaded: {error}"
            raise EngineMissing(words, hint="install surgesim again, with all it needs") from error
    return EngineRecord(name=engine, version=version, options="", surgesim=__version__)


# --- running ----------------------------------------------------------------------------------


def _run(
    chosen: Sequence[RecordedCase],
    engine: Engine,
    workers: int | None,
    timeout: float,
    check: Check,
) -> Iterator[Result]:
    if engine == "ngspice":
        cases = [recorded.case for recorded in chosen]
        yield from run(cases, workers=workers, timeout=timeout, check=check)
        return

    def work(recorded: RecordedCase) -> Result:
        network = build(recorded.case.scenario)
        front, tail = _by_second_solver(network, recorded.inputs)
        return check(Result(case=recorded.case, network=network, front=front, tail=tail))

    for outcome in map_networks(chosen, work, workers=workers):
        yield outcome.result or Result(case=outcome.job.case, error=outcome.error)


def _by_second_solver(
    network: Network, inputs: Sequence[DeckInputs]
) -> tuple[Waveforms, Waveforms]:
    """Both windows by the second solver, over the times that the record's runs cover."""
    from surgesim.studies.second_solver import by_second_solver

    if len(inputs) != len(WINDOWS):
        raise SurgesimError("the record has no result to choose the windows of this case by")
    fine, coarse = inputs
    return by_second_solver(
        network, steps=(fine.step, coarse.step), stops=(fine.stop, coarse.stop)
    )  # fmt: skip


@dataclass
class _Work:
    """Takes each result as it comes, and keeps what the comparison says of it."""

    record: RecordReader
    tolerances: compare.Tolerances

    def __post_init__(self) -> None:
        self.claimed = {case["id"]: case for case in self.record.findings["cases"]}
        self.recorded = {recorded.case.id: recorded for recorded in self.record.cases}
        self.records: list[Record] = []
        self.failures: list[Failure] = []
        self.compared: list[dict[str, Any]] = []
        self.otherwise: list[str] = []
        self.decks = 0
        self.different: list[dict[str, Any]] = []

    def add(self, result: Result) -> None:
        """Compare the decks and the findings of one case."""
        case = result.case
        try:
            self._compare_decks(case, result.network or build(case.scenario))
            found = measure(result).as_json()
        except InputError:
            # a case that cannot even be built was never run
            raise
        except SurgesimError as error:
            self._without_result(case, error)
            return
        if _runs(result) not in ([], [_plan(inputs) for inputs in self.recorded[case.id].inputs]):
            self.otherwise.append(case.id)
        self.records.append(found)
        if case.id in self.claimed:
            claimed = self.claimed[case.id]
            opposite = _opposite_crests(result)
            compared = compare.compare_outcomes(claimed, found, self.tolerances, opposite=opposite)
            self.compared.append(with_others(compared, claimed, found))
        else:
            self.compared.append(_no_comparison(case, compare.DIFFERS, _HAS_RESULT_NOW))

    def _compare_decks(self, case: Case, network: Network) -> None:
        for inputs in self.recorded[case.id].inputs:
            self.decks += 1
            difference = _deck_difference(self.record, case, network, inputs)
            if difference is not None:
                self.different.append(difference)

    def _without_result(self, case: Case, error: SurgesimError) -> None:
        self.failures.append(failure(case, error))
        known = case.id in self.claimed
        status = compare.NO_RESULT if known else compare.REPRODUCED
        self.compared.append(_no_comparison(case, status, str(error)))


def _runs(result: Result) -> list[_Plan]:
    """How the engine ran a case here; nothing for the second solver, which has its own steps."""
    network, front, tail = result.network, result.front, result.tail
    if network is None or front is None or tail is None or front.engine == "oracle":
        return []
    return [_plan(inputs) for inputs in inputs_of(network, front, tail)]


def _opposite_crests(result: Result) -> Mapping[str, float]:
    """Crests of the other sign, between different solvers; the same one finds the same crest."""
    network, front, tail = result.network, result.front, result.tail
    if network is None or front is None or tail is None or front.engine != "oracle":
        return compare.NO_CRESTS
    return opposite_crests(network, front, tail)


def _plan(inputs: DeckInputs) -> _Plan:
    """What of a deck's inputs is chosen; the moments of flashover are measured."""
    fired = tuple(sorted(inputs.fired_at))
    return inputs.window, inputs.step, inputs.stop, inputs.lumped, inputs.options, fired


def _run_otherwise(cases: Sequence[str]) -> Iterator[str]:
    if cases:
        yield (
            f"{len(cases)} of the cases were run here at other steps, over another time or with"
            f" other insulation firing than recorded: {_shortened(cases)}."
        )


def _shortened(cases: Sequence[str]) -> str:
    return f"{', '.join(sorted(cases)[:10])}{' and more' if len(cases) > 10 else ''}"


_HAS_RESULT_NOW = "the record has no result of this case; here it has one"


def _no_comparison(case: Case, status: str, reason: str) -> dict[str, Any]:
    return {
        "id": case.id,
        "axes": dict(case.axes),
        "surge": case.surge,
        "status": status,
        "compared": 0,
        "largest_difference": None,
        "numbers": [],
        "verdicts": [],
        "edges": [],
        "given": [],
        "reason": reason,
    }


def _deck_difference(
    record: RecordReader, case: Case, network: Network, inputs: DeckInputs
) -> dict[str, Any] | None:
    recorded = record.deck(case.id, inputs)
    try:
        rebuilt = deck_text(network, inputs)
    except SurgesimError as error:
        rebuilt = f"* cannot be written: {error}"
    difference = first_difference(recorded, rebuilt)
    if difference is None:
        return None
    return {
        "case": case.id,
        "window": inputs.window,
        "line": difference.line,
        "recorded": _shown_line(difference.recorded),
        "rebuilt": _shown_line(difference.rebuilt),
        "rounding": difference.rounding,
    }


def _shown_line(line: str) -> str:
    """A line of a stranger's deck, fit to be printed."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in line[:300])
    return shown if len(line) <= 300 else f"{shown}…"


# --- the whole --------------------------------------------------------------------------------


def _about(record: RecordReader) -> dict[str, Any]:
    return {
        "file": record.name,
        "sha256": record.sha256,
        "made_with": record.manifest["made_with"],
        "asked": record.manifest["asked"],
        "cases": len(record.cases),
    }


def _remarks(record: RecordReader, engine: Engine, chosen: Sequence[RecordedCase]) -> Iterator[str]:
    """What bears on the comparison without being a difference."""
    made = record.manifest["made_with"]
    if made["surgesim"] != __version__:
        yield (
            f"The record was made with surgesim {made['surgesim']}, this is {__version__}: decks,"
            " assumptions and disclosures may be worded otherwise and are shown where they"
            " differ, but only numbers, verdicts and claims decide."
        )
    if engine == "oracle":
        yield "Run by the second solver, which shares no code with the engine and its decks."
    elif made["engine"]["version"] != engine_version().version:
        yield (
            f"The record was made with ngspice {made['engine']['version']}, this is"
            f" {engine_version().version}."
        )
    if noted := [recorded.case.id for recorded in chosen if recorded.retries]:
        yield (
            f"The manifest has notes on how the runs went of {len(noted)} of these cases:"
            f" {_shortened(noted)}."
        )
    if record.manifest["asked"]["certify"]:
        yield "The certified numerical errors are the record's: only the cases were run again."
    if len(chosen) < len(record.cases):
        yield "Not every case was run: alternatives and claims were not compared."


def _alternatives(
    record: RecordReader, found: Mapping[str, Any], cases: Iterable[Record]
) -> list[dict[str, Any]]:
    return compare.compare_alternatives(record.findings["summary"], found["summary"], cases)


def _outcome(comparison: Comparison) -> dict[str, Any]:
    """Whether it was reproduced, and with which code the command ends."""
    same_version = comparison["record"]["made_with"]["surgesim"] == __version__
    statuses = {case["status"] for case in comparison["cases"]}
    statuses |= {entry["status"] for entry in comparison["alternatives"]}
    wrong = bool(comparison["inconsistencies"]) or compare.DIFFERS in statuses
    wrong |= same_version and bool(comparison["decks"]["different"])
    wrong |= any(claim["status"] == compare.NOT_MET for claim in comparison["claims"])
    missing = compare.NO_RESULT in statuses
    code = NO_RESULT if missing else NOT_REPRODUCED if wrong else HELD
    return {"reproduced": code == HELD, "exit_code": code}
