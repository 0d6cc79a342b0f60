"""Numerical errors from running a case again: the largest change among the variants.

The error of a value is the largest of its changes between the case as run and each variant,
each change weighted by what it tells of the exact value:

- *half the step* and *doubled line detail* count twice. What is off in the first power of the
  step, or of the length of a piece of line, is off by twice the change on halving; what is off
  in the square by 4/3 of it (Richardson's argument). A corner of a wave makes the first, a
  smooth crest the second; twice bounds both.
- *the other method* counts once: the two err in the same direction, by 1/12 and 2/9 of the
  same derivative, so that their difference of 5/36 is larger than the trapezoidal rule's error.

To this comes what the engine's table of a varistor may be off, which no variant changes.

Where a variant gives no result, the errors are no less than what was estimated and stay called
so. Where other insulation fires in one, both outcomes lie within the numerical error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from surgesim.findings.case import CaseFindings, Variant, with_numerical_errors
from surgesim.findings.numerical import (
    FIELDS,
    How,
    NumericalError,
    floors,
    in_percent,
    of_the_tables,
)
from surgesim.findings.terminals import TerminalFinding

HALF_STEP, OTHER_METHOD, LINE_DETAIL = "half the step", "the other method", "doubled line detail"

WEIGHTS: Mapping[str, float] = {HALF_STEP: 2.0, OTHER_METHOD: 1.0, LINE_DETAIL: 2.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """One variant of a case: its findings and what fired there, or why there are none."""

    name: str
    findings: CaseFindings | None = None
    fired: frozenset[str] = frozenset()
    reason: str = ""


def certified(
    found: CaseFindings, fired: frozenset[str], variants: Sequence[Again]
) -> CaseFindings:
    """The findings with the errors that the variants show; ``fired`` is what fired in the case."""
    whole = all(variant.findings is not None for variant in variants)
    how: How = "certified" if whole else "estimated"
    scales = floors(found.sections)
    errors = {
        section: [
            NumericalError(
                how=how,
                percent={
                    field: _largest(finding, field, (section, k), variants, scales, whole=whole)
                    for field in FIELDS[section]
                },
            )
            for k, finding in enumerate(findings)
        ]
        for section, findings in found.sections.items()
    }
    told = tuple(_told(found, fired, variant, scales) for variant in variants)
    measured = with_numerical_errors(found, errors)
    terminals = tuple(_with_outcomes(t, k, variants) for k, t in enumerate(measured.terminals))
    return replace(measured, certification=told, terminals=terminals)


def _largest(
    finding: Any,
    field: str,
    at: tuple[str, int],
    variants: Sequence[Again],
    scales: Mapping[str, float],
    *,
    whole: bool,
) -> float | None:
    """The error of one value; None for none, or where a variant has no such value."""
    value = getattr(finding, field)
    if value is None:
        return None
    known = [variant for variant in variants if variant.findings is not None]
    changes = [_change(finding, field, at, variant, scales) for variant in known]
    if any(change is None for change in changes):
        return None
    before = 0.0 if whole else finding.numerical_error.percent[field] or 0.0
    largest = max((change for change in changes if change is not None), default=0.0)
    return max(before, largest + of_the_tables(value, field, scales))


def _change(
    finding: Any, field: str, at: tuple[str, int], variant: Again, scales: Mapping[str, float]
) -> float | None:
    assert variant.findings is not None
    section, k = at
    mine, other = getattr(finding, field), getattr(variant.findings.sections[section][k], field)
    if mine is None or other is None:
        return None
    # by size: where both signs swing equally far, either may be the crest
    weighted = WEIGHTS[variant.name] * abs(abs(other) - abs(mine))
    return in_percent(weighted, mine, field, scales)


def _told(
    found: CaseFindings, fired: frozenset[str], variant: Again, scales: Mapping[str, float]
) -> Variant:
    if variant.findings is None:
        return Variant(
            name=variant.name,
            outcome="no result",
            largest_percent=None,
            where="",
            reason=variant.reason,
        )
    changes = list(_changes(found, variant, scales))
    percent, where = max(changes, default=(0.0, ""))
    differ = [
        *(f"{name} flashes over only there" for name in sorted(variant.fired - fired)),
        *(f"{name} does not flash over there" for name in sorted(fired - variant.fired)),
    ]
    return Variant(
        name=variant.name,
        outcome="turned" if differ else "compared",
        largest_percent=percent,
        where=where,
        reason="; ".join(differ),
    )


def _changes(
    found: CaseFindings, variant: Again, scales: Mapping[str, float]
) -> Iterator[tuple[float, str]]:
    for section, findings in found.sections.items():
        for k, finding in enumerate(findings):
            for field in FIELDS[section]:
                change = _change(finding, field, (section, k), variant, scales)
                if change is not None:
                    yield change, f"{named(finding)}: {field}"


def named(finding: Any) -> str:
    """A terminal pair, an arrester's element or an earth by its name."""
    if isinstance(finding, TerminalFinding):
        return f"{finding.equipment}, {finding.pair}"
    element = getattr(finding, "element", None)
    return f"{finding.name}, {element}" if element else str(finding.name)


def _with_outcomes(finding: TerminalFinding, k: int, variants: Sequence[Again]) -> TerminalFinding:
    """Add the verdicts that the variants themselves came to."""
    theirs = [v.findings.terminals[k].verdict for v in variants if v.findings is not None]
    open_to = dict.fromkeys([*finding.could_be, *theirs])
    return replace(finding, could_be=tuple(v for v in open_to if v != finding.verdict))
