"""A march through a network, in stretches of one step each."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import Capacitor, Inductor, Insulation, SparkGap
from surgesim.oracle.check import check_count
from surgesim.oracle.devices import devices_of, non_linear
from surgesim.oracle.kernel import (
    AT_THE_END,
    NO_ROOM,
    NO_SOLUTION,
    TOO_LONG,
    TOO_SHORT,
    march,
    solved,
)
from surgesim.oracle.layout import Layout, of_kind
from surgesim.oracle.matrix import inductances, port_shares, standing_matrix, step_matrix
from surgesim.oracle.records import Control, Course, Discharges, Linear, Memory, Sources
from surgesim.oracle.tables import linear_part, pairs_of

Array = NDArray[np.float64]

LEAST = 1.0
"""Volt and ampere that anything counts for at least where steps are chosen: before a surge has
come anywhere there is nothing but rounding to follow."""


@dataclass
class March:
    """From rest at t = 0, on and on; ``sources`` are the network's, for as long as it goes.

    ``finest`` is the shortest step in s there is; the others are twice, four times ... as long.
    """

    network: Network
    layout: Layout
    sources: Sources
    finest: float
    course: Course
    memory: Memory
    row: int = 0
    level: int = 0
    _linear: dict[tuple[int, frozenset[str]], Linear] = field(default_factory=dict)

    def until(
        self,
        stop: float,
        *,
        coarsest: int = 0,
        bend: float = np.inf,
        lumped: frozenset[str] = frozenset(),
    ) -> None:
        """Go on to the first point at or after ``stop`` (s), some lines ``lumped``.

        Steps are at most ``finest`` times two to the ``coarsest``, and as short as it takes for
        nothing to be further from straight within a step than ``bend``, a share of its size.
        """
        devices = devices_of(self.network, self.layout)
        ended = TOO_SHORT
        while ended != AT_THE_END:
            self.level = min(self.level, coarsest)
            control = Control(
                stop=stop - 1e-6 * self.finest,  # rounding makes no step more
                bend=bend,
                finest=self.level == 0,
                coarsest=self.level == coarsest,
            )
            linear = self._of(self.level, lumped)
            self.row, ended = march(linear, devices, self.memory, self.course, self.row, control)
            self._next(ended, stop)

    def _next(self, ended: int, stop: float) -> None:
        """What it takes to go on to ``stop`` (s) after a march that ended so."""
        if ended == TOO_LONG:
            self.level -= 1
        elif ended == TOO_SHORT:
            self.level += 1
        elif ended == NO_ROOM:
            check_count(len(self.course.time), stop=stop)
            self.course = _with_room(self.course, 2 * len(self.course.time))
        elif ended == NO_SOLUTION:
            at = self.course.time[self.row + 1]
            raise EngineError(f"the second solver found no solution at t = {at:g} s")

    def _of(self, level: int, lumped: frozenset[str]) -> Linear:
        if (level, lumped) not in self._linear:
            step = self.finest * 2.0**level
            matrix = step_matrix(self.network, self.layout, step=step, lumped=lumped)
            self._linear[level, lumped] = linear_part(
                self.network,
                self.layout,
                matrix,
                sources=self.sources,
                step=step,
                lumped=lumped,
            )
        return self._linear[level, lumped]

    def so_far(self) -> Course:
        """Every point there is."""
        return Course(*(each[: self.row + 1] for each in self.course))


def from_rest(
    network: Network, layout: Layout, sources: Sources, *, finest: float, room: int
) -> March:
    """A march that stands at t = 0, with room for so many points to begin with."""
    start, parameter = _at_rest(network, layout, sources)
    course = _with_room(_beginning(network, layout, start), room)
    memory = _memory(network, layout, start, parameter)
    return March(
        network=network,
        layout=layout,
        sources=sources,
        finest=finest,
        course=course,
        memory=memory,
    )


def _at_rest(network: Network, layout: Layout, sources: Sources) -> tuple[Array, Array]:
    """The unknowns before the surge, with the remote earth's zero, and the devices' w."""
    matrix = standing_matrix(network, layout)
    standing = linear_part(network, layout, matrix, sources=sources, step=1.0)
    right = np.zeros(layout.size + 1)
    np.subtract.at(right, sources.a, sources.amperes[0])
    np.add.at(right, sources.b, sources.amperes[0])
    right[sources.row] = sources.volts[0]
    unknowns = np.zeros(layout.size + 1)
    parameter = np.zeros(len(non_linear(network)))
    sound = np.zeros(len(of_kind(network, Insulation)))
    devices = devices_of(network, layout)
    dark = np.zeros(len(devices.gaps.sparkover))
    # a z of 0, whatever it is foreseen to hold
    going = Discharges(dark, devices.gaps.sparkover, dark)
    if not solved(standing, devices, parameter, sound, sound, going, 0.0, right, unknowns):
        raise EngineError("the second solver found no state at rest before the surge")
    return unknowns, parameter


def _memory(network: Network, layout: Layout, start: Array, parameter: Array) -> Memory:
    """What the state at rest leaves for the first step."""
    inductors = [layout.branch[inductor.name] for inductor in of_kind(network, Inductor)]
    ends = [layout.ends(capacitor) for capacitor in of_kind(network, Capacitor)]
    return Memory(
        voltage=np.array([start[a] - start[b] for a, b in ends], dtype=np.float64),
        flux=inductances(network) @ start[inductors] if inductors else np.zeros(0),
        parameter=parameter,
        progress=np.zeros(len(of_kind(network, Insulation))),
        discharge=np.zeros(len(of_kind(network, SparkGap))),
        largest=np.full(layout.size + len(layout.ports) + len(pairs_of(network, layout)), LEAST),
    )


def _beginning(network: Network, layout: Layout, start: Array) -> Course:
    """The one point at t = 0."""
    volts, pairs = port_shares(layout) @ start, pairs_of(network, layout)
    impedance = np.array([port.line.impedance[port.mode] for port in layout.ports])
    leaving = volts + impedance * start[layout.first_port : layout.size]
    return Course(
        time=np.zeros(1),
        unknowns=start[None, :],
        port_voltage=volts[None, :],
        leaving=leaving[None, :],
        across=(start[pairs[:, 0]] - start[pairs[:, 1]])[None, :],
        state=np.zeros((1, len(of_kind(network, Insulation)))),
        discharge=np.zeros((1, len(of_kind(network, SparkGap)))),
    )


def _with_room(course: Course, points: int) -> Course:
    """The same course with room for so many points in all."""
    return Course(*(_longer(each, points) for each in course))


def _longer(values: Array, points: int) -> Array:
    longer = np.zeros((points, *values.shape[1:]))
    longer[: len(values)] = values
    return longer
