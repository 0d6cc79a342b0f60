"""Solving a network: how it is marched through, and then the names back."""

from __future__ import annotations

import math
import time as clock
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor, Insulation, SparkGap
from surgesim.network.waveforms import Waveforms
from surgesim.oracle.check import check, check_count
from surgesim.oracle.layout import Layout, lay_out, of_kind
from surgesim.oracle.marching import from_rest
from surgesim.oracle.records import Course
from surgesim.oracle.sampling import moments
from surgesim.oracle.tables import sources_of

Array = NDArray[np.float64]

FEWEST = 4
"""Steps the shortest delay of a line is worth."""

BEND = 5e-4
"""How far from straight within a step anything may be where the steps are chosen, as a share of
its size."""

ROOM = 1 << 14
"""Points there is room for to begin with."""


def fitting_step(network: Network, *, largest: float, fewest: int = FEWEST) -> float:
    """A step in s of at most ``largest`` of which the shortest delay is a whole number.

    That delay, and every multiple of it, then needs no reading between steps. It is worth at
    least ``fewest`` steps.
    """
    delays = [delay for line in network.lines for delay in line.delay]
    if not delays:
        return largest
    return min(delays) / max(fewest, math.ceil(min(delays) / largest * (1.0 - 1e-9)))


def solve(network: Network, *, step: float, stop: float) -> Waveforms:
    """Waveforms of a network from rest at t = 0 to the first step at or after ``stop``, in s.

    Every step is as long. The sources' values at t = 0 stand on the network for ever before.
    Beyond what every engine hands back, ``NAME/state`` among the voltages is an Insulation's
    state, 0 sound, 1 arc, or a SparkGap's z. EngineError where there is no answer to trust.
    """
    begun = clock.perf_counter()
    check(network, step=step, stop=stop)
    check_count(stop / step, stop=stop)
    layout, times = lay_out(network), _times(step, stop)
    sources = sources_of(network, layout, times)
    marching = from_rest(network, layout, sources, finest=step, room=len(times))
    marching.until(float(times[-1]))
    course = marching.so_far()
    return _waveforms(network, layout, course, "trapezoidal, fixed step", begun)


def _times(step: float, stop: float) -> Array:
    """Whole steps from zero; a ``stop`` that misses one by rounding only counts as on it."""
    last = math.ceil(stop / step * (1.0 - 1e-12))
    return step * np.arange(last + 1, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Until when to go, the longest step till then (both s), and which lines are lumped.

    Every other line's delay is no shorter than that step.
    """

    stop: float
    longest: float
    lumped: frozenset[str] = frozenset()


def follow(
    network: Network,
    *,
    finest: float,
    stretches: tuple[Stretch, ...],
    bend: float = BEND,
) -> Waveforms:
    """As :func:`solve`, in steps that follow what happens.

    ``stretches`` are gone through one after the other. Steps are no shorter than about
    ``finest`` (s), and as long as nothing is further from a straight line within a step than
    ``bend``, a share of its own largest size so far.
    """
    begun = clock.perf_counter()
    stop, longest = stretches[-1].stop, max(each.longest for each in stretches)
    doublings = max(0, math.ceil(math.log2(longest / finest) - 1e-9))
    check(network, step=finest, stop=stop)
    check_count(stop / longest, stop=stop)
    layout, finest = lay_out(network), longest / 2.0**doublings
    sources = sources_of(network, layout, moments(network, stop=stop + longest, shortest=finest))
    marching = from_rest(network, layout, sources, finest=finest, room=ROOM)
    for each in stretches:
        coarsest = math.floor(math.log2(each.longest / finest) + 1e-9)
        marching.until(each.stop, coarsest=coarsest, bend=bend, lumped=each.lumped)
    course = marching.so_far()
    return _waveforms(network, layout, course, f"trapezoidal, bend {bend:g}", begun)


def _waveforms(
    network: Network, layout: Layout, course: Course, options: str, begun: float
) -> Waveforms:
    return Waveforms(
        window="front",
        time=course.time,
        voltages=_voltages(network, layout, course),
        currents=_currents(network, layout, course),
        step=float(np.max(np.diff(course.time))),
        stop=float(course.time[-1]),
        engine="oracle",
        options=options,
        elapsed=clock.perf_counter() - begun,
    )


def _voltages(network: Network, layout: Layout, course: Course) -> dict[str, Array]:
    voltages = {node: course.unknowns[:, k] for node, k in layout.node.items() if k < layout.size}
    for k, port in enumerate(layout.ports):
        voltages[port.name] = course.port_voltage[:, k]
    for k, insulation in enumerate(of_kind(network, Insulation)):
        voltages[f"{insulation.name}/state"] = course.state[:, k]
    for k, gap in enumerate(of_kind(network, SparkGap)):
        voltages[f"{gap.name}/state"] = course.discharge[:, k]
    return voltages


def _currents(network: Network, layout: Layout, course: Course) -> dict[str, Array]:
    unasked = {capacitor.name for capacitor in of_kind(network, Capacitor)}
    currents = {
        name: course.unknowns[:, k] for name, k in layout.branch.items() if name not in unasked
    }
    for k, port in enumerate(layout.ports, layout.first_port):
        currents[port.name] = course.unknowns[:, k]
    return currents
