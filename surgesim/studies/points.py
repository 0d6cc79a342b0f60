"""The points of a sweep: which levels its axes take together, and the cases at each."""

from __future__ import annotations

import hashlib
import itertools
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from surgesim.errors import InputError, Problem
from surgesim.reading.tree import Mapping as Tree
from surgesim.reading.tree import first_of, plain
from surgesim.scenario.axes import SWEEP, Axis, laid
from surgesim.scenario.factors import CLAIMS
from surgesim.scenario.file import Case, cases_of, fingerprint

Method = Literal["grid", "latin hypercube", "sobol"]
METHODS: tuple[Method, ...] = ("grid", "latin hypercube", "sobol")
Levels = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a sweep runs: a file's tree, what varies, and how.

    ``chosen`` keeps only those levels of some factors of the file. ``samples`` and ``seed`` are
    those of a ``method`` other than the grid.
    """

    tree: Tree
    file: str
    axes: tuple[Axis, ...]
    chosen: dict[str, list[str]] = field(default_factory=dict)
    method: Method = "grid"
    samples: int = 0
    seed: int = 0

    def __post_init__(self) -> None:
        if not self.axes:
            raise InputError.of(
                "nothing is varied", file=self.file,
                hint="--vary 'cables.NAME.length=10 m to 200 m in 20 values', or a section 'sweep'",
            )  # fmt: skip
        for one in self.axes:
            if self.method == "grid" and one.spread is not None:
                raise InputError.of(
                    "is a range without a number of values", path=one.name,
                    hint="add 'in 20 values', or draw from it with --sample",
                )  # fmt: skip

    @property
    def number_of_points(self) -> int:
        """How many points there are, however many."""
        if self.method == "grid":
            return math.prod(len(one.levels) for one in self.axes)
        return self.samples

    def points(self) -> Iterator[dict[str, str]]:
        """The level of every axis at each point, the last axis varying fastest."""
        names = [one.name for one in self.axes]
        if self.method == "grid":
            for levels in itertools.product(*(one.levels for one in self.axes)):
                yield dict(zip(names, levels, strict=True))
            return
        for shares in _shares(len(self.axes), self.samples, self.method, self.seed):
            yield {
                one.name: _level(one, share) for one, share in zip(self.axes, shares, strict=True)
            }

    def cases(self, levels: Levels) -> tuple[Case, ...]:
        """The cases at a point. Raises InputError where they cannot be."""
        tree = laid(self.tree, self.axes, levels)
        return cases_of(tree, self.file, chosen=self.chosen)

    @property
    def identity(self) -> dict[str, Any]:
        """What makes this sweep the one it is, as plain data; comments and layout do not."""
        entries = {key: plain(value) for key, value in self.tree.entries.items()}
        text = json.dumps(
            {key: value for key, value in entries.items() if key not in (SWEEP, CLAIMS)},
            sort_keys=True, ensure_ascii=False,
        )  # fmt: skip
        return {
            "scenario": hashlib.sha256(text.encode()).hexdigest(),
            "axes": {one.name: list(one.levels) for one in self.axes},
            "chosen": self.chosen,
            "method": self.method,
            "samples": self.samples,
            "seed": self.seed,
        }


def _shares(axes: int, samples: int, method: Method, seed: int) -> Iterator[list[float]]:
    """Points of the unit cube, scipy's."""
    from scipy.stats import qmc

    sampler = (qmc.Sobol if method == "sobol" else qmc.LatinHypercube)(axes, seed=seed)
    yield from sampler.random(samples).tolist()


def _level(one: Axis, share: float) -> str:
    if one.spread is not None:
        return one.between(share)
    return one.levels[min(int(share * len(one.levels)), len(one.levels) - 1)]


MOST_TRIED = 20
"""Levels of an axis that are tried beforehand, its ends among them."""


def first_cases(plan: Plan) -> tuple[Case, ...]:
    """The cases where every axis has its first level. Raises InputError naming the levels."""
    first = {one.name: one.levels[0] for one in plan.axes}
    try:
        return plan.cases(first)
    except InputError as error:
        levels = ", ".join(f"{name} {level}" for name, level in first.items())
        raise InputError(list(_with(error, levels))) from None


def tried(plan: Plan) -> None:
    """Try the levels of every axis, the others at their first: a mistake is told before a run.

    Raises InputError with what is wrong and the level with it, and for an axis that changes
    nothing.
    """
    alike = _prints(first_cases(plan))
    first = {one.name: one.levels[0] for one in plan.axes}
    problems: dict[Problem, None] = {}
    for one in plan.axes:
        changed = len(one.levels) == 1
        for level in _some(one.levels):
            try:
                found = plan.cases({**first, one.name: level})
            except InputError as error:
                changed = True
                problems.update(dict.fromkeys(_with(error, f"{one.name} {level}")))
            else:
                changed = changed or _prints(found) != alike
        if not changed:
            words = "changes nothing in the cases that are run"
            hint = "an alternative that sets the same value goes over it; vary it there"
            problems[Problem(plan.file, 0, 0, one.name, words, hint)] = None
    if problems:
        raise InputError(first_of(problems, plan.file))


def _some(levels: tuple[str, ...]) -> list[str]:
    """All levels but the first, or as many of them as are tried, the last among them."""
    step = max(1, math.ceil((len(levels) - 1) / MOST_TRIED))
    return list(levels[:0:-step])


def _with(error: InputError, level: str) -> Iterator[Problem]:
    for problem in error.problems:
        yield replace(problem, message=f"{problem.message} (with {level})")


def _prints(cases: tuple[Case, ...]) -> list[str]:
    return [fingerprint(case.scenario) for case in cases]
