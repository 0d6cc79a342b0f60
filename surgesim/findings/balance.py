"""Sums that must come to zero, one a piece of a window, and how far the worst is from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from surgesim.findings.measured import Measured
from surgesim.findings.pieces import Pieces
from surgesim.findings.record import Array
from surgesim.findings.words import percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Sums of several things over each piece, every array of shape (things, pieces).

    ``missing`` is by how much a sum is not zero, ``turned`` half the sizes of its terms,
    ``slack`` what of them is not known that well.
    """

    missing: Array
    turned: Array
    slack: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What a balance is held to.

    ``limit`` is the largest share of what was turned over since the window began that may be
    missing, ``least`` a rate, in ``unit`` per second, below which nothing counts as turned over.
    """

    name: str
    limit: float
    least: float
    unit: str


def worst(
    balance: Balance, rule: Rule, pieces: Pieces, described: Callable[[int], tuple[str, str]]
) -> Measured:
    """The worst of all things and pieces, against the rule.

    ``described`` gives a thing's name and what to try, by its row.
    """
    if not balance.missing.size:
        return Measured(name=rule.name, worst=0.0, limit=rule.limit, unit="share")
    missing = np.maximum(abs(balance.missing) - balance.slack, 0.0)
    # the larger of what came and what went, where half the sizes are the mean of the two
    turned = np.cumsum(balance.turned + abs(balance.missing) / 2, axis=1)
    turned += rule.least * pieces.elapsed
    thing, piece = np.unravel_index(np.argmax(missing / turned), missing.shape)
    name, hint = described(int(thing))
    share = float(missing[thing, piece] / turned[thing, piece])
    return Measured(
        name=rule.name,
        worst=share,
        limit=rule.limit,
        unit="share",
        where=f"{name}, {pieces.words(int(piece))}",
        told=f"{missing[thing, piece]:.3g} {rule.unit} of {turned[thing, piece]:.3g} {rule.unit} "
        f"are unaccounted for, {percent(share)}, more than {percent(rule.limit)}",
        hint=hint,
    )
