"""A study on disk: a folder that is either all there or not there at all.

Everything is written into a staging folder beside the target and forced to the disk; one
rename then puts it in its place. A folder to be overwritten is moved aside before that and
removed after it, and moved back should the rename fail. Only folders this program wrote are
ever overwritten.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from glob import escape
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np

from surgesim.errors import InputError, SurgesimError
from surgesim.network.waveforms import Waveforms
from surgesim.studies.tables import to_csv, to_json

JSON_FILE, CSV_FILE = "findings.json", "findings.csv"
WAVEFORMS, FIGURES, FAILED = "waveforms", "figures", "failed"
CONTENTS = frozenset((JSON_FILE, CSV_FILE, WAVEFORMS, FIGURES, FAILED))

_OURS = re.compile(rb'\A\s*\{\s*"schema"\s*:\s*"surgesim\.findings/')
_CASE_ID = re.compile(r"[A-Za-z0-9_-]+")


class ResultFolder:
    """A folder of results in the making, as a context manager.

    Entering it checks the target and opens the staging folder, before anything long is run.
    ``publish`` puts the results in place; leaving without that leaves no trace of them.
    Figures are drawn into ``figures``. Raises InputError for a target that must not be
    written, SurgesimError when the disk does not take it.
    """

    def __init__(self, target: Path, *, overwrite: bool = False) -> None:
        self.target = Path(target).resolve()
        self.overwrite = overwrite
        self.staging = self._sibling("partial")

    def __enter__(self) -> Self:
        with usable_place(self.target):
            self.target.parent.mkdir(parents=True, exist_ok=True)
            self._restore()
            check_target(self.target, overwrite=self.overwrite)
            self.staging.mkdir()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        # an error on the way out would hide the one that led here
        shutil.rmtree(self.staging, ignore_errors=True)

    @property
    def figures(self) -> Path:
        """The folder for figures, made when first asked for."""
        return self._folder(FIGURES)

    @property
    def failed(self) -> Path:
        """The folder for cases without a result, made when first asked for."""
        return self._folder(FAILED)

    def write_waveforms(self, case_id: str, front: Waveforms, tail: Waveforms) -> None:
        """Keep a case's waveforms as ``waveforms/CASE.npz``; see :func:`waveform_arrays`."""
        if not _CASE_ID.fullmatch(case_id):
            raise ValueError(f"expected a case id of letters and digits but got {case_id!r}")
        path = self._folder(WAVEFORMS) / f"{case_id}.npz"
        with disk_errors(self.target):
            # not compressed: it takes as long as running the case and saves a quarter of the space
            np.savez(path, allow_pickle=False, **waveform_arrays(front, tail))

    def write_findings(self, findings: Mapping[str, Any]) -> None:
        """Write the findings object as findings.json and findings.csv."""
        texts = {JSON_FILE: to_json(findings), CSV_FILE: to_csv(findings)}
        with disk_errors(self.target):
            for name, text in texts.items():
                (self.staging / name).write_text(text, encoding="utf-8", newline="")

    def publish(self) -> Path:
        """Put the results in place and return where they are."""
        with disk_errors(self.target):
            for path in (*self.staging.rglob("*"), self.staging):
                force_to_disk(path)
            check_target(self.target, overwrite=self.overwrite)
            previous = self._swap()
            force_to_disk(self.target.parent)
        if previous is not None:
            _remove(previous)
        return self.target

    def _swap(self) -> Path | None:
        """Rename the staging folder into its place; return where an earlier one has gone."""
        if self.target.is_dir() and not any(self.target.iterdir()):
            self.target.rmdir()
        if not self.target.exists():
            self.staging.replace(self.target)
            return None
        previous = self._sibling("previous")
        self.target.replace(previous)
        try:
            self.staging.replace(self.target)
        except BaseException:
            previous.replace(self.target)
            raise
        return previous

    def _restore(self) -> None:
        """Put back what an earlier call had moved aside when it was killed between two renames."""
        moved = sorted(self.target.parent.glob(f".{escape(self.target.name)}.previous-*"))
        if moved and not self.target.exists():
            moved[-1].replace(self.target)

    def _folder(self, name: str) -> Path:
        folder = self.staging / name
        with disk_errors(self.target):
            folder.mkdir(exist_ok=True)
        return folder

    def _sibling(self, kind: str) -> Path:
        return self.target.with_name(f".{self.target.name}.{kind}-{secrets.token_hex(4)}")


def check_target(target: Path, *, overwrite: bool) -> None:
    """Raise InputError unless results may be put at ``target``.

    They may where nothing or an empty folder is; with ``overwrite`` also over an earlier
    folder of results that holds nothing else.
    """
    if not target.exists():
        return
    if not target.is_dir():
        raise InputError.of("is a file, expected a folder", file=str(target))
    entries = {path.name for path in target.iterdir()}
    if not entries:
        return
    if not overwrite:
        raise InputError.of(
            "the folder is not empty", file=str(target), hint="--overwrite replaces earlier results"
        )
    strangers = sorted(entries - CONTENTS)
    if strangers:
        raise InputError.of(
            f"will not be overwritten: it holds {strangers[0]!r}, which is not from here",
            file=str(target),
            hint="choose another folder",
        )
    if not _is_ours(target):
        raise InputError.of(
            f"will not be overwritten: it has no {JSON_FILE} written here",
            file=str(target),
            hint="choose another folder",
        )


def waveform_arrays(front: Waveforms, tail: Waveforms) -> dict[str, np.ndarray[Any, Any]]:
    """Arrays of a waveform file, for each window W of ``front`` and ``tail``.

    ``W_time`` (m,) in s; ``W_nodes`` (n,) names and ``W_voltages`` (n, m) in V to remote earth;
    ``W_branches`` (k,) names and ``W_currents`` (k, m) in A.
    """
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    for waves in (front, tail):
        points = len(waves.time)
        arrays[f"{waves.window}_time"] = waves.time
        for names, values, series in (
            ("nodes", "voltages", waves.voltages),
            ("branches", "currents", waves.currents),
        ):
            arrays[f"{waves.window}_{names}"] = np.array(list(series), dtype=np.str_)
            stacked = np.array(list(series.values()), dtype=np.float64)
            arrays[f"{waves.window}_{values}"] = stacked.reshape(len(series), points)
    return arrays


def _is_ours(target: Path) -> bool:
    try:
        with (target / JSON_FILE).open("rb") as file:
            return _OURS.match(file.read(256)) is not None
    except OSError:
        return False


def _remove(previous: Path) -> None:
    try:
        shutil.rmtree(previous)
    except OSError as error:
        raise SurgesimError(
            f"the results are in place, but the earlier ones could not be removed: {previous}"
        ) from error


def force_to_disk(path: Path) -> None:
    """Have the system write a file or a folder out, not only remember it."""
    if os.name == "nt" and path.is_dir():
        return  # Windows opens no folders
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def usable_place(target: Path) -> Iterator[None]:
    """What the disk refuses before anything was run: a bad place to write to, named."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or type(error).__name__
        if isinstance(error, FileExistsError | NotADirectoryError):
            reason = "part of its path is a file"
        raise InputError.of(
            f"cannot be written: {reason}", file=str(target), hint="choose another place"
        ) from error


@contextmanager
def disk_errors(target: Path) -> Iterator[None]:
    """What the disk refuses within the block, as an error that names ``target``."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SurgesimError(
            f"{target}: could not be written ({reason}); earlier results are kept"
        ) from error
