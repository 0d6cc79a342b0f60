"""The results of a sweep as tables: one row a terminal or arrester element, case by case."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from surgesim.scenario.axes import Axis, number_of
from surgesim.studies.journal import Journal
from surgesim.studies.output import disk_errors, force_to_disk
from surgesim.studies.points import Plan
from surgesim.studies.sweep import JOURNAL
from surgesim.studies.tables import COLUMNS, cell, terminal_values

TERMINALS, ARRESTERS, FAILURES = "terminals.csv", "arresters.csv", "failures.csv"

ARRESTER_COLUMNS = (
    "name", "element", "card", "place", "verdict", "peak_a", "residual_v", "charge_c",
    "specific_energy_j_per_ohm", "energy_j", "share_of_rating", "rated_by",
)  # fmt: skip
FAILURE_COLUMNS = ("error", "try")

Record = Mapping[str, Any]


def records(folder: Path) -> Iterator[dict[str, Any]]:
    """Every finished case of a sweep, in the order of their ids."""
    with Journal(folder / JOURNAL) as journal:
        yield from journal.records()


def write_tables(plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write the tables of a sweep's finished cases, each whole or not at all.

    A table holds SI units. Values of an axis that are all numbers in one unit are numbers, with
    the unit in the heading. The order is that of the cases, whichever finished first.
    """
    return (
        _table(plan, folder / TERMINALS, COLUMNS, _terminals),
        _table(plan, folder / ARRESTERS, ARRESTER_COLUMNS, _arresters),
        _table(plan, folder / FAILURES, FAILURE_COLUMNS, _failures),
    )


def heading(one: Axis) -> str:
    """An axis as the heading of a column."""
    return one.name if one.unit is None else f"{one.name} [{one.unit or '1'}]"


def value(one: Axis, level: str) -> float | str:
    """A level of an axis as a column holds it."""
    return level if one.unit is None else number_of(level)


def _table(
    plan: Plan, path: Path, columns: Sequence[str], rows: Callable[[Record], Iterable[list[Any]]]
) -> Path:
    names: dict[str, None] = {}
    for record in records(path.parent):
        names.update(dict.fromkeys(record["case_found"]["axes"]))
    part = path.with_name(f"{path.name}.part")
    with disk_errors(path):
        with part.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            own = ["case", *map(heading, plan.axes), *(f"axis {name}" for name in names), "surge"]
            writer.writerow([*own, *columns])
            for record in records(path.parent):
                found = record["case_found"]
                begin = [
                    record["case"],
                    *(value(one, record["levels"][one.name]) for one in plan.axes),
                    *(found["axes"].get(name) for name in names),
                    found["surge"],
                ]
                for row in rows(found):
                    writer.writerow([cell(item) for item in (*begin, *row)])
        force_to_disk(part)
        part.replace(path)
    return path


def _terminals(found: Record) -> Iterator[list[Any]]:
    for terminal in found.get("terminals", ()):
        yield terminal_values(found, terminal)


def _arresters(found: Record) -> Iterator[list[Any]]:
    for arrester in found.get("arresters", ()):
        yield [arrester.get(column) for column in ARRESTER_COLUMNS]


def _failures(found: Record) -> Iterator[list[Any]]:
    if "error" in found:
        yield [found[column] for column in FAILURE_COLUMNS]
