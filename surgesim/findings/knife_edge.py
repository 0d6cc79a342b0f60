"""Insulation at the edge of firing, as far as one run tells.

Where insulation only just fires, or only just does not, two answers are both legitimate: a
level, a cable's length or a solver's step that is off by a hair brings the other. Nothing here
runs anything; it is said where that is to be suspected, for it to be examined.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from surgesim.findings.record import Record
from surgesim.findings.terminals import TerminalFinding
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation, SparkGap

EDGE = 0.01
"""How near to its level, as a share of it, insulation is at the edge of firing.

Two solvers that share nothing agree on a voltage within one percent, so that nearer than this
either answer is theirs to give. Levels themselves are known far less closely: the same gap
sparks over within some three percent from one impulse to the next (IEC 60060-1, from memory).
"""

SUSPECTED = "knife-edge suspected: "
"""How a case's note on it begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """Insulation that may as well have done otherwise.

    ``unfired`` is None, or the element that came within :data:`EDGE` of its level; ``together``
    is empty, or the two elements that fired within one lag of each other, in that order.
    """

    words: str
    unfired: str | None = None
    together: tuple[str, ...] = ()


def suspects(network: Network, terminals: Sequence[TerminalFinding]) -> Iterator[Suspect]:
    """Every suspicion that one run of a network gives; ``terminals`` in the network's order."""
    elements = {e.name: e for e in network.elements if isinstance(e, Insulation)}
    found = [
        (finding, elements[probe.insulation])
        for probe, finding in zip(network.terminals, terminals, strict=True)
        if probe.insulation is not None
    ]
    for finding, element in found:
        if finding.peak_v is not None and abs(finding.peak_v) >= (1.0 - EDGE) * element.level:
            yield _unfired(finding, element)
    in_order = sorted((pair for pair in found if _moment(pair[0]) is not None), key=_when)
    for (first, one), (second, other) in combinations(in_order, 2):
        apart = _when((second, other)) - _when((first, one))
        if apart <= max(one.lag, other.lag) and {one.a, one.b} & {other.a, other.b}:
            yield _together(first, second, one, other, apart)


FAR_ON = 0.85
"""How far a discharge came, as a share of the z at which a gap counts as fired, from which on it
was at the edge of firing. One percent of its level then moves that by some 15 %."""

PAST_CREST = 0.7
"""Share of its crest to which the voltage had fallen when a gap fired after all, below which it
only just did."""


def gap_suspects(network: Network, record: Record) -> Iterator[Suspect]:
    """Spark gaps that may as well have fired, or not."""
    names = {probe.gap: f"{probe.slot}, {probe.element}" for probe in network.arresters}
    for gap in network.elements:
        if not isinstance(gap, SparkGap):
            continue
        grown, volts = record.at(f"{gap.name}/state"), np.abs(record.across(gap.a, gap.b))
        furthest = float(np.max(grown)) / gap.law.lit
        if FAR_ON <= furthest <= 1.0:
            words = f"did not fire and came {100.0 * furthest:.0f} % of the way"
            yield Suspect(words=f"{names.get(gap.name, gap.name)} {words}")
        elif furthest > 1.0:
            first = int(np.argmax(grown > gap.law.lit))
            left = float(volts[first] / np.max(volts[: first + 1]))
            if left < PAST_CREST:
                yield Suspect(
                    words=f"{names.get(gap.name, gap.name)} fired only when its voltage was down to"
                    f" {100.0 * left:.0f} % of its crest"
                )


def _unfired(finding: TerminalFinding, element: Insulation) -> Suspect:
    share = abs(finding.peak_v or 0.0) / element.level
    words = f"{_name(finding)} did not fire and came to {100.0 * share:.2f} % of its level"
    return Suspect(words=words, unfired=element.name)


def _together(
    first: TerminalFinding,
    second: TerminalFinding,
    one: Insulation,
    other: Insulation,
    apart: float,
) -> Suspect:
    words = (
        f"{_name(first)} and {_name(second)} fired {1e9 * apart:.2g} ns apart, within the"
        f" {1e9 * max(one.lag, other.lag):.2g} ns of a collapse; either may relieve the other"
    )
    return Suspect(words=words, together=(one.name, other.name))


def _name(finding: TerminalFinding) -> str:
    return f"{finding.equipment}, {finding.pair}"


def _moment(finding: TerminalFinding) -> float | None:
    return finding.insulation.fired_at_s if finding.insulation else None


def _when(pair: tuple[TerminalFinding, Insulation]) -> float:
    at = _moment(pair[0])
    assert at is not None
    return at
