"""Factors: everything that varies, by one mechanism.

A factor has named levels. A level is an overlay on the file's tree; two short forms save
writing one out: a list of arrester slots (fit these, take out the others) and the name of a
card (fit it in every slot). A factor written as a plain list sets the key of its own name.
Overlays are laid on before anything is validated, so a level may change or add anything.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.errors import InputError, Problem
from surgesim.reading.names import collisions, complaint_about, did_you_mean
from surgesim.reading.schema import problem_at
from surgesim.reading.tree import Listing, Mapping, Scalar, Tree, overlay, shorten
from surgesim.scenario.assumptions import put

ALTERNATIVES, WORST_OF = "alternatives", "worst of"
REMOVED = "removed"
MOST_CASES = 20_000


@dataclass(frozen=True, slots=True)
class Level:
    """One level of a factor: ``change`` is the overlay, the list of slots or the card."""

    name: str
    change: Tree


@dataclass(frozen=True, slots=True)
class Factor:
    """A named factor and its levels in file order. ``role`` is one of the two section names."""

    name: str
    role: str
    levels: tuple[Level, ...]


Choice = dict[str, Level]


def read_factors(tree: Mapping, file: str) -> tuple[Factor, ...]:
    """The factors of a file. Raises InputError with every problem they have."""
    problems: list[Problem] = []
    factors: list[Factor] = []
    for role in (ALTERNATIVES, WORST_OF):
        section = tree.entries.get(role)
        if section is None:
            continue
        if not isinstance(section, Mapping) or not section.entries:
            hint = "for example 'fitted: {none: [], both: [array box, inverter]}'"
            problems.append(problem_at(tree, file, (role,), "expected factors below it", hint))
            continue
        for name, levels in section.entries.items():
            read = _factor(tree, file, role, name, levels)
            if isinstance(read, Factor):
                factors.append(read)
            else:
                problems.extend(read)
    problems.extend(_clashes(factors, tree, file))
    if problems:
        raise InputError(problems)
    return tuple(factors)


def _factor(tree: Mapping, file: str, role: str, name: str, levels: Tree) -> Factor | list[Problem]:
    def problem(message: str, hint: str = "", *below: str) -> Problem:
        return problem_at(tree, file, (role, name, *below), message, hint)

    if complaint := complaint_about(name):
        return [problem(f"{shorten(name)!r} is no usable name: {complaint}")]
    found = [*_levels(name, levels)]
    if not found:
        return [problem("expected named levels", "for example '{none: {}, in the duct: {…}}'")]
    complaints = [
        problem(f"{shorten(level.name)!r} is no usable name: {words}", "", level.name)
        for level in found
        if (words := complaint_about(level.name))
    ]
    complaints += [
        problem(f"levels {first!r} and {second!r} differ only in lettering", "", second)
        for first, second in collisions(level.name for level in found)
    ]
    complaints += [
        problem("is empty", "expected an overlay, a list of arrester slots or a card", level.name)
        for level in found
        if isinstance(level.change, Scalar) and not level.change.text.strip()
    ]
    return complaints or Factor(name, role, tuple(found))


def _levels(name: str, levels: Tree) -> Iterator[Level]:
    if isinstance(levels, Mapping):
        yield from (Level(key, change) for key, change in levels.entries.items())
    elif isinstance(levels, Listing):
        for item in levels.items:
            if isinstance(item, Scalar):
                spot = item.spot
                yield Level(item.text, Mapping({name: item}, {name: spot}, spot))


def _clashes(factors: list[Factor], tree: Mapping, file: str) -> Iterator[Problem]:
    for first, second in collisions(f"{factor.name}" for factor in factors):
        yield problem_at(tree, file, (), f"factors {first!r} and {second!r} have the same name")
    names = [factor.name for factor in factors]
    for factor in factors:
        if names.count(factor.name) > 1 and factor.role == WORST_OF:
            words = "stands under both 'alternatives' and 'worst of'"
            yield problem_at(tree, file, (factor.role, factor.name), words)


def combinations(factors: tuple[Factor, ...]) -> Iterator[Choice]:
    """Every choice of one level a factor, the last factor varying fastest."""
    for levels in itertools.product(*(factor.levels for factor in factors)):
        yield {factor.name: level for factor, level in zip(factors, levels, strict=True)}


def narrowed(factors: tuple[Factor, ...], chosen: dict[str, list[str]]) -> tuple[Factor, ...]:
    """Only the chosen levels of each factor. Raises InputError for a name that is not there."""
    names = [factor.name for factor in factors]
    for name in chosen:
        if name not in names:
            raise InputError.of(f"no factor {name!r}", hint=did_you_mean(name, names))
    kept = []
    for factor in factors:
        wanted = chosen.get(factor.name, [level.name for level in factor.levels])
        known = {level.name: level for level in factor.levels}
        for level in wanted:
            if level not in known:
                hint = did_you_mean(level, known)
                raise InputError.of(f"factor {factor.name!r} has no level {level!r}", hint=hint)
        kept.append(Factor(factor.name, factor.role, tuple(known[n] for n in known if n in wanted)))
    return tuple(kept)


def apply(base: Mapping, choice: Choice, file: str) -> Mapping:
    """``base`` with the chosen levels laid over it: overlays first, then slots, then cards."""
    tree = base
    for level in choice.values():
        if isinstance(level.change, Mapping):
            laid = overlay(tree, level.change)
            tree = laid if isinstance(laid, Mapping) else tree
    tree = without_removed(tree, file)
    for factor, level in choice.items():
        if isinstance(level.change, Listing):
            tree = _fit(tree, level.change, file, (factor, level.name))
    for level in choice.values():
        if isinstance(level.change, Scalar):
            tree = _use_card(tree, level.change)
    return tree


def without_removed(tree: Mapping, file: str) -> Mapping:
    """``tree`` without the named things whose level says ``removed``."""
    for section, things in tree.entries.items():
        if not isinstance(things, Mapping):
            continue
        gone = [n for n, t in things.entries.items() if isinstance(t, Scalar) and t.text == REMOVED]
        if gone:
            tree = put(tree, (section,), _only(things, set(things.entries) - set(gone)))
    return tree


def _only(things: Mapping, names: set[str]) -> Mapping:
    entries = {name: thing for name, thing in things.entries.items() if name in names}
    return Mapping(entries, {name: things.keys[name] for name in entries}, things.spot)


def _fit(tree: Mapping, slots: Listing, file: str, where: tuple[str, str]) -> Mapping:
    arresters = tree.entries.get("arresters")
    known = arresters.entries if isinstance(arresters, Mapping) else {}
    wanted = []
    for item in slots.items:
        text = item.text if isinstance(item, Scalar) else ""
        if text not in known:
            path = ".".join((ALTERNATIVES, *where))
            words = f"no arrester slot {shorten(text)!r}"
            spot = item.spot
            raise InputError(
                [Problem(file, spot.line, spot.column, path, words, did_you_mean(text, known))]
            )
        wanted.append(text)
    if not isinstance(arresters, Mapping):
        return tree
    return put(tree, ("arresters",), _only(arresters, set(wanted)))


def _use_card(tree: Mapping, card: Scalar) -> Mapping:
    arresters = tree.entries.get("arresters")
    if isinstance(arresters, Mapping):
        for name, slot in arresters.entries.items():
            if isinstance(slot, Mapping):
                tree = put(tree, ("arresters", name, "card"), card)
    return tree
