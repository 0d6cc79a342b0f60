"""A scenario file, with what it varies, and the cases it stands for."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import ClassVar

from surgesim.errors import InputError, Problem
from surgesim.reading.form import Form, Name
from surgesim.reading.names import did_you_mean
from surgesim.reading.schema import check, problem_at
from surgesim.reading.tree import (
    Mapping,
    first_of,
    parse_tree,
    read_tree,
    shorten,
    spot_of,
)
from surgesim.scenario.axes import SWEEP, Axis, axes_of, set_value
from surgesim.scenario.factors import (
    ALTERNATIVES,
    CLAIMS,
    WORST_OF,
    Choice,
    Factor,
    narrowed,
    read_factors,
)
from surgesim.scenario.references import Complaint
from surgesim.scenario.resolving import Resolved, fingerprint, resolve_all, used_cards, wrong_values
from surgesim.scenario.schema import Claim, Scenario

__all__ = ["Case", "ScenarioFile", "fingerprint", "load", "loads", "read"]

_FILE_LEVEL = (ALTERNATIVES, WORST_OF, CLAIMS, SWEEP)


@dataclass(frozen=True, slots=True)
class Case:
    """One scenario to be run. A level is None where its factor makes no difference here.

    ``tree`` is what it was read from, in ``file``, with the levels laid over.
    """

    id: str
    axes: dict[str, str | None]
    scenario: Scenario
    file: str = field(default="", compare=False)
    tree: Mapping | None = field(default=None, repr=False, compare=False)

    @property
    def surge(self) -> str:
        """Name of the one surge of this case."""
        return self.scenario.surge_name

    @contextmanager
    def locating(self) -> Iterator[None]:
        """Gives the problems found inside, which know a path alone, their lines of the file."""
        try:
            yield
        except InputError as error:
            raise InputError([self._located(problem) for problem in error.problems]) from None

    def _located(self, problem: Problem) -> Problem:
        if problem.line or self.tree is None:
            return problem
        spot = spot_of(self.tree, tuple(problem.path.split(".")))
        return replace(problem, file=self.file, line=spot.line, column=spot.column)


@dataclass(frozen=True, slots=True)
class ScenarioFile:
    """A file that has been read and found right: every case of it resolves."""

    file: str
    title: str
    question: str
    factors: tuple[Factor, ...]
    claims: dict[str, Claim]
    sweep: tuple[Axis, ...]
    all_cases: tuple[Case, ...] = field(repr=False)

    def cases(self, *, chosen: dict[str, list[str]] | None = None) -> tuple[Case, ...]:
        """Its cases, all of them or those with the chosen levels of some factors."""
        kept = narrowed(self.factors, chosen or {})
        levels = {factor.name: {level.name for level in factor.levels} for factor in kept}
        return tuple(
            case
            for case in self.all_cases
            if all(case.axes[name] in (None, *wanted) for name, wanted in levels.items())
        )

    def case(self, id: str) -> Case:
        """The case with this id. Raises InputError naming what there is."""
        for case in self.all_cases:
            if case.id == id:
                return case
        ids = [case.id for case in self.all_cases]
        hint = f"there are {ids[0]} to {ids[-1]}"
        raise InputError.of(f"no case {id!r}", file=self.file, hint=hint)


class _Claims(Form):
    claims: dict[Name, Claim]

    examples: ClassVar[dict[str, str]] = {"claims": f"{{both hold: {Claim.example}}}"}


def load(path: str | Path, *, settings: dict[str, str] | None = None) -> ScenarioFile:
    """Read a scenario file and check every case of it.

    ``settings`` maps dotted paths to texts laid over the file first, such as
    ``{"cables.field run.length": "80 m"}``. Raises InputError with all problems at once.
    """
    return read(read_tree(Path(path)), str(path), settings=settings)


def loads(text: str | bytes, *, name: str = "scenario") -> ScenarioFile:
    """The same from text; ``name`` stands for the file in messages."""
    data = text.encode() if isinstance(text, str) else text
    return read(parse_tree(data, name), name)


def read(tree: Mapping, file: str, *, settings: dict[str, str] | None = None) -> ScenarioFile:
    """A scenario file from its tree."""
    tree = with_settings(tree, settings or {})
    factors = read_factors(tree, file)
    axes = axes_of(tree, file)
    base = _base(tree)
    resolved = resolve_all(base, factors, file)
    scenarios = [scenario for scenario, _ in resolved.groups.values()]
    claims, wrong = _claims(tree, file, factors, scenarios)
    replaced = [] if resolved.failing else wrong_values(base, file)
    problems = first_of([*resolved.problems(), *wrong, *replaced], file)
    if problems:
        raise InputError(problems)
    cases = tuple(_numbered(resolved, factors, file))
    first = scenarios[0]
    return ScenarioFile(file, first.title, first.question or "", factors, claims, axes, cases)


def with_settings(tree: Mapping, settings: dict[str, str]) -> Mapping:
    """A file's tree with texts laid over it, by dotted path."""
    for dotted, text in settings.items():
        tree = set_value(tree, tuple(dotted.split(".")), text, shown=dotted, asked_by="--set")
    return tree


def cases_of(
    tree: Mapping, file: str, *, chosen: dict[str, list[str]] | None = None
) -> tuple[Case, ...]:
    """The cases of a tree with the chosen levels of some factors, and only these resolved.

    Raises InputError with what is wrong with any of them.
    """
    factors = narrowed(read_factors(tree, file), chosen or {})
    resolved = resolve_all(_base(tree), factors, file)
    problems = first_of(resolved.problems(), file)
    if problems:
        raise InputError(problems)
    return tuple(_numbered(resolved, factors, file))


def _base(tree: Mapping) -> Mapping:
    """What describes the installation itself, without what varies or is claimed."""
    entries = {key: value for key, value in tree.entries.items() if key not in _FILE_LEVEL}
    return Mapping(entries, tree.keys, tree.spot)


def _numbered(resolved: Resolved, factors: tuple[Factor, ...], file: str) -> Iterator[Case]:
    """One case per distinct wiring and surge; levels that make no difference become None."""
    number = itertools.count(1)
    for key, (scenario, choices) in resolved.groups.items():
        for axes in _merged(choices, factors):
            for name in scenario.surges:
                one = _one_surge(scenario, name)
                yield Case(f"c{next(number):04d}", axes, one, file, resolved.trees[key])


def _one_surge(scenario: Scenario, name: str) -> Scenario:
    """The scenario with that surge alone, and only the cards it then uses."""
    one = scenario.model_copy(update={"surges": {name: scenario.surges[name]}})
    return one.model_copy(
        update={"cards": {card: scenario.cards[card] for card in used_cards(one)}}
    )


def _merged(choices: list[Choice], factors: tuple[Factor, ...]) -> list[dict[str, str | None]]:
    """The axes of equal wirings; a factor all of whose levels come to the same counts as None."""
    merged: list[dict[str, str | None]] = [
        {name: level.name for name, level in choice.items()} for choice in choices
    ]
    for factor in factors:
        if len(factor.levels) == 1:
            continue  # a single level is no matter of difference
        alike: dict[tuple[str | None, ...], list[dict[str, str | None]]] = {}
        for axes in merged:
            others = tuple(level for name, level in axes.items() if name != factor.name)
            alike.setdefault(others, []).append(axes)
        merged = []
        for same in alike.values():
            free = len(same) == len(factor.levels)
            merged += [{**same[0], factor.name: None}] if free else same
    return merged


def _claims(
    tree: Mapping, file: str, factors: tuple[Factor, ...], scenarios: list[Scenario]
) -> tuple[dict[str, Claim], list[Problem]]:
    section = tree.entries.get(CLAIMS)
    if section is None:
        return {}, []
    wrapped = Mapping({CLAIMS: section}, {CLAIMS: tree.keys[CLAIMS]}, tree.spot)
    found = check(_Claims, wrapped, file)
    if not isinstance(found, _Claims):
        return {}, found
    problems = [
        problem_at(tree, file, (CLAIMS, name, *path), message, hint)
        for name, claim in found.claims.items()
        for path, message, hint in _claim_complaints(claim, factors, scenarios)
    ]
    return found.claims, problems


def _claim_complaints(
    claim: Claim, factors: tuple[Factor, ...], scenarios: list[Scenario]
) -> Iterator[Complaint]:
    levels = {f.name: [level.name for level in f.levels] for f in factors if f.role == ALTERNATIVES}
    for name, level in claim.alternative.items():
        if name not in levels:
            hint = did_you_mean(name, levels)
            yield ("alternative", name), f"no factor {name!r} under {ALTERNATIVES!r}", hint
        elif level not in levels[name]:
            words = f"factor {name!r} has no level {level!r}"
            yield ("alternative", name), words, did_you_mean(level, levels[name])
    if not scenarios:
        return  # nothing to compare with; the scenario has problems of its own
    equipment = {name: thing for one in scenarios for name, thing in one.equipment.items()}
    if claim.equipment not in equipment:
        words = f"no equipment {claim.equipment!r}"
        yield ("equipment",), words, did_you_mean(claim.equipment, equipment)
    elif claim.pair not in equipment[claim.equipment].pairs:
        pairs = equipment[claim.equipment].pairs
        hint = did_you_mean(claim.pair, pairs) or "it is not assessed"
        yield ("pair",), f"{claim.equipment!r} has no pair {shorten(claim.pair)!r}", hint
