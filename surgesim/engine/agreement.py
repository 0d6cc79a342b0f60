"""Whether front and tail agree where one hands over to the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.flashover import fired
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND
from surgesim.network.waveforms import Waveforms

Array = NDArray[np.float64]

FLOOR = 1e-3
"""What stays below this share of the largest voltage or current read off is held to that share:
noise on a pair that the surge does not move is no gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """By which share of the crest at ``where`` the windows may have it wrong.

    ``at`` is when (s) the largest value after the front's end stands there.
    """

    share: float
    where: str
    at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """One thing read off both windows."""

    where: str
    unit: str
    fine: Array
    coarse: Array

    @property
    def crest(self) -> float:
        return float(np.max(np.abs(self.fine)))


def disagreement(network: Network, front: Waveforms, tail: Waveforms) -> Gap:
    """The largest error that the hand-over can have put into a crest.

    Past the front's end a crest is read off the tail, right to the difference that the windows
    show over the front's last quarter. It is of no account where the tail beyond stays lower
    than the front's own crest by more than that.
    """
    readings = list(_readings(network, front, tail))
    largest: dict[str, float] = {}
    for reading in readings:
        largest[reading.unit] = max(largest.get(reading.unit, 0.0), reading.crest)
    gaps = [_gap(each, front, tail, FLOOR * largest[each.unit]) for each in readings]
    return max(gaps, key=lambda gap: gap.share, default=Gap(share=0.0, where="", at=0.0))


def _gap(reading: _Reading, front: Waveforms, tail: Waveforms, floor: float) -> Gap:
    after = tail.time > front.stop
    beyond = np.where(after, np.abs(reading.coarse), 0.0)
    later = int(np.argmax(beyond))
    late = front.time >= 0.75 * front.stop
    there = np.interp(front.time[late], tail.time, reading.coarse)
    apart = float(np.max(np.abs(reading.fine[late] - there)))
    at_stake = min(max(float(beyond[later]) + apart - reading.crest, 0.0), apart)
    scale = max(reading.crest, float(beyond[later]), floor)
    share = at_stake / scale if scale > 0.0 else 0.0
    return Gap(share=share, where=reading.where, at=float(tail.time[later]))


def _readings(network: Network, front: Waveforms, tail: Waveforms) -> Iterator[_Reading]:
    """Every voltage and current of which a crest is told; every node where no terminal is."""
    for where, a, b in _voltages(network, front):
        yield _Reading(where=where, unit="V", fine=front.across(a, b), coarse=tail.across(a, b))
    for where, ammeter in _currents(network):
        fine, coarse = front.currents[ammeter], tail.currents[ammeter]
        yield _Reading(where=where, unit="A", fine=fine, coarse=coarse)


def _voltages(network: Network, front: Waveforms) -> Iterator[tuple[str, str, str]]:
    if not network.terminals:
        yield from ((node, node, GROUND) for node in network.nodes() if node != GROUND)
    over = fired(network, front)
    for terminal in network.terminals:
        if terminal.insulation not in over:
            where = f"{terminal.equipment}, {terminal.pair}"
            yield where, terminal.a, terminal.b
            yield f"{where}, to remote earth", terminal.a, GROUND
            if terminal.bar is not None:
                yield f"{where}, to bar", terminal.a, terminal.bar
    for arrester in network.arresters:
        yield f"{arrester.slot}, {arrester.element}", arrester.a, arrester.b
    for earth in network.earths:
        yield earth.name, earth.node, GROUND


def _currents(network: Network) -> Iterator[tuple[str, str]]:
    for arrester in network.arresters:
        yield f"{arrester.slot}, {arrester.element}, current", arrester.ammeter
    for earth in network.earths:
        yield f"{earth.name}, current", earth.ammeter
