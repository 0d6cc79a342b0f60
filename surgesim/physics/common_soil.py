"""Electrodes in the same soil: how each raises the others, and the resistors that do the same.

Uniform soil below a plane surface. With R_ii an electrode's resistance to remote earth by
itself and R_ij the potential that 1 A in one gives the other, the electrodes' potentials are
V = R I. The inverse of R is the nodal matrix of resistors between the electrodes and to remote
earth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SPARK_FIELD = 300e3
"""V/m at which soil breaks down around the point that a stroke enters (CIGRE TB 63 gives 300 to
400 kV/m, from memory)."""

LEFT_OUT = 0.02
"""Where a third electrode keeps two apart, this approximation has less than no conductance between
them. It then counts as none, if that changes no resistance by more than this share of the geometric
mean of the two electrodes' own."""


TOO_CLOSE = "the electrodes stand too close together to be told from afar"


def hemisphere_radius(resistance: float, soil: float) -> float:
    """Radius in m of the hemisphere at the surface with this resistance: soil / (2 pi R).

    It stands for the size of any compact electrode, and seen from outside it is one.
    """
    return soil / (2.0 * math.pi * resistance)


def struck_radius(current: float, soil: float) -> float:
    """Radius in m within which soil breaks down around the point where ``current`` A enters it.

    Where the field soil I / (2 pi r^2) is above :data:`SPARK_FIELD`.
    """
    return math.sqrt(soil * abs(current) / (2.0 * math.pi * SPARK_FIELD))


def mutual_resistance(
    distance: float, soil: float, *, first: float = 0, second: float = 0
) -> float:
    """Potential that 1 A in one electrode gives another ``distance`` m away, V.

    ``first`` and ``second`` are the lengths in m of upright rods from the surface down, 0 for
    what counts as a point at the surface. Each rod leaks evenly and has the average of the
    potential along it; with its image it is a line twice as long in full space::

        R12 = soil / (4 pi l1 l2) (F(l1 + l2) - F(l1 - l2)),   F(u) = u asinh(u/d) - sqrt(u^2 + d^2)

    For equal rods its series is soil/(2 pi d) (1 - l^2/3d^2 + 2 l^4/5d^4 …), Dwight 1936 (IEEE
    Std 142); far apart, and for points, it is soil/(2 pi d).
    """
    if not 0.0 < distance < math.inf:
        raise ValueError(f"expected a positive, finite distance but got {distance} m")
    if not 0.0 < soil < math.inf:
        raise ValueError(f"expected a positive, finite soil resistivity but got soil={soil}")
    longer, shorter = max(first, second), min(first, second)
    if longer < 1e-3 * distance:
        return soil / (2.0 * math.pi * distance)
    if shorter < 1e-3 * distance:
        return soil / (2.0 * math.pi * longer) * math.asinh(longer / distance)
    spread = _primitive(longer + shorter, distance) - _primitive(longer - shorter, distance)
    return soil / (4.0 * math.pi * longer * shorter) * spread


def _primitive(u: float, d: float) -> float:
    return u * math.asinh(u / d) - math.hypot(u, d)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conductances:
    """Resistors that stand for a resistance matrix: ``to_earth`` (n,) and ``between`` (n, n) in S,
    the latter above the diagonal."""

    to_earth: Array
    between: Array


def as_resistors(resistances: Array) -> Conductances:
    """The resistors of a resistance matrix R in ohm, (n, n), between n nodes and remote earth.

    Raises ValueError where no resistors have it: electrodes so close that R, which knows each
    of them only from afar, would have them deliver energy.
    """
    if np.linalg.eigvalsh(resistances)[0] <= 0.0:
        raise ValueError(TOO_CLOSE)
    wanted = np.linalg.inv(resistances)
    found = Conductances(
        to_earth=np.maximum(wanted.sum(axis=1), 0.0),
        between=np.maximum(-np.triu(wanted, 1), 0.0),
    )
    size = np.sqrt(np.diag(resistances))
    missed = np.abs(_resistances(found) - resistances) / np.outer(size, size)
    if not np.max(missed) <= LEFT_OUT:
        raise ValueError(TOO_CLOSE)
    return found


def _resistances(network: Conductances) -> Array:
    """The matrix that resistors have."""
    both = network.between + network.between.T
    nodal = np.diag(network.to_earth + both.sum(axis=1)) - both
    try:
        return np.asarray(np.linalg.inv(nodal))
    except np.linalg.LinAlgError:
        return np.full_like(nodal, np.inf)
