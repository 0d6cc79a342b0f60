"""Two time windows over one network, and the longest step each may take.

*Front*: every line travels; fine steps past the last crest. *Tail*: from t = 0 again with
coarse steps for charge and energy, the short lines lumped. Where ngspice's error control is set
loose on purpose, the ceilings set here are what decides the accuracy of a result.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from surgesim.engine.numbers import number
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    Clamp,
    Element,
    Inductor,
    Insulation,
    SparkGap,
)
from surgesim.network.waveforms import Window
from surgesim.physics.waveforms import (
    DampedSine,
    DoubleExponential,
    Ramp,
    RingWave,
    ShapeFigures,
    Waveform,
    shape_figures,
)

MOST_POINTS = 2_000_000
"""A run of more points than this is refused: it would take a minute and gigabytes."""

LONGEST_FRONT_STEP = 100e-9
"""Seconds; enough for 8/20 at 10 to 100 kA within 0.5 % of the peak."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What one run of the engine is asked for: ceiling and end in s, and the lumped lines."""

    window: Window
    step: float
    stop: float
    lumped: tuple[str, ...] = ()

    @property
    def points(self) -> int:
        """Number of steps at the longest step."""
        return math.ceil(self.stop / self.step)


def front_plan(network: Network, *, stop: float | None = None) -> Plan:
    """Fine steps over the front.

    The end: twice the surge's time to peak, and after that 20 round trips of the longest line
    or two fronts, for what still travels and rings when the surge is at its crest. Slower
    swings than that are well resolved by the tail's steps. Whether the two windows indeed
    agree at the front's end is checked once both have run.
    """
    figures = surge_figures(network)
    ceilings = list(_ceilings(network, figures.front))
    if not watched(network):
        ceilings += _swing_ceilings(network, figures.front)
    step = min(LONGEST_FRONT_STEP, figures.front / 50, *ceilings)
    end = settled(network, after=2 * figures.time_to_peak) if stop is None else stop
    return _checked(Plan(window="front", step=step, stop=end), network)


def watched(network: Network) -> bool:
    """Whether a front is run under error control, which finds out for itself where steps must be
    short: where insulation may fire, and where the surge is steep from the start.

    What is steep at once excites the fastest that a network can do, however long its front: the
    spike that passes a lead lasts some nanoseconds under an 8/20 damped sine too.
    """
    steep = isinstance(network.waveform, DampedSine | DoubleExponential | RingWave)
    return steep or any(isinstance(e, Insulation | SparkGap) for e in network.elements)


def less_watched_plan(plan: Plan, network: Network) -> Plan:
    """The plan of a watched front in a quarter of the lag of its insulation at most, which has the
    crests that a collapse makes where error control is too loose to find them."""
    ceilings = (e.lag / 4 for e in network.elements if isinstance(e, Insulation))
    return finer(plan, network, step=min(ceilings, default=plan.step))


def unwatched_plan(plan: Plan, network: Network) -> Plan:
    """The plan of a watched front in steps short enough without error control.

    An eighth of the lag of insulation, where crests lie within 1 % of those at a twentieth; a fifth
    of the steps that a spark gap was given, whose crest is then as good as its step.
    """
    ceilings = list(_swing_ceilings(network, surge_figures(network).front))
    ceilings += (e.lag / 8 for e in network.elements if isinstance(e, Insulation))
    ceilings += (plan.step / 5 for e in network.elements if isinstance(e, SparkGap))
    return finer(plan, network, step=min(ceilings, default=plan.step))


def settled(network: Network, *, after: float) -> float:
    """When (s) the fast part of an event at ``after`` is over, and of the surge's own crest."""
    figures = surge_figures(network)
    delays = list(_crossings(network))
    settling = max(40 * max(delays, default=0.0), 2 * figures.front)
    return max(after, figures.time_to_peak) + settling


def _crossings(network: Network) -> Iterator[float]:
    """How long the slowest mode takes through each route, whose pieces share a group, in s."""
    routes: dict[str, float] = {}
    for line in network.lines:
        route = line.group or line.name
        routes[route] = routes.get(route, 0.0) + max(line.delay)
    yield from routes.values()


def tail_plan(network: Network, *, front_stop: float) -> Plan:
    """Coarse steps over seven half-value times, or five fronts' ends for an endless surge.

    Seven T2 hold 99 % of the charge of an exponential tail. A line any of whose modes
    crosses it in less than two steps is lumped; the others keep to half their delay so.
    """
    figures = surge_figures(network)
    end = 5 * front_stop if figures.tail is None else max(7 * figures.tail, 1.5 * front_stop)
    step = min(end / 4000, figures.front / 4)
    lumped = tuple(line.name for line in network.lines if min(line.delay) < 2 * step)
    return _checked(Plan(window="tail", step=step, stop=end, lumped=lumped), network)


def finer(plan: Plan, network: Network, *, step: float) -> Plan:
    """The same window at a shorter ceiling (s) if it is one; lumped lines stay lumped."""
    return _checked(replace(plan, step=min(step, plan.step)), network)


def surge_figures(network: Network) -> ShapeFigures:
    """Front and tail of the network's surge by the definitions for its kind."""
    return _figures(network.waveform, "current" if network.is_driven_by_current else "voltage")


@lru_cache(maxsize=64)
def _figures(waveform: Waveform, kind: Literal["current", "voltage"]) -> ShapeFigures:
    """Measuring a shape takes milliseconds, and each is asked for several times a case."""
    return shape_figures(waveform, kind=kind)


def _ceilings(network: Network, front: float) -> Iterator[float]:
    """Half a delay, always: a line given longer steps is wrong by any factor, silently.

    Twice the lag of insulation, of whose collapse error control then takes the shorter steps. A
    five-hundredth of the front for the corner of a ramp or a textbook clamp, whose crests come to
    a point. A hundredth for a spark gap, enough to tell whether it fires; if it does, finer steps
    are taken.
    """
    yield from (delay / 2 for line in network.lines for delay in line.delay)
    yield from (2 * e.lag for e in network.elements if isinstance(e, Insulation))
    yield from (front / 500 for e in network.elements if isinstance(e, Clamp))
    yield from (front / 100 for e in network.elements if isinstance(e, SparkGap))
    if isinstance(network.waveform, Ramp):
        yield front / 500


def _swing_ceilings(network: Network, front: float) -> Iterator[float]:
    """A twelfth of a lead's swing, but swings forty times faster than the front are not excited
    by it to any height worth resolving."""
    yield from (max(swing / 12, front / 500) for swing in _swings(network))


def _swings(network: Network) -> list[float]:
    """Period in s of every inductor with each capacitor that meets one of its ends."""
    inductors = [e for e in network.elements if isinstance(e, Inductor)]
    capacitors = [e for e in network.elements if isinstance(e, Capacitor)]
    return [
        2 * math.pi * math.sqrt(lead.inductance * body.capacitance)
        for lead in inductors
        for body in capacitors
        if _meet(lead, body)
    ]


def _meet(first: Element, second: Element) -> bool:
    return bool({first.a, first.b} & {second.a, second.b} - {GROUND})


def _checked(plan: Plan, network: Network) -> Plan:
    for line in network.lines:
        if line.name not in plan.lumped and plan.step > min(line.delay) / 2:
            raise EngineError(
                f"line {line.name!r}: a step of {number(plan.step)} s is longer than half its"
                f" delay of {number(min(line.delay))} s"
            )
    if plan.points > MOST_POINTS:
        raise EngineError(
            f"{network.title!r}, {plan.window} window: {number(plan.stop)} s at steps of"
            f" {number(plan.step)} s takes {plan.points} points, more than {MOST_POINTS}",
            hint=_shortest(network),
        )
    return plan


def _shortest(network: Network) -> str:
    """What forces the short step, for the message that refuses it."""
    if not network.lines:
        return "lengthen the shortest lead or leave out its smallest capacitance"
    line = min(network.lines, key=lambda line: min(line.delay))
    return (
        f"the shortest line is {line.name!r}, crossed in {number(min(line.delay))} s:"
        " lengthen it or leave it out"
    )
