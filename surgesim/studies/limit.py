"""How far a value may go: where along a range each alternative keeps a condition.

Margins need not fall steadily along a cable or a lead: lines ring. So the range is scanned first,
and every change between two neighbouring values is closed in on by halving; an alternative may
keep the condition on several stretches. What changes twice between two scanned values is not
seen: that is said, and a finer scan looks closer.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from surgesim.reading.tree import Mapping as Tree
from surgesim.scenario.axes import Axis, laid, number_of
from surgesim.scenario.file import read
from surgesim.studies.conditions import Condition
from surgesim.studies.run import TIMEOUT
from surgesim.studies.study import Chosen, study
from surgesim.studies.worst import terminal_badness

Choice = tuple[tuple[str, str | None], ...]
Watch = Callable[[str], None]
"""Called with what is about to be run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """One alternative at one value: ``kept`` is None where a case had no result.

    ``worst`` is the terminal record that breaks the condition most, or the worst of those that
    keep it.
    """

    text: str
    value: float
    kept: bool | None
    worst: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch on which the condition is kept, from one probe to another; ``below`` and ``above``
    are the nearest probes outside it, None at an end of the range."""

    first: Probe
    last: Probe
    below: Probe | None
    above: Probe | None


@dataclass(slots=True, kw_only=True)
class Limit:
    """One alternative along the range: its ``choice`` and what was seen of it, by value."""

    choice: Choice
    probes: dict[float, Probe] = field(default_factory=dict)

    @property
    def ordered(self) -> list[Probe]:
        """What was seen, by value."""
        return [self.probes[value] for value in sorted(self.probes)]

    @property
    def unknown(self) -> int:
        """At how many values a case had no result."""
        return sum(probe.kept is None for probe in self.probes.values())

    @property
    def stretches(self) -> list[Stretch]:
        """Where the condition is kept."""
        probes = self.ordered
        found = []
        start: int | None = None
        for k, probe in enumerate([*probes, None]):
            if probe is not None and probe.kept:
                start = k if start is None else start
            elif start is not None:
                found.append(
                    Stretch(
                        first=probes[start], last=probes[k - 1],
                        below=probes[start - 1] if start else None, above=probe,
                    )
                )  # fmt: skip
                start = None
        return found

    def changes(self) -> Iterator[tuple[Probe, Probe]]:
        """Neighbours of which one keeps the condition and the other does not."""
        probes = self.ordered
        for one, other in itertools.pairwise(probes):
            if None not in (one.kept, other.kept) and one.kept != other.kept:
                yield one, other


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What is looked for: ``along`` which axis, a range, ``condition`` is kept.

    ``scan`` values are run first; changes are closed in on until two neighbours are less than
    ``within`` apart, a share of the larger one, or of the whole range around zero.
    """

    tree: Tree
    file: str
    along: Axis
    condition: Condition
    chosen: Chosen = field(default_factory=dict)
    scan: int = 9
    within: float = 0.02

    def limits(
        self, *, workers: int | None = None, timeout: float = TIMEOUT, watch: Watch | None = None
    ) -> list[Limit]:
        """Every alternative's limits. Raises InputError for a value the file cannot have."""
        found: dict[Choice, Limit] = {}

        def look(text: str, chosen: Chosen, wanted: Choice | None) -> None:
            if watch is not None:
                watch(f"{self.along.name} {text}")
            for choice, probe in self._probes(text, chosen, workers, timeout):
                if wanted in (None, choice):
                    limit = found.setdefault(choice, Limit(choice=choice))
                    limit.probes[probe.value] = probe

        for k in range(self.scan):
            look(self.along.between(k / (self.scan - 1)), self.chosen, None)
        for choice, limit in list(found.items()):
            while (text := self._next(limit)) is not None:
                look(text, _narrowed(self.chosen, choice), choice)
        return list(found.values())

    def _probes(
        self, text: str, chosen: Chosen, workers: int | None, timeout: float
    ) -> Iterator[tuple[Choice, Probe]]:
        tree = laid(self.tree, [self.along], {self.along.name: text})
        findings = study(read(tree, self.file), chosen=chosen, workers=workers, timeout=timeout)
        for entry in findings["summary"]:
            broken = self.condition.broken_by(entry["terminals"]) if entry["terminals"] else []
            kept: bool | None = not broken
            if entry["failed_cases"] and not broken:
                kept = None
            worst = max(broken or entry["terminals"], key=terminal_badness, default=None)
            probe = Probe(text=text, value=number_of(text), kept=kept, worst=worst)
            yield tuple(entry["axes"].items()), probe

    def _next(self, limit: Limit) -> str | None:
        """A value between two neighbours that differ and are too far apart, None without any."""
        low, high = self.along.numbers
        for one, other in limit.changes():
            size = max(abs(one.value), abs(other.value), 1e-3 * (high - low))
            if other.value - one.value > self.within * size:
                return self._middle(one.value, other.value)
        return None

    def _middle(self, first: float, last: float) -> str:
        value = (first * last) ** 0.5 if self.along.spread == "log" else 0.5 * (first + last)
        return f"{value:.4g} {self.along.unit or ''}".strip()


def _narrowed(chosen: Chosen, choice: Choice) -> Chosen:
    """Only the levels of one alternative."""
    own = {name: [level] for name, level in choice if level is not None}
    return {**chosen, **own}
