"""Lines in a row, where one goes on as the next and nothing else is at their joint.

The pieces of a route are such a row. They share their modes, so that between its two ends the
row is written mode by mode, without the transformers that a line by itself stands between.

Only the references of its pieces are in the way of a mode. With W = inv(voltage_modes) mode k sees
``t_k = sum_j W[k, j]`` of a reference's voltage, and as much of its current returns there. Scaled
by that, v/t and i t, it sees all of it: a line from the mode's node to its next, each end of
which has the reference for its other pole. A mode with no such share passes the references by.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import Element, Line

NONE = 1e-9
"""Share of the largest t below which a mode has none; rounding leaves 1e-15."""

LITTLE = 1e-2
"""Share of the largest t from which a mode may be scaled: between the two its impedance, which
grows as the square, would be beyond what an engine can hold beside the others. At a share of
0.0006 its state at rest had 24 kA in the soil where there were none; from 0.001 on, no such random
installation had more than a microampere."""


@dataclass(frozen=True, slots=True)
class Row:
    """Lines one after the other, near end to far end."""

    lines: tuple[Line, ...]

    @property
    def joints(self) -> frozenset[str]:
        """The conductors' nodes between the lines; of a single conductor they are its mode's."""
        lines = self.lines[:-1] if len(self.lines[0].near) > 1 else ()
        return frozenset(node for line in lines for node in line.far)

    @property
    def shares(self) -> NDArray[np.float64]:
        """t of every mode, 0 where a mode passes the references by."""
        shares = _shares(self.lines[0])
        return np.where(np.abs(shares) < NONE * np.max(np.abs(shares)), 0.0, shares)


def rows(network: Network) -> Iterator[Row]:
    """Every row of two lines or more."""
    met = _met(network)
    following = {line.near: line for line in network.lines if all(met[n] == 2 for n in line.near)}
    pairs = {
        line.name: following[line.far]
        for line in network.lines
        if line.far in following and _goes_on(line, following[line.far])
    }
    later = {line.name for line in pairs.values()}
    for line in network.lines:
        if line.name in pairs and line.name not in later:
            yield Row(tuple(_from(line, pairs)))


def _from(line: Line, pairs: dict[str, Line]) -> Iterator[Line]:
    yield line
    while line.name in pairs:
        line = pairs[line.name]
        yield line


def _goes_on(line: Line, following: Line) -> bool:
    alike = line.voltage_modes == following.voltage_modes
    return alike and line.name != following.name and _scales(line)


def _scales(line: Line) -> bool:
    shares = np.abs(_shares(line)) / np.max(np.abs(_shares(line)))
    return not np.any((shares >= NONE) & (shares < LITTLE))


def _shares(line: Line) -> NDArray[np.float64]:
    return np.asarray(np.linalg.inv(line.modes).sum(axis=1))


def _met(network: Network) -> Counter[str]:
    """How often a node is an end of something, or read off."""
    met: Counter[str] = Counter()
    for element in network.elements:
        if isinstance(element, Line):
            met.update((*element.near, *element.far))
            met.update(2 * (element.near_reference, element.far_reference))
        elif isinstance(element, Element):
            met.update((element.a, element.b))
    for terminal in network.terminals:
        met.update((terminal.a, terminal.b))
    return met
