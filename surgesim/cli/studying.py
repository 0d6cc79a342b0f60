"""What ``run`` and ``compare`` have in common: run the cases, print, keep, end with a code."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from surgesim.cli.ending import closed_pipe_is_fine, echo_data
from surgesim.cli.options import chosen_levels, say
from surgesim.cli.progress import progress
from surgesim.errors import InputError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from surgesim.scenario.file import ScenarioFile
    from surgesim.studies.failed import FailedCases
    from surgesim.studies.output import ResultFolder
    from surgesim.studies.record import Recorder
    from surgesim.studies.run import Result
    from surgesim.studies.study import WorstResults

FOOTER = "A simulation, not a design approval: local codes and a licensed person decide."


@dataclass(frozen=True, kw_only=True)
class Request:
    """What was asked on the command line."""

    file: Path
    choose: list[tuple[str, str]]
    settings: list[tuple[str, str]]
    as_json: bool
    out: Path | None
    record: Path | None
    crosscheck: bool
    overwrite: bool
    certify: bool
    influence: bool | None
    breakdown: bool
    failed_arresters: bool
    workers: int | None
    timeout: float
    quiet: bool


def carry_out(
    request: Request,
    *,
    command: Literal["run", "compare"],
    render: Callable[[dict[str, Any]], RenderableType],
    require: tuple[str, ...] = (),
) -> int:
    """Run the study, print it, write it where asked; the exit code."""
    from surgesim.report.disclosures import as_text
    from surgesim.scenario.file import load
    from surgesim.studies.failed import FailedCases
    from surgesim.studies.output import ResultFolder
    from surgesim.studies.planned import check_required
    from surgesim.studies.record import Asked, Recorder
    from surgesim.studies.record_file import RecordFile
    from surgesim.studies.verdict import exit_code

    file = load(request.file, settings=dict(request.settings))
    check_required(file, file.cases(chosen=chosen_levels(request.choose)), require)
    folder = ResultFolder(request.out, overwrite=request.overwrite) if request.out else None
    kept = RecordFile(request.record, overwrite=request.overwrite) if request.record else None
    if folder is not None and kept is not None and kept.target.is_relative_to(folder.target):
        raise InputError.of(
            "would lie in the folder of --out, which is put in place as a whole",
            file=str(request.record), hint="write the record beside that folder",
        )  # fmt: skip
    with folder or contextlib.nullcontext(), kept or contextlib.nullcontext():
        recorder = Recorder() if kept is not None else None
        with FailedCases(folder) as failed:
            findings = _run(request, file, folder, recorder, failed)
        ranked = request.influence
        if ranked or (ranked is None and kept is not None):
            findings["influence"] = _influence(request, file, findings)
        if request.failed_arresters:
            findings["failed_arresters"] = _failed_arresters(request, file, findings)
        if request.breakdown:
            findings["breakdown"] = _breakdown(request, file, findings, command=command)
            if folder is not None:
                _keep_breakdown(findings, folder)
        code = exit_code(findings, command=command, require=require)
        if folder is not None:
            folder.write_findings(findings)
            say(f"results in {folder.publish()}")
        if kept is not None and recorder is not None:
            asked = Asked(
                command=command, chosen=chosen_levels(request.choose),
                settings=dict(request.settings), require=require, certify=request.certify,
                crosscheck=request.crosscheck,
            )  # fmt: skip
            parts = recorder.parts(file, findings, asked=asked, render=as_text)
            say(f"record in {kept.target}, SHA-256 {kept.publish(parts)}")
    if failed.count:
        cases = "case" if failed.count == 1 else "cases"
        say(f"{failed.count} {cases} without a result: decks, logs and reasons in {failed.where}")
    with closed_pipe_is_fine():
        _print(findings, request, render)
    return code


def _run(
    request: Request,
    file: ScenarioFile,
    folder: ResultFolder | None,
    recorder: Recorder | None,
    failed: FailedCases,
) -> dict[str, Any]:
    """The findings; with a folder, the waveforms and figures of each alternative's worst case."""
    from surgesim.studies.study import WorstResults, study

    chosen = chosen_levels(request.choose)
    worst = WorstResults(file)
    with progress(len(file.cases(chosen=chosen)), quiet=request.quiet) as advance:

        def watch(result: Result, record: Any, finished: int) -> None:
            if folder is not None and record is not None:
                worst.add(result, record)
            if recorder is not None:
                recorder.add(result, record)
            failed.settle(result.case.id, failed=record is None)
            advance(finished)

        findings = study(
            file, chosen=chosen, workers=request.workers, timeout=request.timeout,
            certify=request.certify, crosscheck=request.crosscheck, watch=watch,
            keep=failed.folder,
        )  # fmt: skip
    failed.explain(findings["failures"])
    if folder is not None:
        _keep(findings, worst, folder)
    return findings


def _influence(request: Request, file: ScenarioFile, findings: dict[str, Any]) -> Any:
    """Every guess varied in the case that decides; nothing where none does."""
    from surgesim.studies.influence import influence, number_of_guesses

    cases = file.cases(chosen=chosen_levels(request.choose))
    number = number_of_guesses(findings, cases)
    if number and not request.quiet:
        say(f"varying {number} guesses, each to both ends of its range, by the second solver")
    return influence(findings, cases, workers=request.workers)


def _failed_arresters(request: Request, file: ScenarioFile, findings: dict[str, Any]) -> Any:
    """Each alternative's deciding case with one arrester element failed at a time."""
    from surgesim.studies.failed_arresters import failed_arresters, number_of_runs

    cases = file.cases(chosen=chosen_levels(request.choose))
    number = number_of_runs(findings, cases)
    if number and not request.quiet:
        say(f"running {number} cases with an arrester element failed, by the second solver")
    return failed_arresters(findings, cases, workers=request.workers)


def _breakdown(
    request: Request, file: ScenarioFile, findings: dict[str, Any], *, command: str
) -> Any:
    """The peaks of every alternative taken apart, or for ``compare`` those of the deciding one."""
    from surgesim.studies.breakdown import breakdown, number_of_cases
    from surgesim.studies.influence import deciding

    decided = deciding(findings)
    only = findings["summary"]
    if command == "compare":
        only = [] if decided is None else [decided[0]]
    number = number_of_cases(only)
    if number and not request.quiet:
        cases = "case" if number == 1 else "cases"
        say(f"taking the peaks of {number} {cases} apart, some six runs each by the second solver")
    return breakdown(
        findings, file.cases(chosen=chosen_levels(request.choose)), only=only,
        workers=request.workers,
    )  # fmt: skip


def _keep_breakdown(findings: dict[str, Any], folder: ResultFolder) -> None:
    from surgesim.report.figures import breakdown_chart, save

    for number, figure in enumerate(breakdown_chart(findings), start=1):
        save(figure, folder.figures / f"breakdown-{number}.png")


def _keep(findings: dict[str, Any], worst: WorstResults, folder: ResultFolder) -> None:
    from surgesim.report.figures import Traces, alternatives, save, terminal_voltages

    if findings["summary"]:
        save(alternatives(findings), folder.figures / "comparison.png")
    records = {case["id"]: case for case in findings["cases"]}
    for result in worst.held.values():
        network, front, tail = result.network, result.front, result.tail
        assert network is not None
        assert front is not None
        assert tail is not None
        folder.write_waveforms(result.case.id, front, tail)
        traces = [
            Traces(
                time=waves.time,
                voltages={
                    (probe.equipment, probe.pair): waves.across(probe.a, probe.b)
                    for probe in network.terminals
                },
            )
            for waves in (front, tail)
        ]
        figure = terminal_voltages(
            records[result.case.id], traces[0], tail=traces[1], title=_title(result), footer=FOOTER
        )
        save(figure, folder.figures / f"{result.case.id}.png")


def _title(result: Result) -> str:
    levels = [f"{name} {level}" for name, level in result.case.axes.items() if level is not None]
    return f"{result.case.id}: {', '.join([*levels, result.case.surge])}"


def _print(
    findings: dict[str, Any], request: Request, render: Callable[[dict[str, Any]], RenderableType]
) -> None:
    if request.as_json:
        from surgesim.studies.tables import to_json

        echo_data(to_json(findings))
        return
    from surgesim.report.console import show

    show(render(findings))
