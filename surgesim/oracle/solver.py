"""Solving a network: the state at rest, then the march, then the names back."""

from __future__ import annotations

import math
import time as clock

import numpy as np
from numpy.typing import NDArray

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import Inductor, Insulation
from surgesim.network.waveforms import Waveforms
from surgesim.oracle.check import check
from surgesim.oracle.devices import devices_of, non_linear
from surgesim.oracle.kernel import NEVER, march, solved
from surgesim.oracle.layout import Layout, large_capacitors, lay_out, of_kind
from surgesim.oracle.matrix import inductances, modal_share, standing_matrix, step_matrix
from surgesim.oracle.records import Course, Devices, Linear, Memory
from surgesim.oracle.tables import linear_part

Array = NDArray[np.float64]

FEWEST = 4
"""Steps the shortest delay of a line is worth."""


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

    The sources' values at t = 0 stand on the network for ever before. Beyond what every
    engine hands back, ``NAME/state`` among the voltages is an Insulation's state: 0 sound,
    1 arc. EngineError where there is no answer to trust.
    """
    begun = clock.perf_counter()
    check(network, step=step, stop=stop)
    layout, times = lay_out(network), _times(step, stop)
    devices = devices_of(network, layout)
    matrix = step_matrix(network, layout, step=step)
    linear = linear_part(network, layout, matrix, time=times, step=step)
    start, parameter = _at_rest(network, layout, devices, linear)
    memory = _memory(network, layout, linear, start, parameter, step)
    course = _course(network, layout, len(times), start)
    failed = march(linear, devices, memory, course, step / 2.0)
    if failed != NEVER:
        raise EngineError(f"the second solver found no solution at t = {times[failed]:g} s")
    return Waveforms(
        window="front",
        time=times,
        voltages=_voltages(network, layout, course),
        currents=_currents(network, layout, course),
        step=step,
        stop=float(times[-1]),
        engine="oracle",
        options="trapezoidal, fixed step",
        elapsed=clock.perf_counter() - begun,
    )


def _times(step: float, stop: float) -> Array:
    """Whole steps from zero; a ``stop`` that misses one by rounding only counts as on it."""
    last = math.ceil(stop / step * (1.0 - 1e-12))
    return step * np.arange(last + 1, dtype=np.float64)


def _at_rest(
    network: Network, layout: Layout, devices: Devices, linear: Linear
) -> tuple[Array, Array]:
    """The unknowns before the surge, with the remote earth's zero, and the devices' w."""
    matrix = standing_matrix(network, layout)
    standing = linear_part(network, layout, matrix, time=np.zeros(1), step=1.0)
    right = np.zeros(layout.size + 1)
    sources = linear.sources
    np.subtract.at(right, sources.a, sources.amperes[:, 0])
    np.add.at(right, sources.b, sources.amperes[:, 0])
    right[sources.row] = sources.volts[:, 0]
    unknowns, memory = np.zeros(layout.size + 1), _blank(network)
    sound = np.zeros(len(memory.progress))
    if not solved(standing, devices, memory, sound, sound, 0.0, right, unknowns):
        raise EngineError("the second solver found no state at rest before the surge")
    return unknowns, memory.parameter


def _blank(network: Network) -> Memory:
    nothing = np.zeros(0)
    return Memory(
        capacitor=nothing,
        large_capacitor=nothing,
        inductor=nothing,
        parameter=np.zeros(len(non_linear(network))),
        progress=np.zeros(len(of_kind(network, Insulation))),
    )


def _memory(
    network: Network, layout: Layout, linear: Linear, start: Array, parameter: Array, step: float
) -> Memory:
    """What the state at rest leaves for the first step."""
    capacitors, inductors = linear.capacitors, linear.inductors
    charged = capacitors.conductance * (start[capacitors.a] - start[capacitors.b])
    flux = np.zeros(0)
    if of_kind(network, Inductor):
        flux = inductances(network) @ start[inductors.row]
    return _blank(network)._replace(
        capacitor=charged,
        large_capacitor=_standing_voltages(network, layout, start),
        inductor=start[inductors.b] - start[inductors.a] - 2.0 / step * flux,
        parameter=parameter,
    )


def _standing_voltages(network: Network, layout: Layout, start: Array) -> Array:
    """Voltage of every large capacitor at rest, V."""
    ends = [layout.ends(capacitor) for capacitor in large_capacitors(network)]
    return np.array([start[a] - start[b] for a, b in ends], dtype=np.float64)


def _course(network: Network, layout: Layout, length: int, start: Array) -> Course:
    """Room for every step, the first one filled with the state at rest."""
    course = Course(
        unknowns=np.zeros((length, layout.size + 1)),
        port_voltage=np.zeros((length, len(layout.ports))),
        leaving=np.zeros((length, len(layout.ports))),
        state=np.zeros((length, len(of_kind(network, Insulation)))),
    )
    course.unknowns[0] = start
    for k, port in enumerate(layout.ports):
        ends = start[[layout.node[node] for node in port.ends]] - start[layout.node[port.reference]]
        current = start[layout.first_port + k]
        dropped = port.line.resistance[port.mode] / 2.0 * current
        course.port_voltage[0, k] = modal_share(port) @ ends - dropped
        course.leaving[0, k] = course.port_voltage[0, k] + port.line.impedance[port.mode] * current
    return course


def _voltages(network: Network, layout: Layout, course: Course) -> dict[str, Array]:
    voltages = {node: course.unknowns[:, k] for node, k in layout.node.items() if k < layout.size}
    for k, port in enumerate(layout.ports):
        voltages[port.name] = course.port_voltage[:, k]
    for k, insulation in enumerate(of_kind(network, Insulation)):
        voltages[f"{insulation.name}/state"] = course.state[:, k]
    return voltages


def _currents(network: Network, layout: Layout, course: Course) -> dict[str, Array]:
    unasked = {capacitor.name for capacitor in large_capacitors(network)}
    currents = {
        name: course.unknowns[:, k] for name, k in layout.branch.items() if name not in unasked
    }
    for k, port in enumerate(layout.ports, layout.first_port):
        currents[port.name] = course.unknowns[:, k]
    return currents
