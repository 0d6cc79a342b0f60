"""Whether front and tail agree where one hands over to the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND
from surgesim.network.waveforms import Waveforms


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """``share``: difference of the windows over the peak, at ``where`` it is largest."""

    share: float
    where: str


def disagreement(network: Network, front: Waveforms, tail: Waveforms) -> Gap:
    """Largest difference over the front's last quarter that could touch a peak.

    Past the front's end a peak is read off the tail. That is right to the difference the two
    windows show just before, and the difference is of no account where the tail beyond stays
    lower than the front's own peak by more than that.
    """
    gaps = [Gap(share=_gap(front, tail, a, b), where=where) for where, a, b in _pairs(network)]
    return max(gaps, key=lambda gap: gap.share, default=Gap(share=0.0, where=""))


def _gap(front: Waveforms, tail: Waveforms, a: str, b: str) -> float:
    fine, coarse = _deviation(front, a, b), _deviation(tail, a, b)
    # a pair the surge hardly moves is measured by its bias: noise on nothing is no gap
    peak = max(float(np.max(np.abs(fine))), float(np.abs(front.across(a, b)[0])))
    late = front.time >= 0.75 * front.stop
    there = np.interp(front.time[late], tail.time, coarse)
    difference = float(np.max(np.abs(fine[late] - there)))
    beyond = float(np.max(np.abs(coarse[tail.time >= front.stop]), initial=0.0))
    if beyond + difference < peak or peak == 0.0:
        return 0.0
    return difference / peak


def _deviation(waves: Waveforms, a: str, b: str) -> NDArray[np.float64]:
    """Voltage less its value before the surge."""
    across = waves.across(a, b)
    return np.asarray(across - across[0])


def _pairs(network: Network) -> Iterator[tuple[str, str, str]]:
    if network.terminals:
        for probe in network.terminals:
            yield f"{probe.equipment}, {probe.pair}", probe.a, probe.b
    else:
        for node in network.nodes():
            if node != GROUND:
                yield node, node, GROUND
