"""Which cases belong to which alternative.

An alternative is a choice of one level on every axis of that role. A case whose level is None
on an axis is the same for all levels of it and belongs to each of them. Choices with the very
same cases are one alternative, whose level is None on the axes that make no difference to it:
nothing fitted with one card or the other is nothing fitted.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from surgesim.studies.info import AxisInfo

Levels = tuple[str | None, ...]
CaseAxes = Mapping[str, str | None]


def group(axes: Mapping[str, AxisInfo], cases: Sequence[CaseAxes]) -> dict[Levels, list[int]]:
    """Alternatives, as levels in axis order, with the indices of their cases.

    Alternatives come in the order of the axes' levels, the last axis varying fastest. Raises
    ValueError for a case on a level its axis does not have.
    """
    names = alternatives(axes)
    by_levels: dict[Levels, list[int]] = defaultdict(list)
    for index, case in enumerate(cases):
        _check_levels(axes, case)
        by_levels[tuple(case.get(name) for name in names)].append(index)
    groups: dict[Levels, list[int]] = {}
    for choice in itertools.product(*(axes[name].levels for name in names)):
        hits = [pattern for pattern in _patterns(choice) if pattern in by_levels]
        if hits:
            members = sorted(index for pattern in hits for index in by_levels[pattern])
            groups.setdefault(_shown(hits), members)
    return {levels: groups[levels] for levels in groups if not _refined(levels, groups)}


def alternatives(axes: Mapping[str, AxisInfo]) -> list[str]:
    """Names of the axes that are design choices."""
    return [name for name, axis in axes.items() if axis.role == "alternative"]


def worst_of(axes: Mapping[str, AxisInfo]) -> list[str]:
    """Names of the axes over which the worst counts."""
    return [name for name, axis in axes.items() if axis.role == "worst of"]


def covers(case: CaseAxes, wanted: CaseAxes) -> bool:
    """Whether a case speaks for the levels wanted: it has them, or they do not matter to it."""
    return all(case.get(axis) in (level, None) for axis, level in wanted.items())


def _patterns(choice: tuple[str, ...]) -> Iterator[Levels]:
    """A choice and everything it looks like with some of its levels making no difference."""
    yield from itertools.product(*((level, None) for level in choice))


def _shown(hits: list[Levels]) -> Levels:
    """Level on each axis; None where it makes no difference to any of the cases."""
    return tuple(
        next((level for level in column if level is not None), None)
        for column in zip(*hits, strict=True)
    )


def _refined(levels: Levels, groups: Mapping[Levels, object]) -> bool:
    """Whether other alternatives hold all of this one's cases and more.

    So it is where not every case was run: what remains of a choice is then only what it
    shares with the others.
    """
    return any(
        other != levels and all(a in (b, None) for a, b in zip(levels, other, strict=True))
        for other in groups
        if None in levels
    )


def _check_levels(axes: Mapping[str, AxisInfo], case: CaseAxes) -> None:
    for axis, level in case.items():
        if axis not in axes or (level is not None and level not in axes[axis].levels):
            raise ValueError(f"expected a level of the study's axes but got {axis}={level!r}")
