"""Flashover: whether, when and at which voltage insulation gave way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.errors import ResultRefused
from surgesim.findings.record import Array, Record, signed_extreme
from surgesim.findings.words import moment
from surgesim.network.circuit import Network
from surgesim.network.elements import Insulation
from surgesim.network.probes import TerminalProbe

FIRED = 0.5
"""An insulation's state goes from 0, sound, to 1, arc; beyond this it has fired."""


COLLAPSE = 10.0
"""Lags that insulation beyond its level may take to fire: two are usual, the rest is room."""

COLLAPSE_STEPS = 3.0
"""And steps, where these are longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flashover:
    """Insulation that has fired: ``at`` in s, ``volts`` across the pair just before, signed."""

    label: str
    at: float
    volts: float


def flashovers(network: Network, record: Record) -> dict[str, Flashover]:
    """Every insulation that fired in a case, by element name."""
    probes = {probe.insulation: probe for probe in network.terminals if probe.insulation}
    found = {}
    for element in network.elements:
        if isinstance(element, Insulation):
            flashover = _flashover(element, probes.get(element.name), record)
            if flashover is not None:
                found[element.name] = flashover
    return found


def _flashover(
    element: Insulation, probe: TerminalProbe | None, record: Record
) -> Flashover | None:
    """Fired when the state says so, and also when the voltage passed the level too briefly to
    finish the collapse: no voltage above an insulation level is ever handed on as a peak."""
    refuse_disagreement(element, record)
    ends = (probe.a, probe.b) if probe else (element.a, element.b)
    label = f"{probe.equipment}, {probe.pair}" if probe else element.group or element.name
    volts = record.across(*ends)
    fired = np.flatnonzero(record.at(f"{element.name}/state") > FIRED)
    if fired.size:
        first = int(fired[0])
        before = float(volts[max(first - 1, 0)])
        return Flashover(label=label, at=float(record.time[first]), volts=before)
    passed = np.flatnonzero(np.abs(volts) > element.level)
    if passed.size:
        _refuse_unfired(element, record, label)
        at = float(record.time[passed[0]])
        return Flashover(label=label, at=at, volts=signed_extreme(volts))
    return None


def refuse_disagreement(element: Insulation, record: Record) -> None:
    """Raise ResultRefused where one window has the insulation fired and the other has not."""
    name = f"{element.name}/state"
    end = record.front.time[-1]
    front = bool(record.front.voltages[name][-1] > FIRED)
    states = record.tail.voltages[name]
    early = states[record.tail.time <= end]
    in_tail = bool(states[-1] > FIRED) if front else bool(early.size and early[-1] > FIRED)
    if front != in_tail:
        told = ("the front", "the tail") if front else ("the tail", "the front")
        raise ResultRefused(
            f"{element.group or element.name}: flashed over in {told[0]} but not in {told[1]}",
            hint="a shorter step of the tail, or a longer front, makes the two agree",
        )


def _refuse_unfired(element: Insulation, record: Record, label: str) -> None:
    """Raise ResultRefused where the voltage stayed beyond the level and nothing fired."""
    beyond = np.abs(record.across(element.a, element.b)) > element.level
    for waves, shown in (
        (record.front, beyond[: len(record.front.time)]),
        (record.tail, beyond[len(record.front.time) :]),
    ):
        time = waves.time[-len(shown) :] if len(shown) else waves.time[:0]
        stayed = _longest(shown, time)
        allowed = COLLAPSE * element.lag + COLLAPSE_STEPS * waves.step
        if stayed > allowed:
            raise ResultRefused(
                f"insulation at {label}: stood beyond its level of {element.level:.3g} V for "
                f"{moment(stayed)} in the {waves.window} and did not fire, where "
                f"{moment(allowed)} are enough",
                hint="the engine left the insulation out, or its steps are too long for it",
            )


def _longest(held: NDArray[np.bool_], time: Array) -> float:
    """Longest time in s for which something held without interruption, by the points."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], held, [False]))))
    spells = time[edges[1::2] - 1] - time[edges[::2]]
    return float(np.max(spells, initial=0.0))
