"""A sweep: the cases of a file at every point of its axes, kept one by one as they finish.

The folder of a sweep holds ``sweep.json``, which says what the sweep is; the journal of finished
cases; the decks of cases that failed; and, once all cases are done, tables. A sweep that was cut
off goes on where it was: only what is not in the journal is run.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from surgesim import __version__
from surgesim.build import build
from surgesim.engine import engine_version, map_networks, run_network
from surgesim.errors import InputError, SurgesimError
from surgesim.scenario.file import Case, fingerprint
from surgesim.studies.failed import REASON, reason
from surgesim.studies.journal import Journal
from surgesim.studies.output import FAILED, disk_errors, force_to_disk, usable_place
from surgesim.studies.points import Levels, Plan
from surgesim.studies.run import TIMEOUT, Result, measure

SCHEMA = "surgesim.sweep/1"
MANIFEST, JOURNAL = "sweep.json", "journal"

Watch = Callable[[int], None]
"""Called with the number of cases that have finished."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One case to run, by the id it has in the sweep."""

    id: str
    point: int
    levels: Levels
    case: Case


@dataclass(slots=True)
class Sweep:
    """A sweep in its folder. ``run`` runs what has not been run.

    ``computed``, ``shared`` and ``failed`` count the cases of this run; a shared one is the same
    circuit as another and was not computed again. ``dropped`` counts lines of the journal that
    were not whole.
    """

    plan: Plan
    folder: Path
    computed: int = 0
    shared: int = 0
    failed: int = 0
    dropped: int = 0
    _first: dict[str, str] = field(default_factory=dict)
    _twins: dict[str, list[Job]] = field(default_factory=dict)

    def run(
        self,
        *,
        workers: int | None = None,
        timeout: float = TIMEOUT,
        retry_failed: bool = False,
        watch: Watch | None = None,
    ) -> None:
        """Run every case that is not in the journal yet.

        A case that fails keeps its deck and its reason in the folder, and the others go on.
        Raises InputError for a folder of something else, SurgesimError when the disk is full: what
        has finished stays finished.
        """
        engine_version()
        _claim(self.folder, self.plan)
        with Journal(self.folder / JOURNAL) as journal:
            self.dropped = journal.dropped
            if retry_failed:
                _forget_failed(journal)

            def work(job: Job) -> dict[str, Any]:
                return _found(job, timeout=timeout, keep=self.folder / FAILED / job.id)

            outcomes = map_networks(self._jobs(journal), work, workers=workers)
            for outcome in outcomes:
                job = outcome.job
                record = outcome.result or self._failure(job, outcome.error)
                self.computed += 1
                for twin in (job, *self._twins.pop(job.id, ())):
                    self._add(journal, twin, record, same_as=job.id)
                if watch is not None:
                    watch(len(journal.offsets))

    def _jobs(self, journal: Journal) -> Iterator[Job]:
        """What is left to run. Cases that are the same circuit as one before are not."""
        for point, levels in enumerate(self.plan.points(), start=1):
            name = f"p{point:06d}"
            try:
                cases = self.plan.cases(levels)
            except InputError as error:
                if name not in journal.offsets:
                    journal.add(_refused(name, point, levels, error))
                    self.failed += 1
                continue
            for case in cases:
                job = Job(id=f"{name}-{case.id}", point=point, levels=levels, case=case)
                if self._is_new(journal, job):
                    yield job

    def _is_new(self, journal: Journal, job: Job) -> bool:
        """Whether a case has to be run; one like an earlier one waits for that, or takes it."""
        first = self._first.setdefault(fingerprint(job.case.scenario), job.id)
        if job.id in journal.offsets:
            return False
        if first == job.id:
            return True
        if first in journal.offsets:
            self._add(journal, job, journal.record(first)["case_found"], same_as=first)
        else:
            self._twins.setdefault(first, []).append(job)
        return False

    def _add(self, journal: Journal, job: Job, found: Mapping[str, Any], *, same_as: str) -> None:
        own = {**found, "id": job.id, "axes": job.case.axes, "surge": job.case.surge}
        shared = same_as != job.id
        self.shared += shared
        self.failed += "error" in found
        journal.add(
            {
                "case": job.id,
                "point": job.point,
                "levels": dict(job.levels),
                "same_as": same_as if shared else None,
                "case_found": own,
            }
        )

    def _failure(self, job: Job, error: SurgesimError | None) -> dict[str, Any]:
        assert error is not None
        words = getattr(error, "message", None) or str(error)
        entry = {
            "id": job.id, "axes": job.case.axes, "surge": job.case.surge, "error": words,
            "try": getattr(error, "hint", ""),
        }  # fmt: skip
        folder = self.folder / FAILED / job.id
        with disk_errors(self.folder):
            folder.mkdir(parents=True, exist_ok=True)
            (folder / REASON).write_text(reason(entry), encoding="utf-8")
        return entry


def _found(job: Job, *, timeout: float, keep: Path) -> dict[str, Any]:
    """The findings on one case; its decks stay only where it has none."""
    with job.case.locating():
        network = build(job.case.scenario)
    front, tail = run_network(network, timeout=timeout, keep=keep)
    result = Result(case=job.case, network=network, front=front, tail=tail)
    found = measure(result).as_json()
    shutil.rmtree(keep, ignore_errors=True)
    return found


def _refused(name: str, point: int, levels: Levels, error: InputError) -> dict[str, Any]:
    """A point at which the file says something impossible."""
    entry = {"id": name, "axes": {}, "surge": "", "error": str(error), "try": ""}
    return {
        "case": name, "point": point, "levels": dict(levels), "same_as": None, "case_found": entry
    }  # fmt: skip


def _forget_failed(journal: Journal) -> None:
    for case in [r["case"] for r in journal.records() if "error" in r["case_found"]]:
        del journal.offsets[case]


def manifest(plan: Plan) -> dict[str, Any]:
    """What ``sweep.json`` says of a sweep."""
    return {
        "schema": SCHEMA,
        "surgesim": __version__,
        "engine": f"ngspice {engine_version().version}",
        **plan.identity,
    }


def _claim(folder: Path, plan: Plan) -> None:
    """Make the folder this sweep's, or find that it is. Raises InputError where it is not."""
    wanted = manifest(plan)
    path = folder / MANIFEST
    if path.exists():
        _check(path, wanted)
        return
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError.of(
            "holds something that is no sweep", file=str(folder), hint="choose another folder"
        )
    with usable_place(folder):
        folder.mkdir(parents=True, exist_ok=True)
        part = folder / f"{MANIFEST}.part"
        part.write_text(json.dumps(wanted, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        force_to_disk(part)
        part.replace(path)


def _check(path: Path, wanted: Mapping[str, Any]) -> None:
    try:
        there = json.loads(path.read_bytes())
    except (OSError, ValueError):
        there = None
    if not isinstance(there, dict) or there.get("schema") != SCHEMA:
        raise InputError.of("is no sweep of this program", file=str(path))
    for key, value in wanted.items():
        if there.get(key) != value:
            raise InputError.of(
                f"belongs to another sweep: its {_WORDS.get(key, key)} differ",
                file=str(path.parent),
                hint="choose another folder; nothing in this one was changed",
            )  # fmt: skip


_WORDS = {
    "surgesim": "versions of this program",
    "engine": "versions of ngspice",
    "scenario": "installations",
    "axes": "axes",
    "chosen": "choices of levels",
    "method": "methods of sampling",
    "samples": "numbers of samples",
    "seed": "seeds",
}
