"""A record: one file from which a study can be run again and its claims compared.

``Recorder`` gathers the cases as they finish and composes the parts: a manifest
(``surgesim.record/1``), the findings, the disclosures, and of each case the resolved scenario
with both decks exactly as they were run. Nothing in it depends on when or where it was made,
other than the versions it names: equal studies give equal parts.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from surgesim import __version__
from surgesim.findings.plain import plain
from surgesim.network.waveforms import Window
from surgesim.scenario.file import Case, ScenarioFile, fingerprint
from surgesim.scenario.written import written
from surgesim.studies.disclosures import disclosures
from surgesim.studies.info import ClaimInfo
from surgesim.studies.record_decks import DeckInputs, deck_text, inputs_of
from surgesim.studies.record_json import canonical_json, only_shown
from surgesim.studies.run import Result
from surgesim.studies.study import claims_of
from surgesim.studies.tables import to_json
from surgesim.studies.worst import Record

SCHEMA = "surgesim.record/1"
MANIFEST, FINDINGS, DISCLOSURES = "manifest.json", "findings.json", "disclosures.txt"
WINDOWS: tuple[Window, Window] = ("front", "tail")
PACKAGES = ("PySpice", "numba", "numpy", "pydantic", "ruamel.yaml", "scipy")
"""Packages that scenarios, decks or numbers pass through, those that are installed."""

Manifest = dict[str, Any]
Render = Callable[[Mapping[str, Any]], str]
"""The disclosures as text; what a text looks like is the report's business."""


def scenario_part(case_id: str) -> str:
    """Name of a case's resolved scenario in the file."""
    return f"cases/{case_id}/scenario.yaml"


def deck_part(case_id: str, window: Window) -> str:
    """Name of one of a case's decks in the file."""
    return f"cases/{case_id}/{window}.cir"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked on the command line: command, levels chosen, values set, names required,
    whether numerical errors were to be certified, and whether the second solver was to run too."""

    command: str
    chosen: Mapping[str, list[str]] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    require: tuple[str, ...] = ()
    certify: bool = False
    crosscheck: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ran:
    """Of a case with a result: its decks, what they were written from, notes of the runs."""

    inputs: tuple[DeckInputs, DeckInputs]
    decks: tuple[str, str]
    notes: tuple[str, ...]


class Recorder:
    """Gathers what a record keeps of each case while a study runs."""

    def __init__(self) -> None:
        self._ran: dict[str, _Ran] = {}

    def add(self, result: Result, record: Record | None) -> None:
        """Keep a finished case; one without a record has no result worth keeping."""
        if record is None or result.network is None or result.front is None or result.tail is None:
            return
        inputs = inputs_of(result.network, result.front, result.tail)
        self._ran[result.case.id] = _Ran(
            inputs=inputs,
            decks=(deck_text(result.network, inputs[0]), deck_text(result.network, inputs[1])),
            notes=tuple(
                f"{waves.window}: {note}"
                for waves in (result.front, result.tail)
                for note in waves.notes
            ),
        )

    def parts(
        self, file: ScenarioFile, findings: Mapping[str, Any], *, asked: Asked, render: Render
    ) -> dict[str, bytes]:
        """Every member of the record by name, the manifest among them."""
        cases = file.cases(chosen=dict(asked.chosen))
        ran = [case for case in cases if case.id in self._ran]
        runs = [inputs for case in ran for inputs in self._ran[case.id].inputs]
        disclosed = disclosures([case.scenario for case in ran], runs, findings)
        parts = {FINDINGS: to_json(findings), DISCLOSURES: render(disclosed)}
        for case in cases:
            parts[scenario_part(case.id)] = written(case.scenario)
            for window, deck in zip(WINDOWS, self._decks(case), strict=False):
                parts[deck_part(case.id, window)] = deck
        encoded = {name: text.encode("utf-8") for name, text in parts.items()}
        manifest = {
            **heading(findings, claims=claims_of(file), asked=asked),
            "cases": [self._case(case) for case in cases],
            "disclosures": disclosed,
            "parts": {name: part_entry(data) for name, data in sorted(encoded.items())},
        }
        # as it will be read: else the checksum would be of other texts
        return {**encoded, MANIFEST: to_json(sealed(only_shown(manifest))).encode("utf-8")}

    def _decks(self, case: Case) -> tuple[str, ...]:
        return self._ran[case.id].decks if case.id in self._ran else ()

    def _case(self, case: Case) -> dict[str, Any]:
        ran = self._ran.get(case.id)
        return {
            "id": case.id,
            "axes": dict(case.axes),
            "surge": case.surge,
            "scenario_hash": fingerprint(case.scenario),
            "front": ran.inputs[0].as_json() if ran else None,
            "tail": ran.inputs[1].as_json() if ran else None,
            "retries": list(ran.notes) if ran else [],
        }


def heading(
    findings: Mapping[str, Any], *, claims: tuple[ClaimInfo, ...], asked: Asked
) -> Manifest:
    """The manifest's first keys: with what the study was run, and what it was asked."""
    return {
        "schema": SCHEMA,
        "sha256": "",
        "made_with": made_with(findings["engine"]),
        "asked": plain(asked),
        "seeds": {},
        "asked_margin_percent": findings["asked_margin_percent"],
        "axes": findings["axes"],
        "claims": plain(claims),
        "assumptions": findings["assumptions"],
    }


def made_with(engine: Mapping[str, str]) -> dict[str, Any]:
    """Versions of everything that decks and numbers depend on."""
    libc = " ".join(platform.libc_ver()).strip()
    return {
        "surgesim": __version__,
        "engine": {"name": engine["name"], "version": engine["version"]},
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "platform": ", ".join(filter(None, (f"{platform.system()} {platform.machine()}", libc))),
        "packages": {name: number for name in PACKAGES if (number := _installed(name))},
    }


def part_entry(data: bytes) -> dict[str, Any]:
    """What the manifest says of a part."""
    return {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}


def sealed(manifest: Manifest) -> Manifest:
    """The manifest with its own checksum."""
    return {**manifest, "sha256": seal(manifest)}


def seal(manifest: Manifest) -> str:
    """SHA-256 of a manifest without its key ``sha256``. A checksum, not a signature."""
    rest = {key: value for key, value in manifest.items() if key != "sha256"}
    return hashlib.sha256(canonical_json(rest)).hexdigest()


def _installed(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return ""
