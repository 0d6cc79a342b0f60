"""A bare conductor in soil as a chain: inductance along it, conductance to the soil.

With L' in H/m and G' in S/m a wave of angular frequency w reaches 1/sqrt(w L' G') m before it has
faded to a half; pieces that are short against that, near where the current comes in, make a chain
as good as the conductor (Sunde 1949, the telegraph equations with R' and C' left out).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

FIRST = 1.0 / 3.0
"""First piece as a share of the reach of three times the front's frequency."""

GROWTH = 1.2
"""From piece to piece. With both, crests are within 1 % of those of a chain four times as fine
(tests/build/test_chains.py)."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of a chain: what the current passes to get there, and what it leaks there.

    ``inductance`` H on the way from the rung before, ``length`` m of the conductor that this is,
    ``share`` of the whole conductor's leakage.
    """

    inductance: float
    length: float
    share: float


def reach(inductance: float, conductance: float, frequency: float) -> float:
    """How far in m a ``frequency`` in Hz comes along ``inductance`` H/m, ``conductance`` S/m."""
    return 1.0 / math.sqrt(2.0 * math.pi * frequency * inductance * conductance)


def open_chain(
    length: float, *, inductance: float, conductance: float, front: float
) -> tuple[Rung, ...]:
    """A conductor of ``length`` m that is fed at one end and open at the other.

    ``inductance`` H/m, ``conductance`` S/m, ``front`` the frequency of the front, Hz. Each piece
    leaks in its middle.
    """
    first = FIRST * reach(inductance, conductance, 3.0 * front)
    pieces = _graded(length, first)
    steps = [a / 2.0 + b / 2.0 for a, b in pairwise((0.0, *pieces))]
    return tuple(
        Rung(inductance=inductance * step, length=step, share=piece / length)
        for step, piece in zip(steps, pieces, strict=True)
    )


def through_chain(
    length: float, *, inductance: float, conductance: float, front: float
) -> tuple[tuple[Rung, ...], Rung]:
    """A conductor of ``length`` m that is joined at both ends: its rungs, and the way out.

    Arguments as for :func:`open_chain`. Pieces are short at both ends; what is left from the
    last rung to the far end leaks nothing more.
    """
    half = open_chain(length / 2.0, inductance=inductance, conductance=conductance, front=front)
    pieces = [rung.share * length / 2.0 for rung in half]
    pieces += reversed(pieces)
    steps = [a / 2.0 + b / 2.0 for a, b in pairwise((0.0, *pieces, 0.0))]
    rungs = tuple(
        Rung(inductance=inductance * step, length=step, share=piece / length)
        for step, piece in zip(steps, pieces, strict=False)
    )
    return rungs, Rung(inductance=inductance * steps[-1], length=steps[-1], share=0.0)


def _graded(length: float, first: float) -> list[float]:
    """Pieces that grow from about ``first`` on and make up ``length``."""
    count = max(1, math.ceil(math.log1p(length * (GROWTH - 1.0) / first) / math.log(GROWTH)))
    sizes = [GROWTH**k for k in range(count)]
    return [length * size / sum(sizes) for size in sizes]
