"""Writing a record: one zip file that is either all there or not there at all."""

from __future__ import annotations

import hashlib
import secrets
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

from surgesim.errors import InputError
from surgesim.studies.output import disk_errors, force_to_disk, usable_place
from surgesim.studies.record import MANIFEST

EPOCH = (1980, 1, 1, 0, 0, 0)
"""The time of every member: the earliest a zip file can hold, so that equal parts make equal
files whenever they are written."""

_REGULAR = 0o100644 << 16
_UNIX = 3
_OURS = b'"schema": "surgesim.record/'


class RecordFile:
    """A record in the making, as a context manager.

    Entering it checks the target and opens a file beside it, before anything long is run.
    ``publish`` fills that and renames it into place; leaving without that leaves no trace.
    Raises InputError for a target that must not be written, SurgesimError when the disk does
    not take it.
    """

    def __init__(self, target: Path, *, overwrite: bool = False) -> None:
        self.target = Path(target).resolve()
        self.overwrite = overwrite
        self.staging = self.target.with_name(
            f".{self.target.name}.partial-{secrets.token_hex(4)}"
        )  # fmt: skip

    def __enter__(self) -> Self:
        with usable_place(self.target):
            check_record_target(self.target, overwrite=self.overwrite)
            self.target.parent.mkdir(parents=True, exist_ok=True)
            self.staging.touch(exist_ok=False)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.staging.unlink(missing_ok=True)

    def publish(self, parts: Mapping[str, bytes]) -> str:
        """Write the parts and put the file in its place; its SHA-256."""
        with disk_errors(self.target):
            write_zip(self.staging, parts)
            force_to_disk(self.staging)
            check_record_target(self.target, overwrite=self.overwrite)
            self.staging.replace(self.target)
            force_to_disk(self.target.parent)
            return hashlib.sha256(self.target.read_bytes()).hexdigest()


def write_zip(path: Path, parts: Mapping[str, bytes]) -> None:
    """The parts in the order of their names, with no time and no owner."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(parts):
            member = zipfile.ZipInfo(name, date_time=EPOCH)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.create_system = _UNIX
            member.external_attr = _REGULAR
            archive.writestr(member, parts[name])


def check_record_target(target: Path, *, overwrite: bool) -> None:
    """Raise InputError unless a record may be put at ``target``.

    It may where nothing is; with ``overwrite`` also over an earlier record, and nothing else.
    """
    if target.is_dir():
        raise InputError.of("is a folder, expected a file", file=str(target))
    if not target.exists():
        return
    if not overwrite:
        hint = "--overwrite replaces an earlier record"
        raise InputError.of("is there already", file=str(target), hint=hint)
    if not _is_ours(target):
        words = "will not be overwritten: it is no record written here"
        raise InputError.of(words, file=str(target), hint="choose another name")


def _is_ours(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as archive, archive.open(MANIFEST) as manifest:
            return _OURS in manifest.read(256)
    except (OSError, zipfile.BadZipFile, KeyError, RuntimeError, NotImplementedError):
        return False
