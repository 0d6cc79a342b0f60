"""Whether a record agrees with itself: manifest, scenarios, findings, disclosures.

A checksum tells a part that was changed by accident. Somebody who changes a part on purpose
changes its checksum too; what he cannot do is make the parts follow from each other without
computing them. Each check here computes one part from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from surgesim import __version__
from surgesim.findings.case import CaseInfo
from surgesim.scenario.file import Case, fingerprint
from surgesim.studies.compare import compose
from surgesim.studies.disclosures import disclosures
from surgesim.studies.info import AxisInfo, ClaimInfo, EngineRecord, Failure, StudyInfo
from surgesim.studies.record import DISCLOSURES, FINDINGS, MANIFEST, Render
from surgesim.studies.record_compare import same_data
from surgesim.studies.record_reading import RecordReader
from surgesim.studies.study import described

EXACT = 1e-9
"""Numbers copied or added up the same way differ in nothing that counts."""

COMPUTED = 1e-5
"""Numbers of the disclosures, which are given to six digits."""

_COMPOSED = ("scenario", "asked_margin_percent", "axes", "claims", "summary", "failures")
_WORDED = ("assumptions", "not_assessed", "cautions")


def inconsistencies(record: RecordReader, *, render: Render) -> list[str]:
    """Everything in which a record contradicts itself, in words; empty when it does not.

    What is only worded, and so changes from version to version, is compared in a record of
    this version alone.
    """
    found = [*_cases(record)]
    if found:
        # what is composed from the cases cannot be compared while these do not fit together
        return found
    same_version = record.manifest["made_with"]["surgesim"] == __version__
    found += _scenarios(record)
    found += _manifest(record)
    found += _composed(record, _COMPOSED + (_WORDED if same_version else ()))
    if same_version:
        found += _disclosures(record, render)
    return found


def study_of(record: RecordReader, cases: Sequence[Case], engine: EngineRecord) -> StudyInfo:
    """What a findings object says of some of a record's cases as a whole."""
    manifest = record.manifest
    return described(
        cases,
        file=record.findings["scenario"]["file"],
        engine=engine,
        axes={
            name: AxisInfo(role=axis["role"], levels=tuple(axis["levels"]))
            for name, axis in manifest["axes"].items()
        },
        claims=tuple(ClaimInfo(**claim) for claim in manifest["claims"]),
    )


def _cases(record: RecordReader) -> Iterator[str]:
    """The findings' cases are the manifest's, each on the same levels and with the same surge."""
    with_result = {entry["id"]: entry for entry in record.findings["cases"]}
    without = {entry["id"]: entry for entry in record.findings["failures"]}
    number = len(record.findings["cases"]) + len(record.findings["failures"])
    if number != len(record.cases):
        yield f"{FINDINGS} has {number} cases, {MANIFEST} has {len(record.cases)}"
    for recorded in record.cases:
        case = recorded.case
        entry = (with_result if recorded.inputs else without).get(case.id)
        if entry is None:
            yield f"{FINDINGS} has no such entry of case {case.id} as {MANIFEST} lists"
        elif entry["axes"] != case.axes or entry["surge"] != case.surge:
            yield f"{FINDINGS} and {MANIFEST} do not mean the same by case {case.id}"


def _scenarios(record: RecordReader) -> Iterator[str]:
    for recorded in record.cases:
        if fingerprint(recorded.case.scenario) != recorded.scenario_hash:
            yield f"case {recorded.case.id}: its scenario is not the one the manifest's hash is of"


def _manifest(record: RecordReader) -> Iterator[str]:
    """What the manifest repeats of the findings, and what it says of how they were run."""
    for key in ("asked_margin_percent", "axes", "assumptions"):
        if record.manifest[key] != record.findings[key]:
            yield f"{MANIFEST} and {FINDINGS} differ in {key!r}"
    made, engine = record.manifest["made_with"], record.findings["engine"]
    said = {**made["engine"], "surgesim": made["surgesim"]}
    if any(engine[key] != value for key, value in said.items()):
        yield f"{MANIFEST} and {FINDINGS} differ in what they were made with"
    windows = {case["id"]: case["windows"] for case in record.findings["cases"]}
    for recorded in record.cases:
        for inputs in recorded.inputs:
            window: Mapping[str, Any] = windows[recorded.case.id].get(inputs.window, {})
            stated = {"step_s": inputs.step, "stop_s": inputs.stop, "lumped": list(inputs.lumped)}
            if any(window.get(key) != value for key, value in stated.items()):
                yield f"case {recorded.case.id}: {MANIFEST} has another {inputs.window} window"


def _composed(record: RecordReader, keys: Sequence[str]) -> Iterator[str]:
    """The findings composed again from their own cases."""
    findings = record.findings
    engine = EngineRecord(**findings["engine"])
    failures = [
        Failure(
            case=CaseInfo(id=entry["id"], axes=entry["axes"], surge=entry["surge"]),
            error=entry["error"],
            hint=entry["try"],
        )
        for entry in findings["failures"]
    ]
    study = study_of(record, [recorded.case for recorded in record.cases], engine)
    again = compose(study, findings["cases"], failures=failures)
    for key in keys:
        if not same_data(again[key], findings[key], within=EXACT):
            yield f"{FINDINGS}: {key!r} does not follow from its own cases and scenarios"


def _disclosures(record: RecordReader, render: Render) -> Iterator[str]:
    ran = [recorded for recorded in record.cases if recorded.inputs]
    again = disclosures(
        [recorded.case.scenario for recorded in ran],
        [inputs for recorded in ran for inputs in recorded.inputs],
        record.findings,
    )
    for key, value in again.items():
        if not same_data(value, record.manifest["disclosures"].get(key), within=COMPUTED):
            yield f"{MANIFEST}: {key!r} of the disclosures is not what the recorded scenarios give"
    recorded = record.part(DISCLOSURES).decode("utf-8", "replace")
    # where lines break depends on the version of the library that breaks them
    if recorded.split() != render(record.manifest["disclosures"]).split():
        yield f"{DISCLOSURES} does not say what the manifest's disclosures say"
