"""What must hold of a network before a deck is written.

ngspice takes a resistor without a value, a coupling beyond 1, a line of no length and a node
that hangs in the air without a word, and answers. So all of it is refused here, every problem
at once, in the names the network uses.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from functools import singledispatch

import numpy as np

from surgesim.engine.suspects import refused_advice
from surgesim.engine.topology import lossless_loops, without_path_to_earth
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
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


def validate(network: Network) -> None:
    """Raise :class:`EngineError` naming everything that is wrong with the network."""
    problems = list(_problems(network))
    if problems:
        listed = "; ".join(problems)
        raise EngineError(
            f"{network.title!r} cannot be simulated: {listed}",
            hint=refused_advice(without_path_to_earth(network), lossless_loops(network)),
        )


def _problems(network: Network) -> Iterator[str]:
    yield from _names(network)
    for element in network.elements:
        where = f"{type(element).__name__.lower()} {element.name!r}"
        yield from (f"{where}: {problem}" for problem in _element_problems(element))
    if not (math.isfinite(network.waveform.peak) and network.waveform.peak != 0.0):
        yield f"the surge's peak is {network.waveform.peak}"
    yield from _couplings(network)
    for node in without_path_to_earth(network):
        yield f"node {node!r} has no conducting path to remote earth"
    for loop in lossless_loops(network):
        around = ", ".join(repr(name) for name in loop)
        yield f"{around} form a loop without any resistance"
    yield from _probes(network)


def _names(network: Network) -> Iterator[str]:
    counts = Counter(element.name for element in network.elements)
    for name, count in counts.items():
        if count > 1:
            yield f"{count} elements are named {name!r}"
    if "" in counts:
        yield "an element has no name"


def _element_problems(element: AnyElement) -> Iterator[str]:
    if isinstance(element, Element) and element.a == element.b:
        yield f"both ends at {element.a!r}"
    yield from values(element)


@singledispatch
def values(element: object) -> Iterator[str]:
    """What is wrong with an element's own numbers."""
    raise TypeError(f"no check is registered for {type(element).__name__}")


@values.register
def _(element: Ammeter) -> Iterator[str]:
    del element  # has no numbers
    yield from ()


@values.register
def _(element: Resistor) -> Iterator[str]:
    yield from _positive(resistance=element.resistance)


@values.register
def _(element: Inductor) -> Iterator[str]:
    yield from _positive(inductance=element.inductance)


@values.register
def _(element: Capacitor) -> Iterator[str]:
    yield from _positive(capacitance=element.capacitance)


@values.register
def _(element: VoltageSource) -> Iterator[str]:
    if not math.isfinite(element.offset):
        yield f"offset is {element.offset}"


@values.register
def _(element: CurrentSource) -> Iterator[str]:
    if not math.isfinite(element.waveform.peak):
        yield f"peak is {element.waveform.peak}"


@values.register
def _(element: Varistor) -> Iterator[str]:
    yield from _positive(reference_voltage=element.law.reference_voltage, scale=element.law.scale)


@values.register
def _(element: SparkGap) -> Iterator[str]:
    del element  # its law refuses what no gap has
    yield from ()


@values.register
def _(element: Clamp) -> Iterator[str]:
    yield from _positive(voltage=element.voltage, resistance=element.resistance)


@values.register
def _(element: IonisingSoil) -> Iterator[str]:
    yield from _positive(resistance=element.resistance, critical=element.critical)


@values.register
def _(element: Insulation) -> Iterator[str]:
    yield from _positive(level=element.level, lag=element.lag, resistance=element.resistance)
    if not 0 <= element.arc_voltage < element.level:
        yield f"arc_voltage is {element.arc_voltage}, not from 0 to below the level"


@values.register
def _(element: PhotovoltaicSource) -> Iterator[str]:
    voltage, resistance = element.open_circuit_voltage, element.resistance
    current = element.short_circuit_current
    wrong = list(_positive(open_circuit_voltage=voltage, resistance=resistance))
    if not 0 <= current < math.inf:
        wrong.append(f"short_circuit_current is {current}")
    yield from wrong
    if not wrong and current * resistance >= voltage:
        yield (
            f"{resistance} ohm at {current} A drops more than the open-circuit voltage of"
            f" {voltage} V"
        )


@values.register
def _(element: Coupling) -> Iterator[str]:
    if not math.isfinite(element.mutual):
        yield f"mutual is {element.mutual}"
    if element.first == element.second:
        yield f"couples {element.first!r} with itself"


@values.register
def _(element: Line) -> Iterator[str]:
    n = len(element.near)
    per_mode = {
        "impedance": element.impedance,
        "delay": element.delay,
        "resistance": element.resistance,
    }
    sizes = {"far": len(element.far), **{name: len(value) for name, value in per_mode.items()}}
    for name, size in sizes.items():
        if size != n:
            yield f"{n} near ends but {size} of {name}"
    yield from _modes(element, n)
    for name, numbers in per_mode.items():
        for value in numbers:
            enough = value > 0 if name in ("impedance", "delay") else value >= 0
            if not (math.isfinite(value) and enough):
                yield f"{name} is {value}"


def _modes(line: Line, n: int) -> Iterator[str]:
    if n == 0:
        yield "has no conductor"
    elif [len(row) for row in line.voltage_modes] != [n] * n:
        yield f"voltage_modes is not {n} by {n}"
    elif not np.all(np.isfinite(line.modes)) or np.linalg.cond(line.modes) > 1e9:
        yield "voltage_modes cannot be inverted"


def _positive(**numbers: float) -> Iterator[str]:
    for name, value in numbers.items():
        if not (math.isfinite(value) and value > 0):
            yield f"{name} is {value}"


def _couplings(network: Network) -> Iterator[str]:
    """Each pair below 1, and all of them together physically possible: no energy below zero."""
    inductances = {
        e.name: e.inductance
        for e in network.elements
        if isinstance(e, Inductor) and e.inductance > 0
    }
    couplings = [e for e in network.elements if isinstance(e, Coupling)]
    order = {name: k for k, name in enumerate(inductances)}
    matrix = np.eye(len(order))
    for coupling in couplings:
        for name in (coupling.first, coupling.second):
            if name not in inductances:
                yield f"coupling {coupling.name!r}: no inductor is named {name!r}"
                return
        factor = coupling.mutual / math.sqrt(
            inductances[coupling.first] * inductances[coupling.second]
        )
        if not abs(factor) < 1:
            yield f"coupling {coupling.name!r}: factor {factor:.4g} is not below 1"
            return
        i, j = order[coupling.first], order[coupling.second]
        matrix[i, j] = matrix[j, i] = factor
    if couplings and np.linalg.eigvalsh(matrix)[0] <= 0:
        names = ", ".join(repr(coupling.name) for coupling in couplings)
        yield f"couplings {names} together would store negative energy"


def _probes(network: Network) -> Iterator[str]:
    """Probes must point at nodes that exist, or the deck would quietly create them."""
    known = set(network.nodes())
    for probe in network.terminals:
        for node in (probe.a, probe.b):
            if node not in known:
                yield f"{probe.equipment!r}, {probe.pair!r}: no node is named {node!r}"
