"""Why the engine failed: the suspects, the likeliest first, each with what to try.

ngspice says that its step became too small and sometimes at which node; it never says why. Here
its words, the part of a record that it left and the network itself are held against the causes
known to stop it. A suspect is that: the sentence says what was seen, not what is proved.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from surgesim.engine.evidence import LAST_POINTS, Evidence
from surgesim.engine.insulation import FIRED, state_name
from surgesim.engine.numbers import number
from surgesim.engine.windows import LONGEST_FRONT_STEP, surge_figures
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    Capacitor,
    Clamp,
    Element,
    Inductor,
    Insulation,
    Line,
    Resistor,
    VoltageSource,
)

Kind = Literal[
    "floating node",
    "gap chatter",
    "insulation near its level",
    "no state at rest",
    "stalling element",
    "step against delay",
    "step against swing",
    "too many steps",
    "undamped lead",
]

MOST = 3
"""Suspects told: of more, none is one."""

_WORTH_TRYING = 50.0
"""Weight from which the advice on a suspect is given that is not the first."""

_LOSSY = 1e4
"""Resistance across or beside an inductor, in inductance over step, up to which it damps."""

_NEAR = 0.97
"""Share of its level at which insulation is about to fire."""

_WEAK = 1e9
"""Ohm from which a path to remote earth hardly holds a node."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Swing:
    """An inductor and a capacitor that meet, and their period in s."""

    lead: Inductor
    body: Capacitor
    period: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """What may have stopped a run: its kind, what was seen, what to try.

    ``weight`` puts them in order: about 90 where the engine itself points there, 70 where its
    record does, less where only the network looks like it.
    """

    kind: Kind
    finding: str
    advice: str
    weight: float


def suspects(found: Evidence) -> tuple[Suspect, ...]:
    """The likeliest causes of a failed run; at least one."""
    by_kind: dict[str, Suspect] = {}
    for suspect in sorted(_all(found), key=lambda suspect: -suspect.weight):
        by_kind.setdefault(suspect.kind, suspect)
    return tuple(by_kind.values())[:MOST]


def _worth_trying(suspect: Suspect) -> bool:
    """Whether one that is not the first has an advice of its own worth giving."""
    return suspect.kind != "stalling element" and suspect.weight >= _WORTH_TRYING


def ringing_advice(network: Network, *, step: float) -> str:
    """What to try where something still rings long after the surge, at steps of ``step`` s."""
    found = [*_undamped(network, step, set()), *_fast_swings(network, step, set())]
    if not found:
        return (
            "look for something that rings long after the surge, such as a supply or a long cable"
            " without resistance"
        )
    worst = max(found, key=lambda suspect: suspect.weight)
    return f"suspected: {worst.kind}: {worst.finding}; {worst.advice}"


def sentence(found: Evidence) -> str:
    """How far the run came, and the suspects, as text."""
    named = [f"{suspect.kind}: {suspect.finding}" for suspect in suspects(found)]
    listed = (
        named[0] if len(named) == 1 else "; ".join(f"({k}) {s}" for k, s in enumerate(named, 1))
    )
    return f"{_how_far(found)}. Suspected: {listed}"


def advice(found: Evidence) -> str:
    """What to try, the likeliest first."""
    first, *others = suspects(found)
    told = [first.advice] + [other.advice for other in others if _worth_trying(other)]
    return "; or ".join(dict.fromkeys(told))


def _how_far(found: Evidence) -> str:
    """Where the run stopped, as a sentence without its full stop."""
    if not found.time.size:
        return "It came to no point at all" if found.limit is None else "It left no point to read"
    node = found.restless()
    moved = f", where {node!r} moved most" if node is not None else ""
    return f"It came to {seconds(found.reached)} of {seconds(found.plan.stop)}{moved}"


def seconds(value: float) -> str:
    """A time in words, three digits: ``82.8 us``."""
    units = (("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9), ("ps", 1e-12))
    unit, size = next(((u, size) for u, size in units if value >= size), units[-1])
    return f"{value / size:.3g} {unit}"


def _all(found: Evidence) -> Iterator[Suspect]:
    network, step = found.network, found.plan.step
    blamed = _nodes_of(network, found.blamed)
    moved = {node} if (node := found.restless()) is not None else set()
    yield from _at_rest(found)
    yield from _floating(found, blamed)
    yield from _slow(found)
    yield from _gaps(found, blamed)
    yield from _undamped(network, step, blamed | moved)
    yield from _fast_swings(network, step, blamed | moved)
    named = " and ".join(map(repr, found.blamed[:3]))
    yield from _stalling(network, blamed, weight=80, words=f"ngspice names {named}")
    yield from _stalling(network, moved - blamed, weight=40, words="it moved most at the end")
    yield Suspect(
        kind="stalling element",
        finding="neither the log nor the record points to one",
        advice="leave parts of the circuit out until it runs; the last one left out is the cause",
        weight=0,
    )


def _nodes_of(network: Network, names: Iterable[str]) -> set[str]:
    """The nodes among ``names``, and those of the elements among them."""
    wanted = set(names)
    ends = {end for e in network.elements if e.name in wanted for end in _ends(e)}
    return (ends | (wanted & set(network.nodes()))) - {GROUND}


def _ends(element: AnyElement) -> tuple[str, ...]:
    if isinstance(element, Line):
        return (*element.near, *element.far)
    return (element.a, element.b) if isinstance(element, Element) else ()


def _meeting(network: Network, nodes: Iterable[str]) -> list[AnyElement]:
    wanted = set(nodes) - {GROUND}
    return [e for e in network.elements if wanted & set(_ends(e))]


# --- each cause ------------------------------------------------------------------------------


def _at_rest(found: Evidence) -> Iterator[Suspect]:
    if found.time.size == 0 and found.limit is None:
        yield Suspect(
            kind="no state at rest",
            finding="ngspice found no voltages that stand on the network before the surge",
            advice="look at what stands on it: the supply, its reference to earth, arresters whose"
            " voltage is below it",
            weight=85,
        )


def _floating(found: Evidence, blamed: set[str]) -> Iterator[Suspect]:
    """Nodes that hardly anything holds: to ngspice's matrix they are as good as loose."""
    weak = [node for node in found.network.nodes() if node in _loose(found.network)]
    named = [node for node in weak if node in blamed]
    if not weak or not (found.singular or named or found.time.size == 0):
        return
    node = (named or weak)[0]
    yield Suspect(
        kind="floating node",
        finding=f"{node!r} reaches remote earth through insulation or more than"
        f" {number(_WEAK)} ohm only",
        advice=f"give {node!r} the resistance to earth that it has in truth, such as 2 Mohm of"
        " leakage",
        weight=95 if named or found.singular else 60,
    )


def _loose(network: Network) -> set[str]:
    """Nodes that no element of a moderate resistance joins, over others, to remote earth."""
    held = {GROUND}
    links = [pair for element in network.elements for pair in _firm(element)]
    while new := {end for pair in links if held & set(pair) for end in pair} - held:
        held |= new
    return set(network.nodes()) - held


def _firm(element: AnyElement) -> list[tuple[str, str]]:
    if isinstance(element, Line):
        return list(zip(element.near, element.far, strict=True))
    if isinstance(element, Resistor):
        return [(element.a, element.b)] if element.resistance < _WEAK else []
    loose = Capacitor, Insulation, Clamp
    if isinstance(element, Element) and not isinstance(element, loose):
        return [(element.a, element.b)]
    return []


def _slow(found: Evidence) -> Iterator[Suspect]:
    """A run that was ended while it still got on: too many steps, and what asks for them."""
    if found.limit is None or found.stalled:
        return
    plan, reached = found.plan, found.reached
    pace = (
        f"; at its pace it takes about {found.limit * plan.stop / reached:.2g} s"
        if reached > 0
        else ""
    )
    many = f"{plan.points} steps of {seconds(plan.step)} or less{pace}"
    longest, kind, what, shorter = _forcing(found.network)
    if plan.window == "tail" or longest >= LONGEST_FRONT_STEP:
        kind, what, shorter = "too many steps", "the length of the surge", "end it earlier"
    yield Suspect(
        kind=kind,
        finding=f"{many}, as {what} asks for",
        advice=f"give each run more time, or {shorter}",
        weight=90,
    )


def _forcing(network: Network) -> tuple[float, Kind, str, str]:
    """What asks for the shortest steps: that step in s, its kind, in words, what to do."""
    front = surge_figures(network).front
    steep = "look whether the surge is as steep as that"
    asked: list[tuple[float, Kind, str, str]] = [
        (front / 50, "too many steps", "the surge's front", steep)
    ]
    for line in network.lines:
        words = f"line {line.name!r}, crossed in {seconds(min(line.delay))},"
        shorter = f"lengthen {line.name!r} or leave it out"
        asked.append((min(line.delay) / 2, "step against delay", words, shorter))
    for swing in _swings(network):
        ends = f"{swing.lead.name!r} with {swing.body.name!r}"
        words = f"the swing of {ends} in {seconds(swing.period)}"
        shorter = f"leave {swing.body.name!r} out if it is as small as that"
        asked.append((max(swing.period / 12, front / 500), "step against swing", words, shorter))
    for gap in network.elements:
        if isinstance(gap, Insulation):
            words = f"{gap.name!r}, which collapses in {seconds(gap.lag)},"
            asked.append(
                (2 * gap.lag, "too many steps", words, "take out insulation that cannot fire")
            )
    return min(asked, key=lambda entry: entry[0])


def _gaps(found: Evidence, blamed: set[str]) -> Iterator[Suspect]:
    """Insulation that was firing, or about to, where the run stopped."""
    if not found.time.size:
        return
    gaps = [e for e in found.network.elements if isinstance(e, Insulation)]
    firing = [gap for gap in gaps if _is_firing(gap, found)]
    near = [gap for gap in gaps if gap not in firing and _is_near(gap, found)]
    blamed_gap = any(set(_ends(gap)) & blamed for gap in (*firing, *near))
    if not firing and not near:
        return
    names = " and ".join(repr(gap.name) for gap in (*firing, *near)[:4])
    what = _gap_words(firing, near, names)
    yield Suspect(
        kind="gap chatter" if len(firing) + len(near) > 1 else "insulation near its level",
        finding=what,
        advice="set the level of one of them a few percent lower: either may fire first, and each"
        " outcome by itself runs" if len(firing) + len(near) > 1
        else f"take the level of {names} a few percent lower or higher: both outcomes are possible",
        weight=92 if blamed_gap else 72,
    )  # fmt: skip


def _gap_words(firing: list[Insulation], near: list[Insulation], names: str) -> str:
    if len(firing) + len(near) == 1:
        return f"{names} was {'collapsing' if firing else 'within 3 % of its level'} at that moment"
    return (
        f"{names} were firing or within 3 % of their levels at the same moment; each that fires"
        " relieves the others"
    )


def _is_firing(gap: Insulation, found: Evidence) -> bool:
    """Whether the state moved over the last points, or crossed the middle more than once."""
    states = found.voltages.get(state_name(gap))
    if states is None or not states.size:
        return False
    crossings = int(np.count_nonzero(np.diff(states > FIRED)))
    late = states[-LAST_POINTS:]
    return crossings > 1 or bool(np.ptp(late) > 0.01) or 0.01 < float(late[-1]) < 0.99


def _is_near(gap: Insulation, found: Evidence) -> bool:
    states = found.voltages.get(state_name(gap))
    if states is not None and states.size and float(states[-1]) > FIRED:
        return False
    late = [_last_voltages(node, found) for node in (gap.a, gap.b)]
    return bool(np.max(np.abs(late[0] - late[1]), initial=0.0) > _NEAR * gap.level)


def _last_voltages(node: str, found: Evidence) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    size = len(found.time[-LAST_POINTS:])
    return found.voltages[node][-LAST_POINTS:] if node in found.voltages else np.zeros(size)


def _undamped(network: Network, step: float, near: set[str]) -> Iterator[Suspect]:
    """Inductors in whose surroundings nothing takes a swing's energy."""
    for lead in network.elements:
        if not isinstance(lead, Inductor) or _is_damped(lead, network, step):
            continue
        swings_with = [s.body.name for s in _swings(network) if s.lead is lead]
        partner = f" and swings with {swings_with[0]!r}" if swings_with else ""
        ohm = lead.inductance / 1e-9
        yield Suspect(
            kind="undamped lead",
            finding=f"{lead.name!r}, {number(lead.inductance)} H, has no resistance beside it to"
            f" damp it{partner}",
            advice=f"put a resistance across {lead.name!r}; {ohm:.4g} ohm damps within a"
            " nanosecond and carries next to nothing",
            weight=88 if near & set(_ends(lead)) else 55,
        )


def _swings(network: Network) -> list[_Swing]:
    bodies = [e for e in network.elements if isinstance(e, Capacitor)]
    return [
        _Swing(
            lead=lead,
            body=body,
            period=2 * math.pi * math.sqrt(lead.inductance * body.capacitance),
        )
        for lead in network.elements
        if isinstance(lead, Inductor)
        for body in bodies
        if {lead.a, lead.b} & {body.a, body.b} - {GROUND}
    ]


def _is_damped(lead: Inductor, network: Network, step: float) -> bool:
    """Whether a line, or a resistor small enough to matter, meets one of its ends."""
    for other in _meeting(network, (lead.a, lead.b)):
        if isinstance(other, Line | VoltageSource):
            return True
        if isinstance(other, Resistor) and other.resistance < _LOSSY * lead.inductance / step:
            return True
    return False


def _fast_swings(network: Network, step: float, near: set[str]) -> Iterator[Suspect]:
    """The fastest swing of an inductor with a capacitor, if the steps cannot follow it."""
    fast = [swing for swing in _swings(network) if swing.period < 2 * step]
    if not fast:
        return
    here = [s for s in fast if near & {*_ends(s.lead), *_ends(s.body)}]
    worst = min(here or fast, key=lambda swing: swing.period)
    yield Suspect(
        kind="step against swing",
        finding=f"{worst.lead.name!r} swings with {worst.body.name!r} in {seconds(worst.period)},"
        f" faster than steps of {seconds(step)} can follow",
        advice=f"leave {worst.body.name!r} out, or give it and {worst.lead.name!r} the size they"
        " have in truth",
        weight=84 if here else 50,
    )


def _stalling(network: Network, nodes: set[str], *, weight: float, words: str) -> Iterator[Suspect]:
    if not nodes:
        return
    ordered = [node for node in network.nodes() if node in nodes]
    meeting = _meeting(network, ordered)
    shown = ", ".join(repr(e.name) for e in meeting[:6]) + (" and more" if meeting[6:] else "")
    yield Suspect(
        kind="stalling element",
        finding=f"at {' and '.join(map(repr, ordered[:3]))} ({words}), where {shown} meet",
        advice="look for a value among those that is far from what such a thing has",
        weight=weight,
    )


def refused_advice(nodes: Iterable[str], loops: Iterable[tuple[str, ...]]) -> str:
    """What to do about a network refused for these nodes or loops."""
    parts = []
    if node := next(iter(nodes), None):
        parts.append(f"floating node: give {node!r} the leakage to earth that it has, say 2 Mohm")
    if loop := next(iter(loops), None):
        parts.append(
            f"loop without loss: put the resistance of its metal beside {loop[-1]!r}, 1 mohm is"
            " enough"
        )
    return "; ".join(parts)
