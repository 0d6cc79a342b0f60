"""Figures in the words that findings and refusals use."""

from __future__ import annotations


def percent(share: float) -> str:
    """A share in percent: two digits, or as many as stand before the point."""
    return f"{100 * share:.0f} %" if share >= 0.995 else f"{100 * share:.2g} %"


def moment(seconds: float) -> str:
    """Two digits below ten and three above, in us or ms."""
    value, unit = (seconds * 1e6, "us") if seconds < 1e-3 else (seconds * 1e3, "ms")
    return f"{value:.{2 if value < 10 else 3}g} {unit}"
