"""Verdicts: what they are called, which is worse, and how one follows from the numbers."""

from __future__ import annotations

from typing import Literal

Verdict = Literal["holds", "thin", "void", "exceeded", "not assessed"]

SEVERITY: tuple[str, ...] = ("not assessed", "holds", "thin", "void", "exceeded")
"""From least to most severe. ``not assessed`` says that nothing is known: it never enters
into a worst of several, and is always listed."""


def severity(verdict: str) -> int:
    """Rank of a verdict; larger is worse."""
    return SEVERITY.index(verdict)


def margin_percent(ratio: float | None) -> float | None:
    """(Uw/Upk - 1) in percent, as in IEEE C62.22 (from memory); 25 % is the 0.8 Uw rule."""
    return None if ratio is None else (ratio - 1.0) * 100.0


def terminal_verdict(
    *, fired: bool, ratio: float | None, asked_percent: float, conditional: bool
) -> Verdict:
    """The verdict on one terminal pair.

    ``ratio`` is limit over peak, None where there is no peak to compare (fired) or the peak is
    zero. A peak on something that has failed is worth nothing, unless it is beyond its limit
    all the same.
    """
    margin = margin_percent(ratio)
    if fired or (margin is not None and margin < 0.0):
        return "exceeded"
    if conditional:
        return "void"
    if margin is not None and margin < asked_percent:
        return "thin"
    return "holds"


def arrester_verdict(shares: dict[str, float | None]) -> Verdict:
    """The verdict on one arrester element from its shares of what it may bear."""
    known = [share for share in shares.values() if share is not None]
    if any(share > 1.0 for share in known):
        return "exceeded"
    return "holds" if known else "not assessed"
