"""The constant matrix of nodal analysis, for a step of the trapezoidal rule and at rest.

Rows of nodes say that currents leaving sum to zero; rows of branches are the branches'
own equations. Ho, Ruehli, Brennan, "The modified nodal approach to network analysis", IEEE
Trans. Circuits and Systems 22(6), 1975, with the companion circuits of Dommel, "Digital
computer solution of electromagnetic transients", IEEE Trans. PAS 88(4), 1969.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor, Coupling, Element, Inductor, Resistor
from surgesim.oracle.devices import non_linear
from surgesim.oracle.kernel import PARKED
from surgesim.oracle.layout import (
    Layout,
    Port,
    of_kind,
    with_current,
)

Array = NDArray[np.float64]

WIRE = 1e-9
"""Ohm in series with every inductor and line at rest: how a current divides between wires
without resistance has no answer otherwise."""

INVERTED = 1e-5
"""Largest miss of matrix times inverse from one. Beyond it the answers have few digits left: where
only megohms lead away from conductors of microhms, at rest, it comes to 2e-6."""


def step_matrix(network: Network, layout: Layout, *, step: float, lumped: frozenset[str]) -> Array:
    """Matrix of one step of ``step`` s, some lines ``lumped``."""
    matrix = _resistive(network, layout)
    for capacitor in of_kind(network, Capacitor):
        row = layout.branch[capacitor.name]
        matrix[row, row] -= step / (2.0 * capacitor.capacitance)
    rows = [layout.branch[inductor.name] for inductor in of_kind(network, Inductor)]
    matrix[np.ix_(rows, rows)] -= 2.0 / step * inductances(network)
    _waves(matrix, layout, step, lumped)
    return matrix[:-1, :-1]


def _waves(matrix: Array, layout: Layout, step: float, lumped: frozenset[str]) -> None:
    """At every port v - Z i is the wave that arrives: known, but for a lumped line's share."""
    share = port_shares(layout)
    for k, port in enumerate(layout.ports):
        row, other = layout.first_port + k, k ^ 1
        across = all_pass(port, step) if port.line.name in lumped else 0.0
        impedance = port.line.impedance[port.mode]
        matrix[row] = share[k] - across * share[other]
        matrix[row, row] -= impedance
        matrix[row, layout.first_port + other] -= across * impedance


def port_shares(layout: Layout) -> Array:
    """What every unknown adds to each port's voltage, behind its resistance, (p, n + 1)."""
    shares = np.zeros((len(layout.ports), layout.size + 1))
    for k, port in enumerate(layout.ports):
        for node, share in _winding(port):
            shares[k, layout.node[node]] += share
        shares[k, layout.first_port + k] -= port.line.resistance[port.mode] / 2.0
    shares[:, -1] = 0.0
    return shares


def all_pass(port: Port, step: float) -> float:
    """How much of what leaves the other port in a step arrives in it, through a lumped mode.

    The bilinear transform of (1 - s d/2) / (1 + s d/2): (1 - d/h) / (1 + d/h).
    """
    share = port.line.delay[port.mode] / step
    return (1.0 - share) / (1.0 + share)


def standing_matrix(network: Network, layout: Layout) -> Array:
    """Matrix at rest: capacitors open, inductors and lines wires."""
    matrix = _resistive(network, layout)
    for inductor in of_kind(network, Inductor):
        row = layout.branch[inductor.name]
        matrix[row, row] -= WIRE
    for capacitor in of_kind(network, Capacitor):
        row = layout.branch[capacitor.name]
        matrix[row, :] = 0.0
        matrix[row, row] = 1.0
    for pair in range(layout.first_port, layout.size, 2):
        near, far = layout.ports[pair - layout.first_port : pair - layout.first_port + 2]
        _into_row(matrix, layout, pair, near, sign=1.0)
        _into_row(matrix, layout, pair, far, sign=-1.0)
        matrix[pair, pair] -= near.line.resistance[near.mode] + WIRE
        matrix[pair + 1, [pair, pair + 1]] = 1.0
    return matrix[:-1, :-1]


def inverse(matrix: Array) -> Array:
    """The inverse, refused where little of it would be true."""
    try:
        inverted = np.linalg.inv(matrix)
    except np.linalg.LinAlgError:
        inverted = np.full_like(matrix, np.inf)
    with np.errstate(invalid="ignore", over="ignore"):
        missed = np.max(np.abs(matrix @ inverted - np.eye(len(matrix))), initial=0.0)
    if not missed <= INVERTED:
        raise EngineError(
            "the network has no unique solution",
            hint="look for voltage sources or ammeters that form a loop",
        )
    return np.ascontiguousarray(inverted)


def inductances(network: Network) -> Array:
    """Inductors' own and mutual inductances in H, shape (n, n), in the network's order."""
    inductors = of_kind(network, Inductor)
    place = {inductor.name: k for k, inductor in enumerate(inductors)}
    matrix = np.diag([inductor.inductance for inductor in inductors])
    for coupling in of_kind(network, Coupling):
        first, second = place[coupling.first], place[coupling.second]
        matrix[first, second] += coupling.mutual
        matrix[second, first] += coupling.mutual
    return matrix


def modal_share(port: Port) -> Array:
    """What each conductor's voltage at a port's end adds to the mode's, shape (n,).

    The same numbers are the mode's current in each conductor.
    """
    return np.asarray(np.linalg.inv(port.line.modes)[port.mode])


def _resistive(network: Network, layout: Layout) -> Array:
    """What step and rest have in common, with a last row and column for the remote earth."""
    matrix = np.zeros((layout.size + 1, layout.size + 1))
    for resistor in of_kind(network, Resistor):
        _conductance(matrix, layout.ends(resistor), 1.0 / resistor.resistance)
    for device in non_linear(network):
        _conductance(matrix, layout.ends(device), PARKED)
    for element in network.elements:
        if isinstance(element, Element) and with_current(element):
            row, (a, b) = layout.branch[element.name], layout.ends(element)
            for end, sign in ((a, 1.0), (b, -1.0)):
                matrix[end, row] += sign
                matrix[row, end] += sign
    for row, port in enumerate(layout.ports, layout.first_port):
        for node, share in _winding(port):
            matrix[layout.node[node], row] += share
    return matrix


def _conductance(matrix: Array, ends: tuple[int, int], siemens: float) -> None:
    a, b = ends
    matrix[a, a] += siemens
    matrix[b, b] += siemens
    matrix[a, b] -= siemens
    matrix[b, a] -= siemens


def _into_row(matrix: Array, layout: Layout, row: int, port: Port, *, sign: float) -> None:
    """Add the modal voltage at a port's end to an equation."""
    for node, share in _winding(port):
        matrix[row, layout.node[node]] += sign * share


def _winding(port: Port) -> list[tuple[str, float]]:
    """Every node a port's voltage is made of and its current goes to: what enters by the
    conductors leaves by the reference."""
    shares = [float(share) for share in modal_share(port)]
    return [*zip(port.ends, shares, strict=True), (port.reference, -sum(shares))]
