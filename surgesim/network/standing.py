"""The state before the surge as a linear network at direct current.

Plain nodal equations: capacitors open, inductors and ammeters short, a line its modes' series
resistances, sources as they are at t = 0. Three kinds are not linear. Around voltages that an
engine says stand there an array is its segment's straight line and a varistor the chord of its
law, and if those voltages are right they are so exactly; a clamp likewise. Every law of theirs is
monotone, so there is one state only, and it is the engine's, or the engine is wrong.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    SOUND_CONDUCTANCE,
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    Coupling,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
    SparkGap,
    Varistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.spark_gap import SOUND

STANDING_LIMIT = 1e-3
"""Largest deviation from the linear solve, as a share of the highest standing voltage: what the
engine is asked to solve to (its reltol)."""

LEAST_LIMIT = 0.1
"""V. A tenth of a volt is of no account anywhere, ten times what the engine solves to (vntol)."""

SHORT = 1e-9
"""ohm. A short counts as this much, so that a loop of shorts has a solution too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The node furthest from the linear solve: V by the engine, V solved, and V allowed between."""

    node: str
    engine: float
    solved: float
    limit: float

    @property
    def apart(self) -> float:
        return abs(self.engine - self.solved)


def standing(network: Network, waves: Waveforms) -> Standing:
    """How far a result's beginning is from a state at rest. Raises LinAlgError without one."""
    engine = {node: float(waves.at(node)[0]) for node in network.nodes()}
    solved = _Nodal(network, engine).solve()
    node = max(solved, key=lambda node: abs(engine[node] - solved[node]))
    return Standing(
        node=node, engine=engine[node], solved=solved[node], limit=allowed(network, waves)
    )


def allowed(network: Network, waves: Waveforms) -> float:
    """The largest deviation allowed at any node, V."""
    highest = max((abs(float(waves.at(node)[0])) for node in network.nodes()), default=0.0)
    return max(STANDING_LIMIT * highest, LEAST_LIMIT)


class _Nodal:
    """Nodal equations, with an extra unknown for each current that no voltage gives.

    ``standing`` are the engine's own voltages, around which what is not linear is straightened.
    """

    def __init__(self, network: Network, standing: Mapping[str, float]) -> None:
        self.standing = {GROUND: 0.0, **standing}
        self.nodes = [node for node in network.nodes() if node != GROUND]
        self.at = {node: row for row, node in enumerate(self.nodes)}
        extra = sum(map(_extra, network.elements))
        self.matrix = np.zeros((len(self.nodes) + extra, len(self.nodes) + extra))
        self.injected = np.zeros(len(self.matrix))
        self.free = len(self.nodes)
        for element in network.elements:
            self._add(element)

    def solve(self) -> dict[str, float]:
        """Voltage of every node, V. Raises LinAlgError where there is none."""
        solution = np.linalg.solve(self.matrix, self.injected)
        if not np.all(np.isfinite(solution)):
            raise np.linalg.LinAlgError("no finite solution")
        volts = dict(zip(self.nodes, map(float, solution), strict=False))
        return {GROUND: 0.0, **volts}

    def _add(self, element: AnyElement) -> None:
        match element:
            case Line():
                for weights, ohm in zip(
                    np.linalg.inv(element.modes), element.resistance, strict=True
                ):
                    whole = float(weights.sum())
                    ends = [*zip(element.near, weights, strict=True)]
                    ends += zip(element.far, -weights, strict=True)
                    ends += [(element.near_reference, -whole), (element.far_reference, whole)]
                    self._branch(ends, ohm=ohm)
            case Inductor() | Ammeter():
                self._branch(((element.a, 1.0), (element.b, -1.0)))
            case VoltageSource():
                wave = element.waveform
                volts = element.offset + (float(wave.value(np.zeros(1))[0]) if wave else 0.0)
                self._branch(((element.a, 1.0), (element.b, -1.0)), volts=volts)
            case Coupling() | Capacitor():
                pass
            case _:
                siemens, amps = self._straight(element)
                self._conductance(element.a, element.b, siemens)
                self._drawn(element.a, amps)
                self._drawn(element.b, -amps)

    def _straight(self, element: Element) -> tuple[float, float]:
        """The element as a conductance and a current a to b beside it, at the standing voltage."""
        volts = self.standing[element.a] - self.standing[element.b]
        match element:
            case Resistor():
                return 1.0 / element.resistance, 0.0
            case CurrentSource():
                return 0.0, float(element.waveform.value(np.zeros(1))[0])
            case Varistor():
                amps = float(element.law.current(volts))
                return amps / volts if volts else 1.0 / element.law.leakage_resistance, 0.0
            case IonisingSoil():
                w = abs(volts) / (2 * element.resistance * element.critical)
                return (w + math.sqrt(1 + w * w)) / element.resistance, 0.0
            case Clamp() if abs(volts) > element.voltage:
                knee = float(np.copysign(element.voltage, volts))
                return 1.0 / element.resistance, -knee / element.resistance
            case Clamp():
                return 0.0, 0.0
            case Insulation():
                return SOUND_CONDUCTANCE, 0.0
            case SparkGap():
                return SOUND, 0.0
            case PhotovoltaicSource():
                return _array(element, volts)
            case _:
                raise np.linalg.LinAlgError(type(element).__name__)

    def _conductance(self, a: str, b: str, siemens: float) -> None:
        for here, there in ((a, b), (b, a)):
            if here != GROUND:
                self.matrix[self.at[here], self.at[here]] += siemens
                if there != GROUND:
                    self.matrix[self.at[here], self.at[there]] -= siemens

    def _drawn(self, node: str, amps: float) -> None:
        if node != GROUND:
            self.injected[self.at[node]] -= amps

    def _branch(
        self, ends: Iterable[tuple[str, float]], *, ohm: float = 0.0, volts: float = 0.0
    ) -> None:
        """A current i leaving each of ``ends`` by its share; their weighed sum = ohm i + volts."""
        for node, share in ends:
            if node != GROUND:
                self.matrix[self.at[node], self.free] += share
                self.matrix[self.free, self.at[node]] += share
        self.matrix[self.free, self.free] = -max(ohm, SHORT)
        self.injected[self.free] = volts
        self.free += 1


def _extra(element: AnyElement) -> int:
    if isinstance(element, Line):
        return len(element.impedance)
    return int(isinstance(element, Inductor | Ammeter | VoltageSource))


def _array(source: PhotovoltaicSource, volts: float) -> tuple[float, float]:
    """The segments of an array: delivering, near its open circuit, or bypassed below zero."""
    siemens, amps = 0.0, -source.short_circuit_current
    if volts > source.open_circuit_voltage - source.short_circuit_current * source.resistance:
        siemens, amps = 1.0 / source.resistance, -source.open_circuit_voltage / source.resistance
    if volts < 0.0:
        siemens += 1.0 / source.resistance
    return siemens, amps
