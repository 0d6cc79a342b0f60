"""From a file's tree and a choice of levels to a scenario; and all choices of a file at once."""

from __future__ import annotations

import hashlib
import itertools
import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from surgesim.catalogue.cards import AnyCard, ArresterDevice
from surgesim.catalogue.library import built_in
from surgesim.errors import InputError, Problem
from surgesim.reading.faults import MISSING
from surgesim.reading.names import did_you_mean
from surgesim.reading.schema import check, problem_at
from surgesim.reading.tree import Mapping, Scalar, count_of, distinct, shorten
from surgesim.scenario.assumptions import with_assumptions
from surgesim.scenario.checks import complaints
from surgesim.scenario.factors import (
    ALTERNATIVES,
    WORST_OF,
    Choice,
    Factor,
    apply,
    combinations,
    singly,
)
from surgesim.scenario.levels import with_levels
from surgesim.scenario.references import misspelt_sections, unknown_references
from surgesim.scenario.schema import Scenario

MOST_CHOICES = 20_000
MOST_VALUES = 20_000_000
"""Choices times values a file holds, which is what resolving costs: so many choices of a file of
a thousand values. The dairy has 96 choices of 160 values."""
FEW = 200
"""So many choices are all resolved, whatever is wrong, to tell which levels a problem takes."""

_Same = tuple[int, int, str, str]


@dataclass(slots=True)
class Resolved:
    """Scenarios with the choices that lead to each, and what is wrong with the other choices."""

    factors: tuple[Factor, ...]
    groups: dict[str, tuple[Scenario, list[Choice]]] = field(default_factory=dict)
    trees: dict[str, Mapping] = field(default_factory=dict)
    failing: dict[_Same, tuple[Problem, list[Choice]]] = field(default_factory=dict)

    def add(self, base: Mapping, choice: Choice, file: str) -> bool:
        """Resolve one choice into the groups or the failures; whether it is in order."""
        try:
            tree = with_assumptions(with_levels(apply(base, choice, file)))
            scenario = resolve(tree, base, file)
        except InputError as error:
            for problem in error.problems:
                # The hint may list what another level has, the path name another thing that
                # the same level sets: the problem is the same.
                same = (problem.line, problem.column, problem.message, "")
                if problem.message == MISSING:  # several keys may be missing at one spot
                    same = (problem.line, problem.column, problem.message, problem.path)
                self.failing.setdefault(same, (problem, []))[1].append(choice)
            return False
        key = fingerprint(scenario)
        self.groups.setdefault(key, (scenario, []))[1].append(choice)
        self.trees.setdefault(key, tree)
        return True

    def problems(self) -> list[Problem]:
        """Every problem once, with the levels it takes where other levels are in order."""
        return [
            replace(problem, message=problem.message + self._levels(problem, choices))
            for problem, choices in self.failing.values()
        ]

    def _levels(self, problem: Problem, failing: list[Choice]) -> str:
        if problem.path.startswith((ALTERNATIVES, WORST_OF)):
            return ""  # the path names the level
        right = [choice for _, choices in self.groups.values() for choice in choices]
        words = []
        for factor in self.factors:
            wrong = [level for level in factor.levels if _taken(factor, level.name, failing)]
            if any(_taken(factor, o.name, right) for o in factor.levels if o not in wrong):
                words.append(f"{factor.name}: {' or '.join(level.name for level in wrong)}")
        return f" (with {shorten(', '.join(words), most=120)})" if words else ""


def _taken(factor: Factor, level: str, choices: list[Choice]) -> bool:
    return any(choice[factor.name].name == level for choice in choices)


def resolve_all(base: Mapping, factors: tuple[Factor, ...], file: str) -> Resolved:
    """Every choice of levels. Of many choices the levels are first tried one by one, so that
    a mistake costs no more than a few.
    """
    number = math.prod(len(factor.levels) for factor in factors)
    if number > MOST_CHOICES or number * count_of(base) > MOST_VALUES:
        hint = "take levels out of 'alternatives' or 'worst of'"
        words = f"stands for {number if number < 10**9 else 'billions of'} wirings, too many to run"
        raise InputError.of(words, file=file, hint=hint)
    if number > FEW:
        trial = _resolve_each(base, factors, singly(factors), file)
        if trial.failing:
            return replace(trial, groups={})
    return _resolve_each(base, factors, combinations(factors), file)


def _resolve_each(
    base: Mapping, factors: tuple[Factor, ...], choices: Iterable[Choice], file: str
) -> Resolved:
    resolved = Resolved(factors)
    failed = 0
    for choice in choices:
        failed += not resolved.add(base, choice, file)
        if failed > FEW:
            break
    return resolved


def resolve(tree: Mapping, base: Mapping, file: str) -> Scenario:
    """The scenario, with every surge, of a tree that a choice of levels made of ``base``.

    Raises InputError.
    """
    found = check(Scenario, tree, file)
    wrong = unknown_references(tree)
    problems: list[Problem] = []
    if isinstance(found, Scenario):
        found = _with_cards(found)
        wrong = itertools.chain(wrong, complaints(found))
    else:
        problems = _explain_additions(_of_themselves(found, tree), base, tree)
    located = (problem_at(tree, file, *complaint) for complaint in wrong)
    problems = distinct(itertools.chain(problems, located))
    if problems or not isinstance(found, Scenario):
        raise InputError(problems)
    if not found.arresters:
        # An axis of arrester tolerance makes no difference where none is fitted.
        found = found.model_copy(
            update={"arrester_tolerance": "declared", "arrester_condition": None}
        )
    if not _has_spread(found):
        found = found.model_copy(update={"insulation_level": None})
    return found


def wrong_values(base: Mapping, file: str) -> list[Problem]:
    """Values of the file itself that cannot be read, though every choice of levels replaces them.

    The file without its levels may lack things or contradict itself; a single value that is none
    is wrong all the same.
    """
    try:
        found = check(Scenario, with_assumptions(with_levels(apply(base, {}, file))), file)
    except InputError:
        return []
    values = set(_spots(base))
    problems = [] if isinstance(found, Scenario) else found
    return [p for p in problems if p.message != MISSING and (p.line, p.column) in values]


def _spots(tree: Mapping) -> Iterator[tuple[int, int]]:
    """Line and column of every key that has a single value."""
    for name, entry in tree.entries.items():
        if isinstance(entry, Mapping):
            yield from _spots(entry)
        elif isinstance(entry, Scalar):
            yield tree.keys[name].line, tree.keys[name].column


def _has_spread(scenario: Scenario) -> bool:
    """Whether any insulation has low and high levels; without, their axis makes no difference."""
    pairs = (pair for thing in scenario.equipment.values() for pair in thing.pairs.values())
    return any(pair.flashover is not None and pair.flashover.spread > 0 for pair in pairs)


def _with_cards(scenario: Scenario) -> Scenario:
    """The scenario with the shipped cards it uses beside its own."""
    cards: dict[str, AnyCard] = dict(scenario.cards)
    shipped = built_in()
    for name in used_cards(scenario):
        if name not in cards and name in shipped:
            cards[name] = shipped[name]
    return scenario.model_copy(update={"cards": cards})


def used_cards(scenario: Scenario) -> Iterator[str]:
    """Names of the cards a scenario uses, each once."""
    used = [cable.type for cable in scenario.cables.values()]
    used += [
        laying.card
        for cable in scenario.cables.values()
        for laying in cable.laying or ()
        if laying.card is not None
    ]
    used += [bond.type for bond in scenario.bonds.values()]
    used += [slot.card for slot in scenario.arresters.values()]
    used += [name for slot in scenario.arresters.values() for name in _inside(scenario, slot.card)]
    used += [surge.card for surge in scenario.surges.values()]
    yield from dict.fromkeys(used)


def _inside(scenario: Scenario, name: str) -> tuple[str, ...]:
    """The cards of a device's elements."""
    card = scenario.cards.get(name) or built_in().get(name)
    return (*card.pole, *(card.earth or ())) if isinstance(card, ArresterDevice) else ()


def _of_themselves(problems: list[Problem], tree: Mapping) -> list[Problem]:
    """The problems that do not follow from a section's misspelt name."""
    misspelt = misspelt_sections(tree)
    varies = not misspelt.isdisjoint((ALTERNATIVES, WORST_OF))
    return [
        problem
        for problem in problems
        if problem.path.partition(".")[0] not in misspelt
        and not (varies and problem.message == MISSING)
    ]


def _explain_additions(problems: list[Problem], base: Mapping, tree: Mapping) -> list[Problem]:
    """Say of a thing that only a level names, and that lacks its parts, that it is not there.

    A level that changes ``array rod`` where the scenario has ``array rods`` would otherwise be
    told that its new earth lacks a place, a bar and an inductance.
    """
    by_thing: dict[tuple[str, ...], list[Problem]] = {}
    for problem in problems:
        by_thing.setdefault(_addition(problem, base, tree), []).append(problem)
    explained: list[Problem] = []
    for thing, faults in by_thing.items():
        if thing and all(fault.message == MISSING for fault in faults):
            known = base.entries.get(thing[0])
            hint = did_you_mean(thing[1], known.entries if isinstance(known, Mapping) else ())
            lacking = ", ".join(repr(fault.path.rpartition(".")[2]) for fault in faults)
            words = f"is not in the scenario, and as a new one lacks {lacking}"
            explained.append(problem_at(tree, faults[0].file, thing, words, hint))
        else:
            explained += faults
    return explained


def _addition(problem: Problem, base: Mapping, tree: Mapping) -> tuple[str, ...]:
    """Section and name of the thing a problem is about, if only a level names it; else nothing."""
    section, _, rest = problem.path.partition(".")
    there, now = base.entries.get(section), tree.entries.get(section)
    if isinstance(now, Mapping):
        name = next((n for n in now.entries if rest == n or rest.startswith(f"{n}.")), "")
        if name and not (isinstance(there, Mapping) and name in there.entries):
            return section, name
    return ()


def fingerprint(scenario: Scenario) -> str:
    """SHA-256 of a scenario's resolved form; equal scenarios have equal ones."""
    text = json.dumps(scenario.written(), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
