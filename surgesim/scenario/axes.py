"""Axes of a sweep: which values of a file vary, and over which levels.

An axis lays one text after the other over one value of the file, or over several at once where
they belong together (``cables.run.length and cables.bond.length``). Its levels are listed, or
spread over a range::

    10 m, 20 m, 40 m
    10 m to 200 m in 20 values
    5 ohm to 500 ohm in 9 log values
    10 m to 200 m                       from which to sample
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from collections.abc import Mapping as Named
from dataclasses import dataclass

from surgesim.errors import InputError, Problem
from surgesim.reading.names import did_you_mean
from surgesim.reading.schema import problem_at
from surgesim.reading.tree import Listing, Mapping, Scalar, Spot, Tree, shorten, with_entry

SWEEP = "sweep"

MOST_LEVELS = 100_000
DIGITS = 6
"""Significant digits of the values between the ends of a range."""

EXAMPLE = "for example '10 m to 200 m in 20 values' or '10 m, 20 m, 40 m'"

_NUMBER = r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(\D.*|)", re.ASCII)
_RANGE = re.compile(r"(.+?)\s+to\s+(.+?)(?:\s+in\s+(\S+)\s+(log\s+)?values?)?(?:\s+(log))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """``name`` is as written, ``paths`` the values of the file it sets, each as its steps.

    ``levels`` are the texts laid over them, in order; of a range without a number of values they
    are its two ends, and ``spread`` is how values between them are drawn (``even`` or ``log``).
    ``unit`` is what all levels are written in, None where they are not all numbers.
    """

    name: str
    paths: tuple[tuple[str, ...], ...]
    levels: tuple[str, ...]
    unit: str | None
    spread: str | None = None

    @property
    def numbers(self) -> tuple[float, ...]:
        """The levels as numbers of ``unit``. Raises ValueError where they are none."""
        return tuple(number_of(level) for level in self.levels)

    def between(self, share: float) -> str:
        """The text at ``share``, 0 to 1, of the way from a range's low to its high end."""
        low, high = self.numbers
        return _text(_between(low, high, share, log=self.spread == "log"), self.unit or "")


def number_of(text: str) -> float:
    """The number that a level begins with."""
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError(f"expected a number and a unit but got {text!r}")
    return float(match[1])


def axis(name: str, words: str | Iterable[str]) -> Axis:
    """An axis from its name and its levels: a list of them, or a text that gives them.

    Raises ValueError saying what is wrong.
    """
    paths = tuple(tuple(path.strip().split(".")) for path in name.split(" and "))
    if not all(step for path in paths for step in path):
        raise ValueError("expected a path such as 'cables.field run.length'")
    if isinstance(words, str):
        ranged = _RANGE.fullmatch(words.strip())
        if ranged is not None:
            return _ranged(name, paths, ranged)
        words = words.split(",")
    levels = tuple(" ".join(word.split()) for word in words)
    if not levels or not all(levels):
        raise ValueError(f"has no values; {EXAMPLE}")
    if len(set(levels)) != len(levels):
        twice = next(level for level in levels if levels.count(level) > 1)
        raise ValueError(f"names the value {shorten(twice)!r} twice")
    return Axis(name=name, paths=paths, levels=levels, unit=_unit_of(levels))


def _unit_of(levels: Iterable[str]) -> str | None:
    """What all levels are written in, None where they differ or are no numbers."""
    found = [_QUANTITY.fullmatch(level) for level in levels]
    units = {match[2] for match in found if match is not None}
    return units.pop() if len(units) == 1 and all(found) else None


def _ranged(name: str, paths: tuple[tuple[str, ...], ...], words: re.Match[str]) -> Axis:
    low, high, count, log, log_alone = words.groups()
    ends = [_QUANTITY.fullmatch(end) for end in (low, high)]
    first, last = ends
    if first is None or last is None:
        raise ValueError(f"{shorten(words[0])!r} is no range; {EXAMPLE}")
    unit = first[2] or last[2]
    if last[2] != unit or first[2] not in ("", unit):
        raise ValueError(f"{shorten(words[0])!r} begins and ends in different units")
    start, stop = float(first[1]), float(last[1])
    if not start < stop:
        raise ValueError(f"{shorten(words[0])!r} does not rise; {EXAMPLE}")
    spread = "log" if log or log_alone else "even"
    if spread == "log" and start <= 0.0:
        raise ValueError(f"{shorten(words[0])!r} is spread by ratio and must begin above zero")
    texts = (_text(start, unit), _text(stop, unit))
    if count is None:
        return Axis(name=name, paths=paths, levels=texts, unit=unit, spread=spread)
    levels = tuple(_levels(start, stop, _count(count), unit, log=spread == "log"))
    return Axis(name=name, paths=paths, levels=levels, unit=unit)


def _count(word: str) -> int:
    if not (word.isascii() and word.isdigit()) or not 2 <= int(word[:9]) <= MOST_LEVELS:
        raise ValueError(
            f"expected a number of values from 2 to {MOST_LEVELS} but got {shorten(word)!r}"
        )
    return int(word[:9])


def _levels(start: float, stop: float, count: int, unit: str, *, log: bool) -> Iterator[str]:
    for k in range(count):
        yield _text(_between(start, stop, k / (count - 1), log=log), unit)


def _between(start: float, stop: float, share: float, *, log: bool) -> float:
    if log:
        return math.exp((1.0 - share) * math.log(start) + share * math.log(stop))
    return (1.0 - share) * start + share * stop


def _text(value: float, unit: str) -> str:
    return f"{value:.{DIGITS}g} {unit}".strip()


def axes_of(tree: Mapping, file: str) -> tuple[Axis, ...]:
    """The axes below ``sweep:`` of a file, none where it has none.

    Raises InputError with everything that is wrong with them.
    """
    section = tree.entries.get(SWEEP)
    if section is None:
        return ()
    if not isinstance(section, Mapping) or not section.entries:
        raise InputError([problem_at(tree, file, (SWEEP,), "expected axes below it", _IN_FILE)])
    found: list[Axis] = []
    problems: list[Problem] = []
    for name, words in section.entries.items():
        try:
            found.append(axis(name, _words(words)))
        except ValueError as error:
            problems.append(problem_at(tree, file, (SWEEP, name), str(error), ""))
    if problems:
        raise InputError(problems)
    return tuple(found)


_IN_FILE = "for example 'sweep: {cables.field run.length: 10 m to 200 m in 20 values}'"


def _words(tree: Tree) -> str | list[str]:
    if isinstance(tree, Scalar):
        return tree.text
    if isinstance(tree, Listing) and all(isinstance(item, Scalar) for item in tree.items):
        return [item.text for item in tree.items if isinstance(item, Scalar)]
    raise ValueError(f"expected values; {EXAMPLE}")


def asked(pairs: Iterable[tuple[str, str]]) -> tuple[Axis, ...]:
    """Axes given as pairs of a name and words. Raises InputError saying what is wrong."""
    found, problems = [], []
    for name, words in pairs:
        try:
            found.append(axis(name, words))
        except ValueError as error:
            problems.append(Problem("--vary", 0, 0, shorten(name), str(error)))
    names = [one.name for one in found]
    problems += [
        Problem("--vary", 0, 0, shorten(name), "is varied twice")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    if problems:
        raise InputError(problems)
    return tuple(found)


def laid(tree: Mapping, axes: Iterable[Axis], levels: Named[str, str]) -> Mapping:
    """``tree`` with each axis's level laid over its paths.

    Raises InputError for a path that leads nowhere: what is to be varied stands in the file, or
    is a key that can stand there.
    """
    for one in axes:
        for path in one.paths:
            tree = set_value(tree, path, levels[one.name], shown=one.name, asked_by="sweep")
    return tree


def set_value(
    tree: Mapping, path: tuple[str, ...], text: str, *, shown: str, asked_by: str
) -> Mapping:
    """``tree`` with ``text`` at ``path``, whose parents must exist."""
    step = path[0]
    if len(path) == 1:
        entry = with_entry(tree, step, Scalar(text, NO_LINE))
        return Mapping(entry.entries, {**entry.keys, step: NO_LINE}, entry.spot)
    below = tree.entries.get(step)
    if not isinstance(below, Mapping):
        hint = did_you_mean(step, tree.entries)
        words = f"no {shorten(step)!r} in path {shorten(shown)!r}"
        raise InputError.of(words, file=asked_by, hint=hint)
    entry = set_value(below, path[1:], text, shown=shown, asked_by=asked_by)
    return with_entry(tree, step, entry)


NO_LINE = Spot(0, 0)
"""Where a value stands that is in no file."""
