"""The state before the surge, solved a second time: see :mod:`surgesim.network.standing`.

The engine's operating point is where a surge begins; a network that hangs in the air has one
too, and it is fiction.
"""

from __future__ import annotations

import numpy as np

from surgesim.findings.measured import Measured
from surgesim.network.circuit import Network
from surgesim.network.standing import allowed, standing
from surgesim.network.waveforms import Waveforms


def standing_state(network: Network, waves: Waveforms) -> Measured:
    """The largest deviation of any node from the linear solve at t = 0."""
    name, what = "state before the surge", f"in the {waves.window}"
    try:
        found = standing(network, waves)
    except np.linalg.LinAlgError:
        return Measured(
            name=name,
            worst=float("inf"),
            limit=allowed(network, waves),
            unit="V",
            where=what,
            told="the network has no state at rest: some of it hangs in the air",
            hint="give every conductor a path to earth",
        )
    return Measured(
        name=name,
        worst=found.apart,
        limit=found.limit,
        unit="V",
        where=f"{found.node!r} {what}",
        told=f"{found.engine:.5g} V stood there by the engine, {found.solved:.5g} V by a linear "
        f"solve, {found.apart:.2g} V apart, more than {found.limit:.2g} V",
        hint="look at what fixes its potential: the supply's reference, its earth",
    )
