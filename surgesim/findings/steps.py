"""The step rule, read off the answer and not off what was asked for.

No step longer than the recorded ceiling; none longer than half the shortest delay of any line
that travels, or the line is wrong by any factor; and no line lumped that the rule would have
travel: on the front none is, on the tail those that the steps planned for it cross in less than
two.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from surgesim.findings.measured import Measured, worse
from surgesim.network.circuit import Network
from surgesim.network.elements import Line
from surgesim.network.waveforms import Waveforms

ROUNDING = 1e-6
"""What the engine's own sums of steps may add to one."""

LUMPED_BELOW = 2.0
"""Planned steps of the tail to a line's shortest delay, below which the line is lumped."""


def step_rule(network: Network, waves: Waveforms, *, front: float) -> Measured:
    """Whatever comes nearest to its limit, 1 being the limit; ``front`` is the surge's T1, s."""
    longest = float(np.max(np.diff(waves.time), initial=0.0))
    travelling = _travelling(network, waves, longest)
    return worse(_ceiling(waves, longest), *travelling, _lumps(network, waves, front))


def _ceiling(waves: Waveforms, longest: float) -> Measured:
    return _measured(
        longest / waves.step,
        waves,
        told=f"a step of {longest:.4g} s is longer than the ceiling of {waves.step:.4g} s",
    )


def _travelling(network: Network, waves: Waveforms, longest: float) -> Iterator[Measured]:
    for line in network.lines:
        if line.name not in waves.lumped:
            delay = min(line.delay)
            yield _measured(
                longest / (delay / 2),
                waves,
                line,
                told=f"a step of {longest:.4g} s is longer than half its delay of {delay:.4g} s",
            )


def _lumps(network: Network, waves: Waveforms, front: float) -> Measured:
    """Lumped by the rule or not at all; a line that travels where it need not is only better."""
    planned = min(waves.stop / 4000, front / 4) if waves.window == "tail" else 0.0
    for line in network.lines:
        delay = min(line.delay)
        if line.name in waves.lumped and delay >= LUMPED_BELOW * planned * (1 + ROUNDING):
            told = f"lumped, though its delay is {delay:.4g} s, the steps planned {planned:.4g} s"
            return _measured(math.inf, waves, line, told=told)
    unknown = set(waves.lumped) - {line.name for line in network.lines}
    if unknown:
        return _measured(math.inf, waves, told=f"no line is named {', '.join(sorted(unknown))}")
    return _measured(0.0, waves, told="")


def _measured(share: float, waves: Waveforms, line: Line | None = None, *, told: str) -> Measured:
    place = f"{line.group or line.name}, " if line else ""
    return Measured(
        name="step rule",
        worst=share,
        limit=1.0 + ROUNDING,
        unit="share",
        where=f"{place}the {waves.window} window",
        told=told,
        hint="the engine did not march as it was told: its version, or its options",
    )
