"""A journal of finished cases: one line each, added when it is finished and never changed.

Each line begins with a checksum of the rest, so that whatever a crash, a kill or a full disk has
left behind is told from a whole one. Opening a journal drops every line that is not whole: the
cases on them are run again.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from surgesim.errors import InputError
from surgesim.studies.output import disk_errors, force_to_disk, usable_place

DIGITS = 16
"""Hexadecimal digits of a line's checksum."""

MOST_OF_A_LINE = 10_000_000
"""Bytes; a longer line is no case."""


class Journal:
    """A journal that is open for writing, by one process at a time.

    ``offsets`` tells where the line of each case begins. A context manager; raises InputError
    where another process has it open, SurgesimError where the disk does not take a line.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.offsets: dict[str, int] = {}
        self.dropped = 0

    def __enter__(self) -> Self:
        with usable_place(self.path):
            self._file: BinaryIO = self.path.open("a+b", buffering=0)
        try:
            _lock(self._file, self.path)
            self._recover()
        except BaseException:
            self._file.close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def add(self, record: Mapping[str, Any]) -> None:
        """Add a finished case, whose ``case`` is its id, and have it on the disk."""
        line = _line(record)
        with disk_errors(self.path):
            start = self._file.seek(0, os.SEEK_END)
            written = self._file.write(line)
            if written != len(line):  # a disk that has just become full takes a part
                self._file.write(line[written:])
            os.fsync(self._file.fileno())
        self.offsets[record["case"]] = start

    def record(self, case: str) -> dict[str, Any]:
        """The record of a finished case."""
        self._file.seek(self.offsets[case])
        found = _record(_next_line(self._file))
        assert found is not None
        return found

    def records(self) -> Iterator[dict[str, Any]]:
        """Every record, in the order of the cases' ids."""
        for case in sorted(self.offsets):
            yield self.record(case)

    def _recover(self) -> None:
        """Find the whole lines; where there are others, write a journal without them."""
        self._file.seek(0)
        while line := _next_line(self._file):
            found = _record(line)
            if found is None:
                self.dropped += 1
            else:
                self.offsets[found["case"]] = self._file.tell() - len(line)
        if self.dropped:
            self._rewrite()

    def _rewrite(self) -> None:
        """The whole lines alone, put in the journal's place at once."""
        part = self.path.with_name(f"{self.path.name}.part")
        offsets: dict[str, int] = {}
        with disk_errors(self.path):
            with part.open("wb") as new:
                for case, start in self.offsets.items():
                    self._file.seek(start)
                    offsets[case] = new.tell()
                    new.write(_next_line(self._file))
            force_to_disk(part)
            part.replace(self.path)
            self._file.close()
            self._file = self.path.open("a+b", buffering=0)
        _lock(self._file, self.path)
        self.offsets = offsets


def _line(record: Mapping[str, Any]) -> bytes:
    text = json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    return _checksum(text) + b" " + text + b"\n"


def _checksum(text: bytes) -> bytes:
    return hashlib.sha256(text).hexdigest()[:DIGITS].encode()


def _record(line: bytes) -> dict[str, Any] | None:
    """What a line holds, None where it is not whole."""
    checksum, _, text = line.removesuffix(b"\n").partition(b" ")
    if not line.endswith(b"\n") or checksum != _checksum(text):
        return None
    found = json.loads(text)
    return found if isinstance(found, dict) and isinstance(found.get("case"), str) else None


def _next_line(file: BinaryIO) -> bytes:
    """The next line of an unbuffered file, or as much of it as a line may have."""
    start, line = file.tell(), b""
    while b"\n" not in line and len(line) < MOST_OF_A_LINE:
        chunk = file.read(65536)
        if not chunk:
            break
        line += chunk
    end = line.find(b"\n") + 1 or min(len(line), MOST_OF_A_LINE)
    file.seek(start + end)
    return line[:end]


def _lock(file: BinaryIO, path: Path) -> None:
    """Keep other processes out, where the system can."""
    try:
        import fcntl
    except ImportError:  # Windows
        return
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise InputError.of(
            "is being written by another process", file=str(path), hint="wait until it has ended"
        ) from None
