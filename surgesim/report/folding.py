"""Alternatives with the same outcome as one row.

A factor that changes nothing should not fill the table: rows that agree in every other factor
and in what is printed are joined, and the joined factor lists its levels.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from surgesim.report.view import Levels

Outcome = TypeVar("Outcome", bound=Hashable)


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded(Generic[Outcome]):
    """Alternatives that share an outcome: the product of ``cells``, one tuple a factor.

    ``members`` are the positions of the rows it was made of.
    """

    cells: tuple[Levels, ...]
    outcome: Outcome
    members: tuple[int, ...]


def fold(rows: Sequence[tuple[Levels, Outcome]]) -> list[Folded[Outcome]]:
    """Rows (levels of one alternative, its outcome) joined factor by factor, the last first.

    Every alternative of the result was a row with that outcome, and every row is in the result
    once.
    """
    folded = [
        Folded(cells=tuple((level,) for level in levels), outcome=outcome, members=(position,))
        for position, (levels, outcome) in enumerate(rows)
    ]
    factors = len(rows[0][0]) if rows else 0
    for factor in reversed(range(factors)):
        folded = _joined(folded, factor)
    return folded


def _joined(rows: Sequence[Folded[Outcome]], factor: int) -> list[Folded[Outcome]]:
    kept: dict[tuple[object, ...], Folded[Outcome]] = {}
    for row in rows:
        key = (*row.cells[:factor], *row.cells[factor + 1 :], row.outcome)
        earlier = kept.get(key)
        if earlier is None:
            kept[key] = row
            continue
        levels = earlier.cells[factor] + row.cells[factor]
        kept[key] = Folded(
            cells=(*row.cells[:factor], levels, *row.cells[factor + 1 :]),
            outcome=row.outcome,
            members=tuple(sorted(earlier.members + row.members)),
        )
    return list(kept.values())


def ranges(numbers: Sequence[int]) -> str:
    """Increasing whole numbers, runs shortened: ``1-4, 9``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def cell_text(levels: Levels, every_level: Sequence[str]) -> str:
    """A folded factor's table cell: the levels, or ``either`` or ``any`` for all of them."""
    named = [level for level in levels if level is not None]
    if not named:
        return "-"
    if len(named) > 1 and set(named) == set(every_level):
        return "either" if len(named) == 2 else "any"
    return " / ".join(named)
