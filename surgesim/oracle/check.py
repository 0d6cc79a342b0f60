"""What the solver refuses before it starts."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

import numpy as np

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
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
from surgesim.oracle.layout import of_kind
from surgesim.oracle.matrix import inductances

MOST_STEPS = 5e6
"""Of each step every unknown is kept: more would be gigabytes."""

KNOWN = (
    Ammeter,
    Capacitor,
    Clamp,
    Coupling,
    CurrentSource,
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

POSITIVE: dict[type, tuple[str, ...]] = {
    Resistor: ("resistance",),
    Inductor: ("inductance",),
    Capacitor: ("capacitance",),
    Clamp: ("voltage", "resistance"),
    PhotovoltaicSource: ("open_circuit_voltage", "resistance"),
    IonisingSoil: ("resistance", "critical"),
    Insulation: ("level", "lag", "resistance"),
    Line: ("impedance", "delay"),
}

NOT_NEGATIVE: dict[type, tuple[str, ...]] = {
    Line: ("resistance",),
    PhotovoltaicSource: ("short_circuit_current",),
    Insulation: ("arc_voltage",),
}


def check(network: Network, *, step: float, stop: float) -> None:
    """Raise EngineError for a network or a step that has no trustworthy answer."""
    if not (0.0 < step < stop < math.inf):
        raise EngineError(f"expected 0 < step < stop but got step={step:g} s and stop={stop:g} s")
    _check_names(network)
    for element in network.elements:
        _check_kind(element)
        for said in _faults(element):
            raise EngineError(f"{element.name}: {said}")
        if isinstance(element, Line):
            _check_line(element, step)
    _check_inductors(network)
    _check_paths(network)


def check_count(steps: float, *, stop: float) -> None:
    """Raise EngineError if so many steps until ``stop`` (s) are too many."""
    if steps > MOST_STEPS:
        raise EngineError(f"{stop:g} s takes {steps:.3g} steps, more than {MOST_STEPS:.3g}")


def _check_names(network: Network) -> None:
    names = [element.name for element in network.elements]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise EngineError(f"two elements of the same name: {twice[0]}")


def _check_kind(element: AnyElement) -> None:
    if not isinstance(element, KNOWN):
        kind = type(element).__name__
        raise EngineError(f"{element.name}: the second solver does not know a {kind}")


def _faults(element: AnyElement) -> Iterator[str]:
    for field in dataclasses.fields(element):
        values = np.atleast_1d(getattr(element, field.name)).ravel()
        if values.dtype.kind not in "fiu":
            continue
        bad = ~np.isfinite(values)
        if field.name in POSITIVE.get(type(element), ()):
            bad |= values <= 0.0
        if field.name in NOT_NEGATIVE.get(type(element), ()):
            bad |= values < 0.0
        if bad.any():
            yield f"{field.name} is {values[bad][0]:g}"


def _check_line(line: Line, step: float) -> None:
    n = len(line.near)
    rows = (line.far, line.impedance, line.delay, line.resistance)
    if any(len(row) != n for row in rows) or line.modes.shape != (n, n):
        raise EngineError(f"{line.name}: its parts differ in length")
    if min(line.delay) < step * (1.0 - 1e-9):
        raise EngineError(
            f"{line.name}: a step of {step:g} s is longer than its delay of {min(line.delay):g} s",
            hint="choose the step by fitting_step",
        )


def _check_inductors(network: Network) -> None:
    inductors = {inductor.name for inductor in of_kind(network, Inductor)}
    for coupling in of_kind(network, Coupling):
        if not {coupling.first, coupling.second} <= inductors:
            raise EngineError(f"{coupling.name}: couples something that is no inductor")
    if inductors and np.linalg.eigvalsh(inductances(network))[0] <= 0.0:
        raise EngineError("inductors are coupled more closely than one to one")


def _check_paths(network: Network) -> None:
    """Every node must reach the remote earth where direct current flows."""
    reached = {GROUND}
    links = [link for element in network.elements for link in _links(element)]
    growing = True
    while growing:
        new = {end for link in links if reached & set(link) for end in link} - reached
        reached |= new
        growing = bool(new)
    lost = [node for node in network.nodes() if node not in reached]
    if lost:
        raise EngineError(f"{lost[0]}: has no path to the remote earth for direct current")


def _links(element: AnyElement) -> list[tuple[str, str]]:
    """Pairs of nodes between which an element lets direct current through."""
    if isinstance(element, Line):
        return list(zip(element.near, element.far, strict=True))
    if isinstance(element, Element) and not isinstance(element, Capacitor | CurrentSource | Clamp):
        return [(element.a, element.b)]
    return []
