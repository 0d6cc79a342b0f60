"""What a number stands on: everything in its case that has failed, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from surgesim.findings.arresters import CONTINUOUS, FOLLOW, IN_SERIES, ArresterFinding
from surgesim.findings.insulation import Flashover
from surgesim.findings.words import moment

_OVERSTEPPED = {
    "peak": "peak current {} x rating",
    "charge": "charge {} x rating",
    "specific_energy": "specific energy {} x rating",
    IN_SERIES: "specific energy {} x what its fuse or breaker carries",
    CONTINUOUS: "standing voltage {} x continuous voltage",
    FOLLOW: "does not go out, its follow current {} x the least that keeps an arc",
}


def conditions(
    flashovers: Mapping[str, Flashover],
    arresters: Iterable[ArresterFinding],
    *,
    own: str | None = None,
) -> tuple[str, ...]:
    """The case's failures as ``name, part: what happened``, flashovers first in their order.

    ``own`` is the pair's own insulation, whose flashover is not a condition but a result.
    """
    others = [flashover for name, flashover in flashovers.items() if name != own]
    fired = [
        f"{flashover.label}: flashed over at {moment(flashover.at)}"
        for flashover in sorted(others, key=lambda flashover: flashover.at)
    ]
    beyond = [_beyond(arrester) for arrester in arresters if arrester.verdict == "exceeded"]
    return (*fired, *beyond)


def _beyond(arrester: ArresterFinding) -> str:
    assert arrester.rated_by is not None
    assert arrester.share_of_rating is not None
    words = _OVERSTEPPED[arrester.rated_by].format(_times(arrester.share_of_rating))
    return f"{arrester.name}, {arrester.element}: {words}"


def _times(share: float) -> str:
    """Two digits, or as many as it takes not to read as the rating itself."""
    for digits in range(2, 16):
        if float(text := f"{share:.{digits}g}") > 1.0:
            return text
    return f"{share!r}"
