"""A sweep from Python: run it, and have its tables as arrays."""

from __future__ import annotations

import csv
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surgesim.reading.tree import read_tree
from surgesim.scenario.axes import axes_of, axis
from surgesim.scenario.file import with_settings
from surgesim.studies.points import Method, Plan, tried
from surgesim.studies.run import TIMEOUT
from surgesim.studies.sweep import Sweep
from surgesim.studies.sweep_tables import ARRESTERS, FAILURES, TERMINALS, write_tables

Columns = dict[str, NDArray[Any]]


@dataclass(frozen=True, slots=True)
class SweepResults:
    """The tables of a sweep's folder, each a dict of columns by heading.

    ``terminals`` has a row a terminal pair, ``arresters`` one an arrester element, ``failures`` one
    a case without a result. Columns of numbers are float64, NaN where there is none; others text.
    """

    folder: Path

    @property
    def terminals(self) -> Columns:
        return columns(self.folder / TERMINALS)

    @property
    def arresters(self) -> Columns:
        return columns(self.folder / ARRESTERS)

    @property
    def failures(self) -> Columns:
        return columns(self.folder / FAILURES)

    def to_pandas(self, table: str) -> Any:
        """A table, by its name, as a pandas.DataFrame. Raises ImportError without pandas."""
        import pandas  # type: ignore[import-not-found,import-untyped,unused-ignore]

        return pandas.DataFrame(getattr(self, table))


def sweep(
    path: str | os.PathLike[str],
    *,
    out: str | os.PathLike[str],
    vary: Mapping[str, str | Sequence[str]] | None = None,
    chosen: dict[str, list[str]] | None = None,
    settings: dict[str, str] | None = None,
    samples: int | None = None,
    method: Method = "latin hypercube",
    seed: int = 1,
    workers: int | None = None,
    timeout: float = TIMEOUT,
) -> SweepResults:
    """Run a scenario file over ranges of its values, or finish what the folder ``out`` holds.

    ``vary`` maps dotted paths to levels: a list of texts, or a text such as ``10 m to 200 m in 20
    values``; without it what stands under ``sweep`` in the file. ``samples`` draws so many points
    by ``method`` and ``seed`` instead of running every combination. Raises InputError for what
    cannot be, before anything is run; a case that fails is among the failures.
    """
    tree = with_settings(read_tree(Path(path)), settings or {})
    axes = [axis(name, levels) for name, levels in (vary or {}).items()]
    plan = Plan(
        tree=tree,
        file=str(path),
        axes=tuple(axes) or axes_of(tree, str(path)),
        chosen=chosen or {},
        method="grid" if samples is None else method,
        samples=samples or 0,
        seed=seed if samples else 0,
    )
    tried(plan)
    folder = Path(out)
    Sweep(plan=plan, folder=folder).run(workers=workers, timeout=timeout)
    write_tables(plan, folder)
    return SweepResults(folder)


def columns(path: Path) -> Columns:
    """A table by its headings: float64 where every cell is a number or empty, else text."""
    with path.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    cells = zip(*rows, strict=True) if rows else ((),) * len(head)
    return {name: _column(values) for name, values in zip(head, cells, strict=True)}


def _column(values: Sequence[str]) -> NDArray[Any]:
    if any(values):
        try:
            return np.array([float(value) if value else np.nan for value in values])
        except ValueError:
            pass
    return np.array(values, dtype=np.str_)
