"""A scenario file, with what it varies, and the cases it stands for."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from surgesim.catalogue.cards import AnyCard
from surgesim.catalogue.library import built_in
from surgesim.errors import InputError, Problem
from surgesim.reading.names import did_you_mean
from surgesim.reading.schema import Form, check, problem_at
from surgesim.reading.tree import Mapping, Scalar, overlay, parse_tree, read_tree
from surgesim.scenario.assumptions import with_assumptions
from surgesim.scenario.checks import complaints
from surgesim.scenario.factors import (
    ALTERNATIVES,
    MOST_CASES,
    WORST_OF,
    Choice,
    Factor,
    apply,
    combinations,
    narrowed,
    read_factors,
)
from surgesim.scenario.schema import Claim, Scenario

CLAIMS = "claims"
_FILE_LEVEL = (ALTERNATIVES, WORST_OF, CLAIMS)


@dataclass(frozen=True, slots=True)
class Case:
    """One scenario to be run. A level is None where its factor makes no difference here."""

    id: str
    axes: dict[str, str | None]
    scenario: Scenario

    @property
    def surge(self) -> str:
        return self.scenario.surge_name


@dataclass(frozen=True, slots=True)
class ScenarioFile:
    """A file that has been read and found right: every case of it resolves."""

    file: str
    title: str
    question: str
    factors: tuple[Factor, ...]
    claims: dict[str, Claim]
    all_cases: tuple[Case, ...] = field(repr=False)

    def cases(self, chosen: dict[str, list[str]] | None = None) -> tuple[Case, ...]:
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
    claims: dict[str, Claim]


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
    for dotted, text in (settings or {}).items():
        tree = _set(tree, dotted, text)
    factors = read_factors(tree, file)
    base = Mapping(
        {key: value for key, value in tree.entries.items() if key not in _FILE_LEVEL},
        tree.keys,
        tree.spot,
    )
    cases, problems = _resolve_all(base, factors, file)
    claims, wrong = _claims(tree, file, factors, cases)
    problems = list(dict.fromkeys([*problems, *wrong]))
    if problems:
        raise InputError(problems)
    first = cases[0].scenario
    return ScenarioFile(file, first.title, first.question or "", factors, claims, tuple(cases))


def _set(tree: Mapping, dotted: str, text: str) -> Mapping:
    """Lay one ``path=value`` over the tree; the path's parents must exist."""
    steps = dotted.split(".")
    here: Any = tree
    for step in steps[:-1]:
        if not isinstance(here, Mapping) or step not in here.entries:
            known = here.entries if isinstance(here, Mapping) else ()
            hint = did_you_mean(step, known)
            raise InputError.of(f"no {step!r} in path {dotted!r}", file="--set", hint=hint)
        here = here.entries[step]
    patch: Any = Scalar(text, tree.spot)
    for step in reversed(steps):
        patch = Mapping({step: patch}, {step: tree.spot}, tree.spot)
    laid = overlay(tree, patch)
    assert isinstance(laid, Mapping)
    return laid


def _resolve_all(
    base: Mapping, factors: tuple[Factor, ...], file: str
) -> tuple[list[Case], list[Problem]]:
    number = 1
    for factor in factors:
        number *= len(factor.levels)
    if number > MOST_CASES:
        raise InputError.of(
            f"stands for {number} wirings; at most {MOST_CASES} are run", file=file,
            hint="take levels out of 'alternatives' or 'worst of'",
        )  # fmt: skip
    problems: dict[Problem, None] = {}
    groups: dict[str, tuple[Scenario, list[Choice]]] = {}
    for choice in combinations(factors):
        try:
            scenario = _resolve(base, choice, file)
        except InputError as error:
            problems.update(dict.fromkeys(error.problems))
            continue
        groups.setdefault(fingerprint(scenario), (scenario, []))[1].append(choice)
    return _numbered(groups, factors), list(problems)


def _numbered(
    groups: dict[str, tuple[Scenario, list[Choice]]], factors: tuple[Factor, ...]
) -> list[Case]:
    """One case per distinct wiring and surge; levels that make no difference become None."""
    cases: list[Case] = []
    for scenario, choices in groups.values():
        for axes in _merged(choices, factors):
            for name, surge in scenario.surges.items():
                one = _one_surge(scenario, name)
                cases.append(Case(f"c{len(cases) + 1:04d}", axes, one))
    return cases


def _one_surge(scenario: Scenario, name: str) -> Scenario:
    """The scenario with that surge alone, and only the cards it then uses."""
    one = scenario.model_copy(update={"surges": {name: scenario.surges[name]}})
    cards = {card: scenario.cards[card] for card in _used_cards(one) if card in scenario.cards}
    return one.model_copy(update={"cards": cards})


def _merged(choices: list[Choice], factors: tuple[Factor, ...]) -> Iterator[dict[str, str | None]]:
    """The axes of equal wirings: a factor all of whose levels are among them counts as None."""
    names = {f.name: {choice[f.name].name for choice in choices} for f in factors}
    free = [f for f in factors if len(f.levels) > 1 and len(names[f.name]) == len(f.levels)]
    product = math.prod(len(factor.levels) for factor in free)
    rest = {tuple(c[f.name].name for f in factors if f not in free): c for c in choices}
    whole = len(choices) == product * len(rest)
    for choice in rest.values() if whole else choices:
        yield {f.name: None if whole and f in free else choice[f.name].name for f in factors}


def _resolve(base: Mapping, choice: Choice, file: str) -> Scenario:
    """The scenario of one choice of levels, with every surge. Raises InputError."""
    tree = with_assumptions(apply(base, choice, file))
    found = check(Scenario, tree, file)
    if not isinstance(found, Scenario):
        raise InputError(_explain_additions(found, base, tree))
    scenario, problems = _with_cards(found, tree, file)
    problems += [
        problem_at(tree, file, path, message, hint) for path, message, hint in complaints(scenario)
    ]
    if problems:
        raise InputError(problems)
    if not scenario.arresters:
        # An axis of arrester tolerance makes no difference where none is fitted.
        scenario = scenario.model_copy(update={"arrester_tolerance": "declared"})
    return scenario


def _explain_additions(problems: list[Problem], base: Mapping, tree: Mapping) -> list[Problem]:
    """Say of an incomplete thing that only a level names that it is not in the scenario."""
    explained: dict[Problem, None] = {}
    for problem in problems:
        section, _, rest = problem.path.partition(".")
        there, now = base.entries.get(section), tree.entries.get(section)
        if rest and isinstance(there, Mapping) and isinstance(now, Mapping):
            name = next((n for n in now.entries if rest == n or rest.startswith(n + ".")), "")
            if name and name not in there.entries:
                spot = now.keys[name]
                hint = did_you_mean(name, there.entries) or problem.message
                words = "is not in the scenario and not complete as a new one"
                path = f"{section}.{name}"
                explained[Problem(problem.file, spot.line, spot.column, path, words, hint)] = None
                continue
        explained[problem] = None
    return list(explained)


def _used_cards(scenario: Scenario) -> dict[str, tuple[str, ...]]:
    """Names of the cards a scenario uses, each with the path of its first use."""
    used: dict[str, tuple[str, ...]] = {}
    for section, key in (
        ("cables", "type"), ("bonds", "type"), ("arresters", "card"), ("surges", "shape"),
    ):  # fmt: skip
        for name, thing in getattr(scenario, section).items():
            used.setdefault(getattr(thing, key), (section, name, key))
    return used


def _with_cards(scenario: Scenario, tree: Mapping, file: str) -> tuple[Scenario, list[Problem]]:
    """The scenario with the cards it uses inlined, and a problem for each unknown one."""
    known: dict[str, AnyCard] = {**built_in(), **scenario.cards}
    cards: dict[str, AnyCard] = {}
    problems = []
    for name, path in _used_cards(scenario).items():
        if name in known:
            cards[name] = known[name]
        else:
            hint = did_you_mean(name, known) or "see 'surgesim models list'"
            problems.append(problem_at(tree, file, path, f"no card {name!r}", hint))
    return scenario.model_copy(update={"cards": cards}), problems


def _claims(
    tree: Mapping, file: str, factors: tuple[Factor, ...], cases: list[Case]
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
        for path, message, hint in _claim_complaints(claim, factors, cases)
    ]
    return found.claims, problems


def _claim_complaints(
    claim: Claim, factors: tuple[Factor, ...], cases: list[Case]
) -> Iterator[tuple[tuple[str, ...], str, str]]:
    levels = {f.name: [level.name for level in f.levels] for f in factors if f.role == ALTERNATIVES}
    for name, level in claim.alternative.items():
        if name not in levels:
            yield ("alternative", name), "no such factor", did_you_mean(name, levels)
        elif level not in levels[name]:
            words = f"factor {name!r} has no level {level!r}"
            yield ("alternative", name), words, did_you_mean(level, levels[name])
    equipment = cases[0].scenario.equipment if cases else {}
    if cases and claim.equipment not in equipment:
        words = f"no equipment {claim.equipment!r}"
        yield ("equipment",), words, did_you_mean(claim.equipment, equipment)
    elif cases and claim.pair not in equipment[claim.equipment].pairs:
        hint = did_you_mean(claim.pair, equipment[claim.equipment].pairs)
        yield ("pair",), f"{claim.equipment!r} has no pair {claim.pair!r}", hint


def fingerprint(scenario: Scenario) -> str:
    """SHA-256 of a scenario's resolved form; equal scenarios have equal ones."""
    text = json.dumps(scenario.written(), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
