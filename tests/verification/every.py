"""All claims, in the order in which they are printed."""

from __future__ import annotations

from tests.verification import circuits, earths, generators, sharing
from tests.verification.circuits import Claim


def claims() -> list[Claim]:
    """Every claim about a circuit."""
    return [*circuits.claims(), *earths.claims(), *generators.claims(), *sharing.claims()]
