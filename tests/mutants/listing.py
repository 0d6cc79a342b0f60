"""The list of mutants, read from ``mutants.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

LIST = Path(__file__).with_name("mutants.toml")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One line of the code made wrong.

    ``old`` is the part of a line of ``file`` that becomes ``new``; ``why`` is what a user would
    then be told. ``tests`` are what has to notice, as pytest takes them.
    """

    part: str
    name: str
    why: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]

    def applied(self, source: str) -> str:
        """The source of ``file`` with the mutant in it. ValueError where it no longer fits."""
        found = source.count(self.old)
        if found != 1:
            raise ValueError(
                f"mutant {self.name!r} needs renewing: {self.file} holds {self.old!r}"
                f" {found} times, not once; see tests/mutants/mutants.toml"
            )
        return source.replace(self.old, self.new)


def mutants() -> tuple[Mutant, ...]:
    """Every mutant of the list, in its order."""
    parts = tomllib.loads(LIST.read_text(encoding="utf-8"))
    return tuple(
        Mutant(part=part, **{**entry, "tests": tuple(entry["tests"])})
        for part, entries in parts.items()
        for entry in entries
    )
