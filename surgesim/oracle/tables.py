"""A network's linear part as the arrays the march runs on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import CurrentSource, Element, Inductor, VoltageSource
from surgesim.oracle.devices import non_linear
from surgesim.oracle.layout import Layout, large_capacitors, of_kind, small_capacitors
from surgesim.oracle.matrix import inverse
from surgesim.oracle.records import Capacitors, Inductors, LargeCapacitors, Linear, Ports, Sources

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

WHOLE = 1e-6
"""Part of a step by which a delay may miss a whole number of steps and still count as whole:
a step cut from the delay misses it by rounding."""


def linear_part(
    network: Network, layout: Layout, matrix: Array, *, time: Array, step: float
) -> Linear:
    """The network without its devices, with ``matrix`` for its equations."""
    inverted = inverse(matrix)
    incidence = _incidence(network, layout)
    columns = inverted @ incidence
    return Linear(
        inverse=inverted,
        columns=np.ascontiguousarray(columns),
        coupling=np.ascontiguousarray(incidence.T @ columns),
        sources=_sources(network, layout, time),
        capacitors=_capacitors(network, layout, step),
        large_capacitors=_large_capacitors(network, layout, step),
        inductors=_inductors(network, layout),
        ports=_ports(layout, step),
    )


def _incidence(network: Network, layout: Layout) -> Array:
    """Which unknowns each device's voltage is made of, (n, m)."""
    devices = non_linear(network)
    incidence = np.zeros((layout.size + 1, len(devices)))
    for k, device in enumerate(devices):
        a, b = layout.ends(device)
        incidence[a, k] += 1.0
        incidence[b, k] -= 1.0
    return incidence[:-1]


def _sources(network: Network, layout: Layout, time: Array) -> Sources:
    pushing = of_kind(network, CurrentSource)
    holding = of_kind(network, VoltageSource)
    a, b = _ends(layout, pushing)
    return Sources(
        a=a,
        b=b,
        amperes=_rows([source.waveform.value(time) for source in pushing], time),
        row=_indices([layout.branch[source.name] for source in holding]),
        volts=_rows([_volts(source, time) for source in holding], time),
    )


def _volts(source: VoltageSource, time: Array) -> Array:
    moving = source.waveform.value(time) if source.waveform else 0.0
    return source.offset + np.zeros_like(time) + moving


def _capacitors(network: Network, layout: Layout, step: float) -> Capacitors:
    capacitors = small_capacitors(network)
    a, b = _ends(layout, capacitors)
    conductance = np.array([2.0 * each.capacitance / step for each in capacitors], dtype=float)
    return Capacitors(a=a, b=b, conductance=conductance)


def _large_capacitors(network: Network, layout: Layout, step: float) -> LargeCapacitors:
    capacitors = large_capacitors(network)
    impedance = np.array([step / (2.0 * each.capacitance) for each in capacitors], dtype=float)
    rows = _indices([layout.branch[each.name] for each in capacitors])
    return LargeCapacitors(row=rows, impedance=impedance)


def _inductors(network: Network, layout: Layout) -> Inductors:
    inductors = of_kind(network, Inductor)
    a, b = _ends(layout, inductors)
    return Inductors(row=_indices([layout.branch[each.name] for each in inductors]), a=a, b=b)


def _ports(layout: Layout, step: float) -> Ports:
    ports = layout.ports
    steps = np.array([port.line.delay[port.mode] / step for port in ports], dtype=float)
    nearest = np.round(steps)
    steps = np.where(np.abs(steps - nearest) < WHOLE, nearest, steps)
    return Ports(
        row=layout.first_port + np.arange(len(ports)),
        other=np.arange(len(ports)) ^ 1,
        impedance=np.array([port.line.impedance[port.mode] for port in ports], dtype=float),
        whole=np.floor(steps).astype(np.int64),
        part=steps - np.floor(steps),
    )


def _ends(layout: Layout, elements: Sequence[Element]) -> tuple[Indices, Indices]:
    ends = [layout.ends(element) for element in elements]
    return _indices([a for a, _ in ends]), _indices([b for _, b in ends])


def _indices(values: list[int]) -> Indices:
    return np.array(values, dtype=np.int64)


def _rows(values: list[Array], time: Array) -> Array:
    return np.array(values, dtype=np.float64).reshape(len(values), len(time))
