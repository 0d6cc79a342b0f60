"""Claims: margins the author asserts, held against what was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from surgesim.findings.plain import plain
from surgesim.studies.alternatives import covers
from surgesim.studies.info import ClaimInfo, Failure
from surgesim.studies.worst import Record, readings, terminal_badness


def was_run(claim: ClaimInfo, cases: Sequence[Record], failures: Sequence[Failure]) -> bool:
    """Whether any case the claim speaks of was run at all, with or without a result."""
    axes = [case["axes"] for case in cases] + [failure.case.axes for failure in failures]
    return any(covers(case, claim.axes) for case in axes)


def check_claim(
    claim: ClaimInfo, cases: Sequence[Record], failures: Sequence[Failure]
) -> dict[str, Any]:
    """The claim with the margin of its worst case.

    Met only if that margin is reached on something that has not failed, in every case the
    claim speaks of: one without a result could have been the worst.
    """
    records = [
        {**terminal, "case": case["id"]}
        for case in cases
        if covers(case["axes"], claim.axes)
        for terminal in readings(case, "terminals")
        if (terminal["equipment"], terminal["pair"]) == (claim.equipment, claim.pair)
    ]
    worst = max(records, key=terminal_badness, default=None)
    complete = not any(covers(failure.case.axes, claim.axes) for failure in failures)
    reached = worst is not None and _reached(worst, claim.asked_percent)
    return {
        **plain(claim),
        "found_percent": worst["margin_percent"] if worst else None,
        "met": complete and reached,
        "verdict": worst["verdict"] if worst else "not assessed",
        "case": worst["case"] if worst else None,
    }


def _reached(terminal: Record, asked: float) -> bool:
    if terminal["verdict"] in ("exceeded", "void"):
        return False
    margin = terminal["margin_percent"]
    # no margin without a failure: the pair saw no voltage at all
    return margin is None or margin >= asked
