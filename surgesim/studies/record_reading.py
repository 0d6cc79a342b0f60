"""Reading a record that may be a stranger's: nothing in it is run, nothing is written anywhere.

The file is read in memory, part by part, each part bounded. It is refused for anything a record
does not have: other members, links, paths that lead out of it, parts larger than they may be,
a manifest that does not obey its schema, a part whose bytes are not those the manifest names.
Scenarios go through the same strict reader as any scenario file. Decks are only ever compared.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from surgesim import __version__
from surgesim.errors import InputError, Problem
from surgesim.findings.schema import schema as findings_schema
from surgesim.reading.tree import MOST_BYTES, parse_tree, shorten
from surgesim.scenario.factors import ALTERNATIVES, CLAIMS, WORST_OF
from surgesim.scenario.file import Case, read
from surgesim.studies.record import (
    DISCLOSURES,
    FINDINGS,
    MANIFEST,
    SCHEMA,
    WINDOWS,
    deck_part,
    scenario_part,
    seal,
)
from surgesim.studies.record_decks import DeckInputs
from surgesim.studies.record_json import parse_json, record_schema, require_schema

MEGABYTE = 1_000_000
MOST_FILE = 200 * MEGABYTE
MOST_TOTAL = 1000 * MEGABYTE
MOST_MEMBERS = 60_003
"""Three members a case, and the three of the whole."""
MOST_DIRECTORY = 10 * MEGABYTE
"""Of the list of members at a zip file's end; sixty thousand of a record's names take half."""

_FIXED = {DISCLOSURES: 10 * MEGABYTE, ".yaml": MOST_BYTES, ".cir": 10 * MEGABYTE}
_GROWING = {MANIFEST: 10_000, FINDINGS: 100_000}
_LARGEST = 200 * MEGABYTE

_PART = re.compile(r"cases/c[0-9]{4,6}/(scenario\.yaml|(front|tail)\.cir)")
_CHUNK = 1 << 20
_END = struct.Struct("<4s4H2LH")
_LOCATOR_64 = b"PK\6\7"
_FILE_LEVEL = (ALTERNATIVES, WORST_OF, CLAIMS)
_PLAIN_KINDS = (0, stat.S_IFREG)
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedCase:
    """A case of a record: itself, and what its decks were written from if it had a result."""

    case: Case
    scenario_hash: str
    inputs: tuple[DeckInputs, ...]
    retries: tuple[str, ...]


class RecordReader:
    """A record open for reading, as a context manager.

    Entering it checks everything that can be told without running anything. Raises InputError
    with every part that is not what the manifest says, or with the first thing that makes the
    file no record at all.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self.name = str(path)
        self.manifest: dict[str, Any] = {}
        self.findings: dict[str, Any] = {}
        self.cases: tuple[RecordedCase, ...] = ()
        self.sha256 = ""
        self._archive: zipfile.ZipFile | None = None

    def __enter__(self) -> Self:
        try:
            with _zip_errors(self.name):
                self._open()
            self._read()
        except BaseException:
            self._close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    def part(self, name: str) -> bytes:
        """The bytes of a part, no more than a part of its name may have."""
        assert self._archive is not None
        most = most_bytes(name, members=len(self._archive.filelist))
        with _zip_errors(self.part_name(name)), self._archive.open(name) as stream:
            data = stream.read(most + 1)
        if len(data) > most:
            raise InputError.of(f"is larger than {most} bytes; refused", file=self.part_name(name))
        return data

    def deck(self, case_id: str, inputs: DeckInputs) -> str:
        """A recorded deck as text, whatever its bytes are, to be compared and not run."""
        return self.part(deck_part(case_id, inputs.window)).decode("utf-8", "backslashreplace")

    def part_name(self, name: str) -> str:
        """How a part is called in messages."""
        return f"{self.name}: {shorten(name, most=80)}"

    def _open(self) -> None:
        if self.path.is_dir():
            raise InputError.of("is a folder; expected a record", file=self.name)
        if self.path.exists() and not self.path.is_file():
            raise InputError.of("is no regular file; expected a record", file=self.name)
        size = self.path.stat().st_size
        if size > MOST_FILE:
            words = f"is larger than {MOST_FILE // MEGABYTE} MB; refused"
            raise InputError.of(words, file=self.name)
        with self.path.open("rb") as stream:
            _check_end(stream, self.name)
        self._archive = zipfile.ZipFile(self.path)
        with self.path.open("rb") as stream:
            self.sha256 = hashlib.file_digest(stream, "sha256").hexdigest()

    def _read(self) -> None:
        assert self._archive is not None
        check_members(self._archive.infolist(), self.name)
        self.manifest = self._manifest()
        self._check_parts()
        data = self.part(FINDINGS)
        self.findings = parse_json(data, file=self.part_name(FINDINGS))
        made = self.manifest["made_with"]["surgesim"]
        hint = f"it was made with surgesim {shorten(made)}" if made != __version__ else ""
        name = self.part_name(FINDINGS)
        require_schema(self.findings, findings_schema(), file=name, hint=hint)
        self.cases = tuple(self._case(entry) for entry in self.manifest["cases"])

    def _manifest(self) -> dict[str, Any]:
        assert self._archive is not None
        name = self.part_name(MANIFEST)
        if MANIFEST not in self._archive.namelist():
            raise InputError.of(f"is no record: it has no {MANIFEST}", file=self.name)
        manifest = parse_json(self.part(MANIFEST), file=name)
        _require_form(manifest, self.name)
        require_schema(manifest, record_schema(), file=name)
        if manifest["sha256"] != seal(manifest):
            words = "does not have the SHA-256 it says: it was changed after it was written"
            raise InputError.of(words, file=name)
        _require_order(manifest, name)
        found: dict[str, Any] = manifest
        return found

    def _check_parts(self) -> None:
        """Every part is listed, every listed part is there with the bytes that were recorded."""
        assert self._archive is not None
        there = set(self._archive.namelist()) - {MANIFEST}
        listed = self.manifest["parts"]
        expected = set(_expected_parts(self.manifest))
        problems = [
            *self._problems(sorted(expected - listed.keys()), "is not listed in the manifest"),
            *self._problems(sorted(listed.keys() - expected), "belongs to no case"),
            *self._problems(sorted(listed.keys() - there), "is missing"),
            *self._problems(sorted(there - listed.keys()), "is not listed in the manifest"),
        ]
        words = "was changed: its SHA-256 is not the one in the manifest"
        for name in sorted(there & listed.keys()):
            try:
                same = self._digest(name) == listed[name]["sha256"]
            except InputError as error:
                problems += error.problems
            else:
                problems += [] if same else self._problems([name], words)
        if problems:
            raise InputError(list(dict.fromkeys(problems)))

    def _problems(self, names: list[str], message: str) -> list[Problem]:
        return [Problem(self.part_name(name), 0, 0, "", message) for name in names]

    def _digest(self, name: str) -> str:
        assert self._archive is not None
        digest = hashlib.sha256()
        with _zip_errors(self.part_name(name)), self._archive.open(name) as stream:
            while chunk := stream.read(_CHUNK):
                digest.update(chunk)
        return digest.hexdigest()

    def _case(self, entry: Mapping[str, Any]) -> RecordedCase:
        name = scenario_part(entry["id"])
        shown = self.part_name(name)
        tree = parse_tree(self.part(name), shown)
        if varying := [key for key in _FILE_LEVEL if key in tree.entries]:
            words = f"has {varying[0]!r}; a recorded scenario is a single case"
            raise InputError.of(words, file=shown)
        cases = read(tree, shown).all_cases
        if len(cases) != 1:
            raise InputError.of(f"stands for {len(cases)} cases, expected one", file=shown)
        case = Case(entry["id"], dict(entry["axes"]), cases[0].scenario)
        if case.surge != entry["surge"]:
            words = f"has the surge {case.surge!r}, the manifest {entry['surge']!r}"
            raise InputError.of(words, file=shown)
        inputs = [DeckInputs.from_json(w, entry[w]) for w in WINDOWS if entry[w] is not None]
        return RecordedCase(
            case=case,
            scenario_hash=entry["scenario_hash"],
            inputs=tuple(inputs),
            retries=tuple(entry["retries"]),
        )

    def _close(self) -> None:
        if self._archive is not None:
            self._archive.close()
            self._archive = None


def check_members(members: list[zipfile.ZipInfo], file: str) -> None:
    """Raise InputError for members that no record has, before any of them is unpacked."""
    if len(members) > MOST_MEMBERS:
        raise InputError.of(f"has more than {MOST_MEMBERS} members; refused", file=file)
    problems = []
    seen: set[str] = set()
    for member in members:
        if message := _complaint(member, seen, len(members)):
            shown = f"{file}: {shorten(member.orig_filename, most=80)}"
            problems.append(Problem(shown, 0, 0, "", message))
        seen.add(member.filename)
    total = sum(member.file_size for member in members)
    if total > MOST_TOTAL:
        words = f"unpacks to more than {MOST_TOTAL // MEGABYTE} MB; refused"
        problems.append(Problem(file, 0, 0, "", words))
    if problems:
        raise InputError(problems[:20])


def _complaint(member: zipfile.ZipInfo, seen: set[str], members: int) -> str:
    """Why a record cannot have this member; empty when it can."""
    name = member.orig_filename
    kind = stat.S_IFMT(member.external_attr >> 16)
    if stat.S_ISLNK(kind):
        return "is a symbolic link; refused"
    if name.startswith(("/", "\\")) or ".." in re.split(r"[/\\]", name) or ":" in name:
        return "leads out of the record; refused"
    if kind not in _PLAIN_KINDS or name.endswith("/"):
        return "is no plain file; refused"
    if name != member.filename or not _is_part(name):
        return "is no part of a record; refused"
    if name in seen:
        return "is there twice; refused"
    if member.flag_bits & _ENCRYPTED or member.compress_type not in _METHODS:
        return "is packed in a way no record is; refused"
    most = most_bytes(name, members=members)
    return f"unpacks to more than {most} bytes; refused" if member.file_size > most else ""


def _is_part(name: str) -> bool:
    return name in (MANIFEST, FINDINGS, DISCLOSURES) or _PART.fullmatch(name) is not None


def most_bytes(name: str, *, members: int) -> int:
    """Largest size of a part, unpacked.

    The manifest and the findings may grow with the number of members: ten times what a large
    installation needs a case, so that a small file can never unpack to a large one.
    """
    if name in _GROWING:
        return min(MEGABYTE + _GROWING[name] * members, _LARGEST)
    return _FIXED.get(name) or _FIXED[name[name.rindex(".") :]]


def _check_end(stream: BinaryIO, file: str) -> None:
    """Refuse a zip file whose list of members alone would fill the memory.

    Of the forms a zip file's end can have, a record has the plainest: no comment, no 64-bit
    extension. Raises InputError for any other.
    """
    size = stream.seek(0, os.SEEK_END)
    stream.seek(-min(size, _END.size + len(_LOCATOR_64) + 16), os.SEEK_END)
    tail = stream.read()
    if len(tail) < _END.size or not tail[-_END.size :].startswith(b"PK\5\6"):
        raise InputError.of(
            "is damaged or no record: not the end of a zip file",
            file=file,
            hint="a record is what run or compare wrote with --record",
        )
    *_, directory, _, comment = _END.unpack(tail[-_END.size :])
    if comment or tail.startswith(_LOCATOR_64) or directory > MOST_DIRECTORY:
        raise InputError.of("does not end as the zip file of a record does; refused", file=file)


def _expected_parts(manifest: Mapping[str, Any]) -> Iterator[str]:
    yield from (FINDINGS, DISCLOSURES)
    for entry in manifest["cases"]:
        yield scenario_part(entry["id"])
        yield from (deck_part(entry["id"], w) for w in WINDOWS if entry[w] is not None)


def _require_form(manifest: Any, file: str) -> None:
    """Refuse, with the reason, a manifest of another form than this program reads."""
    form = manifest.get("schema") if isinstance(manifest, dict) else None
    if form == SCHEMA:
        return
    if isinstance(form, str) and form.startswith("surgesim.record/"):
        made = manifest.get("made_with")
        by = made.get("surgesim") if isinstance(made, dict) else None
        hint = f"it was made with surgesim {shorten(by)}" if isinstance(by, str) else ""
        words = f"is a record of the form {shorten(form)!r}; this program reads {SCHEMA!r}"
        raise InputError.of(words, file=file, hint=hint)
    raise InputError.of(f"is no record: its {MANIFEST} does not say {SCHEMA!r}", file=file)


def _require_order(manifest: Mapping[str, Any], file: str) -> None:
    """Cases in order of their ids, each once, on levels that their axes have."""
    ids = [(len(entry["id"]), entry["id"]) for entry in manifest["cases"]]
    if ids != sorted(set(ids)):
        raise InputError.of("does not list its cases in order, each once", file=file, path="cases")
    axes = {name: {None, *axis["levels"]} for name, axis in manifest["axes"].items()}
    for entry in manifest["cases"]:
        levels = entry["axes"]
        if levels.keys() != axes.keys() or any(levels[name] not in axes[name] for name in axes):
            words = f"case {entry['id']} is not on levels of the study's axes"
            raise InputError.of(words, file=file, path="cases")


@contextmanager
def _zip_errors(file: str) -> Iterator[None]:
    """Whatever a damaged or hostile zip file makes the library raise, as an InputError."""
    try:
        yield
    except FileNotFoundError:
        raise InputError.of("no such file", file=file) from None
    except OSError as error:
        raise InputError.of(f"cannot be read: {error.strerror or error}", file=file) from None
    except (
        zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, KeyError,
        NotImplementedError, RuntimeError, ValueError, OverflowError,
    ) as error:  # fmt: skip
        if isinstance(error, InputError):
            raise
        words = f"is damaged or no record: {shorten(str(error) or type(error).__name__, most=120)}"
        raise InputError.of(words, file=file) from None
