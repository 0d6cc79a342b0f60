"""What the second solver made of a study: one line, and each case that is a knife-edge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType

from surgesim.report.blocks import bullet, heading, paragraph
from surgesim.report.view import join_words
from surgesim.studies.crosscheck_tally import is_knife_edge, tally
from surgesim.studies.record_compare import in_words

Record = Mapping[str, Any]

_MOST_LISTED = 8


def section(findings: Record) -> Iterator[RenderableType]:
    """The section of a report; nothing where no case was cross-checked."""
    counted = tally(findings["cases"])
    if counted is None:
        return
    yield heading("Cross-check")
    yield paragraph(line(counted))
    edges = [case for case in findings["cases"] if is_knife_edge(case)]
    for case in edges[:_MOST_LISTED]:
        yield bullet(_outcomes(case), lead=case["id"])
    if len(edges) > _MOST_LISTED:
        yield bullet(f"{len(edges) - _MOST_LISTED} more, in the JSON")


def line(counted: Record) -> str:
    """How many cases both solvers have run, how they fared, the largest difference and where."""
    number, edges = counted["cases"], len(counted["knife_edge"])
    cases = "case was" if number == 1 else "cases were"
    text = f"{number} {cases} run by ngspice and by a second solver: {counted['agreed']} agreed"
    if edges:
        text += f", {edges} {'is' if edges == 1 else 'are'} knife-edge"
    text += "." + _largest(counted)
    if edges:
        text += (
            " Knife-edge: insulation so near to firing that either outcome is legitimate; the worse"
            " one counts at each terminal."
        )
    return text


def _largest(counted: Record) -> str:
    largest = counted["largest"]
    if largest is None or largest["difference_percent"] is None:
        return ""
    return (
        f" Of {counted['numbers']:,} numbers compared the furthest apart is"
        f" {in_words(largest['what'])}, by {abs(largest['difference_percent']):.2g} %"
        f" ({largest['case']})."
    )


def _outcomes(case: Record) -> str:
    """Which insulation fires in each outcome, and what it takes to come to the others."""
    found = case["crosscheck"]
    told = [f"ngspice has {_fires(found['fires'])}"]
    for other in found["others"]:
        moved = other["moved_percent"]
        how = f" with {_moved(moved)}" if moved else ""
        told.append(f"the second solver{how} has {_fires(other['fires'])}")
    if found["moved_percent"]:
        told.append(f"with {_moved(found['moved_percent'])} it has what ngspice has")
    return f"{'; '.join(told)}."


def _fires(names: Sequence[str]) -> str:
    if not names:
        return "no insulation firing"
    return f"{join_words(names, 'and')} firing"


def _moved(moved: Mapping[str, float]) -> str:
    return join_words(
        [f"the level of {name} {percent:+.2g} %" for name, percent in moved.items()], "and"
    )
