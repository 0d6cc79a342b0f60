"""All claims, in the order in which they are printed."""

from __future__ import annotations

from tests.verification import circuits, earths, gaps, generators, sharing, station, wiring
from tests.verification.circuits import Claim


def claims() -> list[Claim]:
    """Every claim about a circuit."""
    groups = (circuits, earths, generators, sharing, wiring, gaps, station)
    return [claim for group in groups for claim in group.claims()]
