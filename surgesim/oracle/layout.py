"""Where everything stands in the vector of unknowns.

First the node voltages, then one current for each ammeter, voltage source, inductor and
capacitor, then one for each port of a line: mode by mode, its near end and its far end. The
remote earth has the index after the last unknown, where a zero is kept.

A capacitor's current is an unknown and not a conductance times a change of voltage: in short
steps that would be thousands of siemens, and what rounding leaves of the voltage a current.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeVar

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Element,
    Inductor,
    Line,
    VoltageSource,
)

Kind = TypeVar("Kind", bound=AnyElement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """One end of one mode; ``ends`` are the conductors' nodes at that end, ``reference`` what
    their voltages are against."""

    line: Line
    end: Literal["near", "far"]
    mode: int

    @property
    def name(self) -> str:
        """As waveforms call it."""
        return f"{self.line.name}/{self.end}/{self.mode}"

    @property
    def ends(self) -> tuple[str, ...]:
        """Nodes of the conductors at this end of the line."""
        return self.line.near if self.end == "near" else self.line.far

    @property
    def reference(self) -> str:
        """Node that this end's voltages are against."""
        return self.line.near_reference if self.end == "near" else self.line.far_reference


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Indices of the unknowns; ``size`` of them, and the remote earth at index ``size``."""

    node: dict[str, int]
    branch: dict[str, int]
    ports: tuple[Port, ...]
    first_port: int

    @property
    def size(self) -> int:
        """Number of unknowns: voltages, then currents, then one for each port."""
        return self.first_port + len(self.ports)

    def ends(self, element: Element) -> tuple[int, int]:
        """Indices of the voltages at ``a`` and ``b``."""
        return self.node[element.a], self.node[element.b]


def lay_out(network: Network) -> Layout:
    """Number the unknowns of a network."""
    nodes = [node for node in network.nodes() if node != GROUND]
    branches = [element.name for element in network.elements if with_current(element)]
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


def with_current(element: AnyElement) -> bool:
    """Whether an element's current is an unknown."""
    return isinstance(element, Ammeter | VoltageSource | Inductor | Capacitor)


def of_kind(network: Network, kind: type[Kind]) -> list[Kind]:
    """The network's elements of one kind, in order."""
    return [element for element in network.elements if isinstance(element, kind)]
