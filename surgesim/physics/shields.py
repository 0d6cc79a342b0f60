"""Metal around or under conductors: screens, conduit, trunking, trays.

A shield is one more conductor. Seen from outside it carries whatever flows inside it too; what
is inside sees only the shield, and through its transfer impedance R + j omega L the current that
flows on it (E. F. Vance, Coupling to Shielded Cables, 1978, from memory). R, the resistance at
direct current, stands on the shield as on any conductor. It is held at every frequency: of a
solid tube the true one falls with it (S. A. Schelkunoff, Bell System Technical Journal 13, 1934).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.constants import MU_0
from surgesim.physics.cross_section import Coefficients

Array = NDArray[np.float64]


def enclosed(
    outside: Coefficients, shield: int, inside: Coefficients, transfer: Sequence[float]
) -> Coefficients:
    """Conductors ``inside`` put into conductor ``shield`` of those ``outside``, and after them.

    ``inside`` is against the shield. ``transfer`` (n inside) in H/m is what of the shield's own
    field each of them catches: the shield's current I drives it with j omega L I against the
    shield. Of a shield without slots or holes it is zero.
    """
    leak = 2.0 * math.pi / MU_0 * np.asarray(transfer, dtype=np.float64)
    none = np.zeros(len(leak))
    return Coefficients(
        bare=_nested(outside.bare, shield, inside.bare, leak),
        insulated=_nested(outside.insulated, shield, inside.insulated, none),
    )


def _nested(outside: Array, shield: int, inside: Array, leak: Array) -> Array:
    across = np.repeat(outside[[shield]], len(leak), axis=0)
    across[:, shield] -= leak
    own = inside + outside[shield, shield] - leak[:, None] - leak[None, :]
    return np.block([[outside, across.T], [across, own]])


def strip_radius(width: float) -> float:
    """Radius in m of the round wire with the outer inductance of a flat strip: width / 4."""
    return 0.25 * width


def strip_transfer(width: float, x: float, y: float) -> float:
    """Transfer inductance in H/m of a flat strip to a thin wire beside it.

    The wire lies ``y`` m over the strip and ``x`` m from its middle. The current's lines of field
    are ellipses about the strip's edges (conformal map, Smythe, Static and Dynamic Electricity,
    ch. 4, from memory)::

        L = mu0 / (2 pi) Re arccosh(2 (x + j y) / width)

    Walls along the edges keep more of it out.
    """
    return MU_0 / (2.0 * math.pi) * abs(float(np.arccosh(complex(2 * x, 2 * y) / width).real))


def beside(
    first: Coefficients, second: Coefficients, radii: tuple[float, float], apart: float
) -> Coefficients:
    """Two ducts or cables in one soil, ``apart`` m, each with its conductors against its own wall.

    ``radii`` are those of the walls in m, where the soil begins. Between a wall and the
    distance ``apart`` lies soil in which either has its own field; what reaches beyond that is
    the soil's, common to both.
    """
    sizes = len(first.bare), len(second.bare)
    own = [
        np.full((size, size), math.log(apart / radius))
        for size, radius in zip(sizes, radii, strict=True)
    ]
    return Coefficients(
        bare=_diagonal(first.bare + own[0], second.bare + own[1]),
        insulated=_diagonal(first.insulated, second.insulated),
    )


def _diagonal(first: Array, second: Array) -> Array:
    none = np.zeros((len(first), len(second)))
    return np.block([[first, none], [none.T, second]])
