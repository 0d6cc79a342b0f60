"""Many cases to the whole findings object. Pure functions over plain data.

Everything a report, a table or an exit code says is taken from the object composed here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from surgesim.findings.plain import plain
from surgesim.findings.schema import SCHEMA
from surgesim.studies.alternatives import Levels, alternatives, group, worst_of
from surgesim.studies.cautions import cautions
from surgesim.studies.claims import check_claim, was_run
from surgesim.studies.info import Failure, StudyInfo
from surgesim.studies.life import life
from surgesim.studies.worst import Record, terminal_badness, worst_arresters, worst_terminals

Findings = dict[str, Any]

NO_VERDICT = "not assessed"
"""The verdict on an alternative that has no terminal to judge, or too few cases to do so."""


def compose(
    study: StudyInfo, cases: Iterable[Record], *, failures: Iterable[Failure] = ()
) -> Findings:
    """The findings object of a study, cases in order of their ids whatever order they came in."""
    done = sorted(cases, key=lambda case: _by_number(case["id"]))
    failed = sorted(failures, key=lambda failure: _by_number(failure.case.id))
    checked = [claim for claim in study.claims if was_run(claim, done, failed)]
    unchecked = [claim for claim in study.claims if claim not in checked]
    return {
        "schema": SCHEMA,
        "scenario": plain(study.scenario),
        "engine": plain(study.engine),
        "asked_margin_percent": study.asked_margin_percent,
        "axes": plain(study.axes),
        "cases": [dict(case) for case in done],
        "failures": [_failure(failure) for failure in failed],
        "not_assessed": plain(study.not_assessed),
        "assumptions": list(study.assumptions),
        "claims": [check_claim(claim, done, failed) for claim in checked],
        "summary": summary(study, done, failed),
        "influence": None,
        "failed_arresters": None,
        "breakdown": None,
        "cautions": cautions(done, unchecked=unchecked, own=study.cautions),
    }


def summary(
    study: StudyInfo, cases: Sequence[Record], failures: Sequence[Failure]
) -> list[Findings]:
    """One entry an alternative, in the order of the scenario's levels."""
    axes = [case["axes"] for case in cases] + [failure.case.axes for failure in failures]
    entries = []
    for levels, members in group(study.axes, axes).items():
        own = [cases[index] for index in members if index < len(cases)]
        entries.append(_entry(study, levels, own, failed=len(members) - len(own)))
    return entries


def _entry(study: StudyInfo, levels: Levels, cases: list[Record], *, failed: int) -> Findings:
    terminals = worst_terminals(cases, worst_of(study.axes))
    worst = max(terminals, key=terminal_badness, default=None)
    return {
        "axes": dict(zip(alternatives(study.axes), levels, strict=True)),
        "verdict": _verdict(worst, failed=failed),
        "worst": worst,
        "terminals": terminals,
        "arresters": worst_arresters(cases, worst_of(study.axes)),
        "life": life(study.events, cases) if study.events else None,
        "failed_cases": failed,
    }


def _verdict(worst: Record | None, *, failed: int) -> str:
    """That of the worst terminal, unless a case without a result could have been worse."""
    if worst is None:
        return NO_VERDICT
    if failed and worst["verdict"] not in ("exceeded", "void"):
        return NO_VERDICT
    return str(worst["verdict"])


def _failure(failure: Failure) -> Findings:
    return {
        "id": failure.case.id,
        "axes": dict(failure.case.axes),
        "surge": failure.case.surge,
        "error": failure.error.removeprefix(f"{failure.case.id}: "),
        "try": failure.hint,
    }


def _by_number(case_id: str) -> tuple[int, str]:
    """``c0009`` before ``c0010`` before ``c10000``."""
    return len(case_id), case_id
