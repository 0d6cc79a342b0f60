"""A network's linear part as the arrays the march runs on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor, CurrentSource, Element, Inductor, VoltageSource
from surgesim.oracle.devices import non_linear
from surgesim.oracle.layout import Layout, of_kind
from surgesim.oracle.matrix import all_pass, inverse, port_shares
from surgesim.oracle.records import Capacitors, Inductors, Linear, Ports, Sources

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


def linear_part(
    network: Network,
    layout: Layout,
    matrix: Array,
    *,
    sources: Sources,
    step: float,
    lumped: frozenset[str] = frozenset(),
) -> Linear:
    """The network without its devices, with ``matrix`` for its equations."""
    inverted = inverse(matrix)
    incidence = _incidence(network, layout)
    columns = inverted @ incidence
    return Linear(
        step=step,
        volts=len(layout.node) - 1,
        pairs=pairs_of(network, layout),
        inverse=np.ascontiguousarray(inverted.T),
        columns=np.ascontiguousarray(columns.T),
        coupling=np.ascontiguousarray(incidence.T @ columns),
        sources=sources,
        capacitors=_capacitors(network, layout, step),
        inductors=_inductors(network, layout),
        ports=_ports(layout, step, lumped),
    )


def pairs_of(network: Network, layout: Layout) -> Indices:
    """Ends of every capacitor and device, (q, 2)."""
    elements = [*of_kind(network, Capacitor), *non_linear(network)]
    return _indices([end for each in elements for end in layout.ends(each)]).reshape(-1, 2)


def _incidence(network: Network, layout: Layout) -> Array:
    """Which unknowns each device's voltage is made of, (n, m)."""
    devices = non_linear(network)
    incidence = np.zeros((layout.size + 1, len(devices)))
    for k, device in enumerate(devices):
        a, b = layout.ends(device)
        incidence[a, k] += 1.0
        incidence[b, k] -= 1.0
    return incidence[:-1]


def sources_of(network: Network, layout: Layout, time: Array) -> Sources:
    """A network's sources by their values at some moments."""
    pushing = of_kind(network, CurrentSource)
    holding = of_kind(network, VoltageSource)
    a, b = _ends(layout, pushing)
    return Sources(
        time=time,
        a=a,
        b=b,
        amperes=_columns([source.waveform.value(time) for source in pushing], time),
        row=_indices([layout.branch[source.name] for source in holding]),
        volts=_columns([_volts(source, time) for source in holding], time),
    )


def _volts(source: VoltageSource, time: Array) -> Array:
    moving = source.waveform.value(time) if source.waveform else 0.0
    return source.offset + np.zeros_like(time) + moving


def _capacitors(network: Network, layout: Layout, step: float) -> Capacitors:
    capacitors = of_kind(network, Capacitor)
    impedance = np.array([step / (2.0 * each.capacitance) for each in capacitors], dtype=float)
    rows = _indices([layout.branch[each.name] for each in capacitors])
    return Capacitors(row=rows, impedance=impedance)


def _inductors(network: Network, layout: Layout) -> Inductors:
    inductors = of_kind(network, Inductor)
    a, b = _ends(layout, inductors)
    return Inductors(row=_indices([layout.branch[each.name] for each in inductors]), a=a, b=b)


def _ports(layout: Layout, step: float, lumped: frozenset[str]) -> Ports:
    ports = layout.ports
    return Ports(
        row=layout.first_port + np.arange(len(ports)),
        other=np.arange(len(ports)) ^ 1,
        impedance=np.array([port.line.impedance[port.mode] for port in ports], dtype=float),
        delay=np.array([port.line.delay[port.mode] for port in ports], dtype=float),
        lumped=np.array([port.line.name in lumped for port in ports], dtype=np.bool_),
        across=np.array([all_pass(port, step) for port in ports], dtype=float),
        share=np.ascontiguousarray(port_shares(layout).T),
    )


def _ends(layout: Layout, elements: Sequence[Element]) -> tuple[Indices, Indices]:
    ends = [layout.ends(element) for element in elements]
    return _indices([a for a, _ in ends]), _indices([b for _, b in ends])


def _indices(values: list[int]) -> Indices:
    return np.array(values, dtype=np.int64)


def _columns(values: list[Array], time: Array) -> Array:
    rows = np.array(values, dtype=np.float64).reshape(len(values), len(time))
    return np.ascontiguousarray(rows.T)
