"""What if an arrester has failed: every element open and every element shorted, one at a time.

An element that has reached its end is taken off by its disconnector, and the installation goes on
without it; or it is punctured, and holds its conductor on the earth bar. For each alternative the
case on which its verdict rests is run again by the second solver, with one element failed; the
alternative's own verdict is not changed by what comes of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from surgesim.build import build
from surgesim.engine import map_networks
from surgesim.network.circuit import Network
from surgesim.scenario.devices import legs
from surgesim.scenario.file import Case
from surgesim.scenario.schema import Scenario
from surgesim.studies.bench import SOLVER, Bench, Data
from surgesim.studies.worst import Record

WAYS = ("open", "shorted")

Failed = tuple[str, str, str]
"""Slot, element, and how it failed."""


def failed_arresters(
    findings: Mapping[str, Any], cases: Sequence[Case], *, workers: int | None = None
) -> Data:
    """Each alternative that has arresters, with each of their elements failed.

    ``cases`` are those of the findings; depends on nothing but these.
    """
    by_id = {case.id: case for case in cases}
    jobs = [
        (number, failed)
        for number, entry in enumerate(findings["summary"])
        if entry["worst"] is not None
        for failed in (None, *_failures(by_id[entry["worst"]["case"]].scenario))
    ]
    found: dict[tuple[int, Failed | None], Data] = {}

    def run(job: tuple[int, Failed | None]) -> Data:
        record = _record_of(findings, findings["summary"][job[0]])
        bench = Bench(record=record, asked=findings["asked_margin_percent"])
        return bench.made(lambda: _network(by_id[record["id"]].scenario, job[1]))

    for outcome in map_networks(jobs, run, workers=workers):
        found[outcome.job] = outcome.result or {"reason": str(outcome.error)}
    return {"solver": SOLVER, "alternatives": list(_entries(findings, found))}


def number_of_runs(findings: Mapping[str, Any], cases: Sequence[Case]) -> int:
    """How many runs that takes, for whoever waits."""
    by_id = {case.id: case for case in cases}
    worst = [entry["worst"] for entry in findings["summary"] if entry["worst"] is not None]
    failures = (list(_failures(by_id[terminal["case"]].scenario)) for terminal in worst)
    return sum(1 + len(each) for each in failures if each)


def _entries(
    findings: Mapping[str, Any], found: Mapping[tuple[int, Failed | None], Data]
) -> Iterator[Data]:
    for number, entry in enumerate(findings["summary"]):
        failures = [failed for at, failed in found if at == number and failed is not None]
        if not failures:
            continue
        record = _record_of(findings, entry)
        yield {
            "axes": dict(entry["axes"]),
            "case": record["id"],
            "surge": record["surge"],
            "sound": _told(found[number, None]),
            "failed": [
                {"slot": f[0], "element": f[1], "how": f[2], **_told(found[number, f])}
                for f in failures
            ],
        }


def _told(outcome: Data) -> Data:
    """An outcome with every key, those that it does not have as None."""
    keys = (
        "equipment", "pair", "peak_v", "withstand_v", "margin_percent", "asked_percent", "verdict",
        "reason",
    )  # fmt: skip
    return {key: outcome.get(key) for key in keys}


def _record_of(findings: Mapping[str, Any], entry: Record) -> Record:
    case_id = entry["worst"]["case"]
    record: Record = next(case for case in findings["cases"] if case["id"] == case_id)
    return record


def _failures(scenario: Scenario) -> Iterator[Failed]:
    """Every element that is sound, in both ways that it can fail."""
    for name, slot in scenario.arresters.items():
        for element in (leg.words for leg in legs(slot, scenario.cards)):
            if element not in (slot.failed or {}):
                yield from ((name, element, how) for how in WAYS)


def _network(scenario: Scenario, failed: Failed | None) -> Network:
    if failed is None:
        return build(scenario)
    name, element, how = failed
    slot = scenario.arresters[name]
    broken = slot.model_copy(update={"failed": {**(slot.failed or {}), element: how}})
    return build(scenario.model_copy(update={"arresters": {**scenario.arresters, name: broken}}))
