"""Paths through a network at rest: what hangs in the air, and what circles without loss."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Element,
    Inductor,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
    Varistor,
    VoltageSource,
)

_CONDUCTING = (
    Ammeter, Inductor, IonisingSoil, PhotovoltaicSource, Resistor, Varistor, VoltageSource,
)  # fmt: skip
"""Elements that carry direct current; insulation's picoamperes are not called a path."""

_LOSSLESS = Ammeter, Inductor, VoltageSource


class _Groups:
    """Nodes joined into groups; each group is known by one of its nodes."""

    def __init__(self) -> None:
        self._above: dict[str, str] = {}

    def of(self, node: str) -> str:
        while node in self._above:
            node = self._above[node]
        return node

    def join(self, a: str, b: str) -> bool:
        """Join two nodes' groups; False when they were one already."""
        a, b = self.of(a), self.of(b)
        if a != b:
            self._above[a] = b
        return a != b


def without_path_to_earth(network: Network) -> list[str]:
    """Nodes no direct current can leave for remote earth: their state at rest is fiction."""
    groups = _Groups()
    for a, b in _conducting_ends(network):
        groups.join(a, b)
    earth = groups.of(GROUND)
    return [node for node in network.nodes() if groups.of(node) != earth]


def lossless_loops(network: Network) -> Iterator[tuple[str, ...]]:
    """Loops of wires, sources and inductors alone, by element names.

    The current around one at rest is undetermined, and ngspice's matrix is singular.
    """
    groups = _Groups()
    tree: dict[str, list[tuple[str, str]]] = {}
    for element in network.elements:
        if not isinstance(element, _LOSSLESS) or element.a == element.b:
            continue
        if groups.join(element.a, element.b):
            tree.setdefault(element.a, []).append((element.b, element.name))
            tree.setdefault(element.b, []).append((element.a, element.name))
        else:
            yield (*_way(tree, element.a, element.b), element.name)


def _conducting_ends(network: Network) -> Iterator[tuple[str, str]]:
    for element in network.elements:
        if isinstance(element, Line):
            yield from zip(element.near, element.far, strict=False)
        elif isinstance(element, Element) and isinstance(element, _CONDUCTING):
            yield element.a, element.b


def _way(tree: dict[str, list[tuple[str, str]]], start: str, goal: str) -> tuple[str, ...]:
    """Names of the elements between two nodes of one tree."""
    ways: list[tuple[str, tuple[str, ...]]] = [(start, ())]
    seen = {start}
    while ways:
        node, way = ways.pop()
        if node == goal:
            return way
        for other, name in tree.get(node, ()):
            if other not in seen:
                seen.add(other)
                ways.append((other, (*way, name)))
    return ()
