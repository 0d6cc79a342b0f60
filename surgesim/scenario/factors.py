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
from surgesim.reading.names import collisions, complaint_about, did_you_mean, folded
from surgesim.reading.schema import problem_at
from surgesim.reading.tree import (
    Listing,
    Mapping,
    Scalar,
    Tree,
    first_of,
    overlay,
    shorten,
    shown_path,
    with_entry,
)
from surgesim.scenario.references import Complaint, card_kinds, misspelt_sections

ALTERNATIVES, WORST_OF, CLAIMS = "alternatives", "worst of", "claims"
REMOVED = "removed"


@dataclass(frozen=True, slots=True)
class Level:
    """One level of a factor: ``change`` is the overlay, the list of slots or the card.

    ``path`` is where it stands in the file.
    """

    name: str
    change: Tree
    path: tuple[str, ...]


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
            problems.append(problem_at(tree, file, (role,), "expected factors below it", _EXAMPLE))
            continue
        for name, levels in section.entries.items():
            factor = Factor(name, role, tuple(_levels((role, name), levels)))
            factors.append(factor)
            problems += [
                problem_at(tree, file, path, message, hint)
                for path, message, hint in _complaints(factor, levels)
            ]
    problems += [problem_at(tree, file, *complaint) for complaint in _clashes(factors)]
    if problems:
        raise InputError(first_of(problems, file))
    return tuple(factors)


_EXAMPLE = "for example 'fitted: {none: [], both: [array box, inverter]}'"
_PLAIN_KEYS = (
    "arrester tolerance",
    "arrester condition",
    "insulation level",
    "polarity",
    "asked margin",
)


def _levels(path: tuple[str, str], levels: Tree) -> Iterator[Level]:
    if isinstance(levels, Mapping):
        yield from (Level(key, change, (*path, key)) for key, change in levels.entries.items())
    elif isinstance(levels, Listing):
        for item in levels.items:
            if isinstance(item, Scalar):
                name, spot = path[1], item.spot
                yield Level(item.text, Mapping({name: item}, {name: spot}, spot), path)


def _complaints(factor: Factor, levels: Tree) -> Iterator[Complaint]:
    path = (factor.role, factor.name)
    if complaint := complaint_about(factor.name):
        yield path, f"{shorten(factor.name)!r} is no usable name: {complaint}", ""
    elif isinstance(levels, Listing):
        yield from _complaints_of_list(path, levels)
    elif not factor.levels:
        yield path, "expected named levels", "for example '{none: {}, in the duct: {…}}'"
    for level in factor.levels:
        yield from _complaints_of_level(level)
    names = [level.name for level in factor.levels]
    for first, second in collisions(names):
        yield (*path, second), f"differs from {first!r} only in lettering", "rename one"
    if len(set(names)) != len(names):
        yield path, "names a level twice", "take one out"


def _complaints_of_list(path: tuple[str, str], levels: Listing) -> Iterator[Complaint]:
    """What is wrong with ``polarity: [positive, negative]``, which sets the key it is named as."""
    if path[1] not in _PLAIN_KEYS:
        known = did_you_mean(path[1], _PLAIN_KEYS)
        words = f"a list sets the key {path[1]!r}, which a scenario does not have"
        yield path, words, known + "; other levels are overlays, '{wet: {…}, dry: {…}}'"
    elif not levels.items or not all(isinstance(item, Scalar) for item in levels.items):
        yield path, "expected a list of plain values", "such as [low, nominal, declared]"


def _complaints_of_level(level: Level) -> Iterator[Complaint]:
    change = level.change
    if complaint := complaint_about(level.name):
        yield level.path, f"{shorten(level.name)!r} is no usable name: {complaint}", ""
    elif isinstance(change, Scalar) and not change.text.strip():
        hint = "expected an overlay ({} for no change), a list of arrester slots or a card"
        yield level.path, "has no value", hint
    elif isinstance(change, Listing):
        if not all(isinstance(item, Scalar) for item in change.items):
            yield level.path, "expected a list of arrester slots", "such as [array box, inverter]"
    elif isinstance(change, Mapping):
        for key in (ALTERNATIVES, WORST_OF, CLAIMS):
            if key in change.entries:
                hint = "move it to the top of the file"
                yield (*level.path, key), "cannot stand inside a level", hint


def _clashes(factors: list[Factor]) -> Iterator[Complaint]:
    earlier: dict[str, Factor] = {}
    fitting: Factor | None = None
    for factor in factors:
        path = (factor.role, factor.name)
        first = earlier.setdefault(folded(factor.name), factor)
        if first is not factor and first.name == factor.name:
            words = f"stands under both {ALTERNATIVES!r} and {WORST_OF!r}"
            yield path, words, "keep one of the two"
            continue
        if first is not factor:
            yield path, f"differs from {first.name!r} only in lettering", "rename one"
        if any(isinstance(level.change, Listing) for level in factor.levels):
            if fitting is not None:
                words = f"fits arresters, which {fitting.name!r} does already"
                yield path, words, "make one factor of the two"
            fitting = fitting or factor


def combinations(factors: tuple[Factor, ...]) -> Iterator[Choice]:
    """Every choice of one level a factor, the last factor varying fastest."""
    for levels in itertools.product(*(factor.levels for factor in factors)):
        yield {factor.name: level for factor, level in zip(factors, levels, strict=True)}


def singly(factors: tuple[Factor, ...]) -> Iterator[Choice]:
    """The first level of every factor, then each other level alone beside the first ones."""
    first = {factor.name: factor.levels[0] for factor in factors}
    yield first
    for factor in factors:
        for level in factor.levels[1:]:
            yield {**first, factor.name: level}


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
    problems: list[Problem] = []
    for level in choice.values():
        if isinstance(level.change, Mapping):
            problems += _not_there(tree, level.change, file)
            laid = overlay(tree, level.change)
            tree = laid if isinstance(laid, Mapping) else tree
    tree = without_removed(tree)
    for level in choice.values():
        if isinstance(level.change, Scalar):
            problems += _slot_as_card(tree, level, level.change, file)
    for level in choice.values():
        if isinstance(level.change, Listing):
            problems += _no_slots(tree, level, file)
            tree = _fit(tree, level.change)
    if problems:
        raise InputError(problems)
    for level in choice.values():
        if isinstance(level.change, Scalar):
            tree = _use_card(tree, level.change)
    return tree


def _not_there(tree: Mapping, change: Mapping, file: str) -> Iterator[Problem]:
    """A problem for each thing that is to be removed and is not there."""
    for section, things in change.entries.items():
        there = tree.entries.get(section)
        known = there.entries if isinstance(there, Mapping) else {}
        for name, thing in things.entries.items() if isinstance(things, Mapping) else ():
            if isinstance(thing, Scalar) and thing.text == REMOVED and name not in known:
                words = f"there is none to be {REMOVED}"
                hint = did_you_mean(name, known)
                yield problem_at(change, file, (section, name), words, hint)


def without_removed(tree: Mapping) -> Mapping:
    """``tree`` without the named things whose level says ``removed``."""
    for section, things in tree.entries.items():
        if not isinstance(things, Mapping):
            continue
        gone = [n for n, t in things.entries.items() if isinstance(t, Scalar) and t.text == REMOVED]
        if gone:
            tree = with_entry(tree, section, _only(things, set(things.entries) - set(gone)))
    return tree


def _only(things: Mapping, names: set[str]) -> Mapping:
    entries = {name: thing for name, thing in things.entries.items() if name in names}
    return Mapping(entries, {name: things.keys[name] for name in entries}, things.spot)


def _slots(slots: Listing) -> list[Scalar]:
    return [item for item in slots.items if isinstance(item, Scalar)]


def _no_slots(tree: Mapping, level: Level, file: str) -> Iterator[Problem]:
    """A problem for each name in a list of slots that is no slot."""
    arresters = tree.entries.get("arresters")
    if arresters is None and "arresters" in misspelt_sections(tree):
        return  # reported as an unknown key
    known = arresters.entries if isinstance(arresters, Mapping) else {}
    for item in _slots(level.change) if isinstance(level.change, Listing) else ():
        if item.text not in known:
            words = f"no arrester slot {shorten(item.text)!r}"
            hint = did_you_mean(item.text, known) or "describe it under 'arresters'"
            path, spot = shown_path(level.path), item.spot
            yield Problem(file, spot.line, spot.column, path, words, hint)


def _slot_as_card(tree: Mapping, level: Level, card: Scalar, file: str) -> Iterator[Problem]:
    """A problem where a level says ``box`` and means ``[box]``."""
    arresters = tree.entries.get("arresters")
    slots = arresters.entries if isinstance(arresters, Mapping) else {}
    if card.text in slots and card.text not in card_kinds(tree):
        words = f"{shorten(card.text)!r} is an arrester slot, not a card"
        path, spot = shown_path(level.path), card.spot
        hint = f"to fit it alone write [{shorten(card.text)}]"
        yield Problem(file, spot.line, spot.column, path, words, hint)


def _fit(tree: Mapping, slots: Listing) -> Mapping:
    arresters = tree.entries.get("arresters")
    if not isinstance(arresters, Mapping):
        return tree
    return with_entry(tree, "arresters", _only(arresters, {item.text for item in _slots(slots)}))


def _use_card(tree: Mapping, card: Scalar) -> Mapping:
    arresters = tree.entries.get("arresters")
    if not isinstance(arresters, Mapping):
        return tree
    slots = {
        name: overlay(slot, Mapping({"card": card}, {"card": card.spot}, card.spot))
        if isinstance(slot, Mapping)
        else slot
        for name, slot in arresters.entries.items()
    }
    return with_entry(tree, "arresters", Mapping(slots, arresters.keys, arresters.spot))
