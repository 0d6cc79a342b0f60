"""Where everything stands in the vector of unknowns.

First the node voltages, then one current for each ammeter, voltage source and inductor, then
one current for each port of a line: mode by mode, its near end and its far end. The remote
earth has the index after the last unknown, where a zero is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeVar

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Element,
    Inductor,
    Line,
    VoltageSource,
)

Kind = TypeVar("Kind", bound=AnyElement)

WITH_CURRENT = (Ammeter, VoltageSource, Inductor)


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """One end of one mode; ``ends`` are the conductors' nodes at that end."""

    line: Line
    end: Literal["near", "far"]
    mode: int

    @property
    def name(self) -> str:
        """As waveforms call it."""
        return f"{self.line.name}/{self.end}/{self.mode}"

    @property
    def ends(self) -> tuple[str, ...]:
        return self.line.near if self.end == "near" else self.line.far


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Indices of the unknowns; ``size`` of them, and the remote earth at index ``size``."""

    node: dict[str, int]
    branch: dict[str, int]
    ports: tuple[Port, ...]
    first_port: int

    @property
    def size(self) -> int:
        return self.first_port + len(self.ports)

    def ends(self, element: Element) -> tuple[int, int]:
        """Indices of the voltages at ``a`` and ``b``."""
        return self.node[element.a], self.node[element.b]


def lay_out(network: Network) -> Layout:
    """Number the unknowns of a network."""
    nodes = [node for node in network.nodes() if node != GROUND]
    branches = [e.name for e in network.elements if isinstance(e, WITH_CURRENT)]
    ports = tuple(
        Port(line=line, end=end, mode=mode)
        for line in network.lines
        for mode in range(len(line.near))
        for end in ("near", "far")
    )
    first_port = len(nodes) + len(branches)
    places = {node: k for k, node in enumerate(nodes)}
    places[GROUND] = first_port + len(ports)
    return Layout(
        node=places,
        branch={name: len(nodes) + k for k, name in enumerate(branches)},
        ports=ports,
        first_port=first_port,
    )


def of_kind(network: Network, kind: type[Kind]) -> list[Kind]:
    """The network's elements of one kind, in order."""
    return [element for element in network.elements if isinstance(element, kind)]
