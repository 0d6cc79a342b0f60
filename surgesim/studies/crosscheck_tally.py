"""What the cross-checks of a study come to, from its cases alone."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from surgesim.studies.worst import Record

AGREED, KNIFE_EDGE = "agreed", "knife-edge"


def tally(cases: Iterable[Record]) -> dict[str, Any] | None:
    """How many cases both solvers have run, how they fared, the largest difference and where.

    None where no case was cross-checked. Cases on which the solvers disagree have no result and
    are not among ``cases``.
    """
    checked = [(case["id"], case["crosscheck"]) for case in cases if case.get("crosscheck")]
    if not checked:
        return None
    largest = [
        {**found["largest"], "case": case_id} for case_id, found in checked if found["largest"]
    ]
    return {
        "cases": len(checked),
        "agreed": sum(found["status"] == AGREED for _, found in checked),
        "knife_edge": [case_id for case_id, found in checked if found["status"] == KNIFE_EDGE],
        "numbers": sum(found["compared"] for _, found in checked),
        "largest": max(largest, key=_size, default=None),
    }


def is_knife_edge(case: Record) -> bool:
    """Whether two outcomes of a case are legitimate."""
    return bool(case.get("crosscheck")) and case["crosscheck"]["status"] == KNIFE_EDGE


def _size(number: Record) -> float:
    return abs(float(number["difference_percent"] or 0.0))
