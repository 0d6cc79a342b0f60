"""Decks and logs of cases without a result: kept, so that a failure can be looked into.

While a study runs every deck is written into a folder of its case, and the folder of a case that
gave its result is taken away. What remains belongs to the cases that failed: each deck as it was
run, what ngspice printed, and the reason.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from surgesim.studies.output import FAILED, ResultFolder, disk_errors

REASON = "reason.txt"


class FailedCases:
    """The folder ``failed`` of a folder of results, or without one a fresh temporary folder.

    A context manager: leaving it removes a folder in which nothing has stayed. ``folder`` is
    what to hand to ``study`` as ``keep``.
    """

    def __init__(self, results: ResultFolder | None) -> None:
        self._results = results
        self.count = 0

    def __enter__(self) -> Self:
        if self._results is None:
            self.folder = Path(tempfile.mkdtemp(prefix="surgesim-failed-"))
        else:
            self.folder = self._results.failed
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not self.count:
            shutil.rmtree(self.folder, ignore_errors=True)

    def settle(self, case_id: str, *, failed: bool) -> None:
        """Keep what there is of a case that failed; drop that of another."""
        if failed:
            self.count += 1
        else:
            shutil.rmtree(self.folder / case_id, ignore_errors=True)

    def explain(self, failures: Iterable[Mapping[str, Any]]) -> None:
        """Write the reason into the folder of each case among a study's failures."""
        with disk_errors(self.folder):
            for entry in failures:
                folder = self.folder / entry["id"]
                folder.mkdir(parents=True, exist_ok=True)
                (folder / REASON).write_text(reason(entry), encoding="utf-8")

    @property
    def where(self) -> Path:
        """Where it all is once the results are in place."""
        return self.folder if self._results is None else self._results.target / FAILED


def reason(entry: Mapping[str, Any]) -> str:
    """Which case, with which levels and surge, why it has no result, and what to try."""
    levels = [f"{name}: {level}" for name, level in entry["axes"].items() if level is not None]
    lines = [f"case {entry['id']}", *levels, f"surge: {entry['surge']}", "", entry["error"]]
    return "\n".join([*lines, *(["", f"try: {entry['try']}"] if entry["try"] else [])]) + "\n"
