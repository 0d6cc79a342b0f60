"""What every builder hands back, and the pieces they all use."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from surgesim.network.elements import GROUND, AnyElement, Inductor, Resistor
from surgesim.network.probes import ArresterProbe, EarthProbe, ModeProbe, TerminalProbe
from surgesim.scenario.terminals import Terminal

DAMPING_TIME = 1e-9
"""L/R of the resistor across every lumped inductance, s. It stands for the loss that any real
lead has at tens of megahertz and keeps a kink in a current from ringing for ever; at a front
of 0.25 us it carries less than half a percent of the current."""


@dataclass(frozen=True, slots=True)
class Parts:
    """Elements of one thing of the scenario and what is to be read off them."""

    elements: tuple[AnyElement, ...]
    terminals: tuple[TerminalProbe, ...] = ()
    arresters: tuple[ArresterProbe, ...] = ()
    earths: tuple[EarthProbe, ...] = field(default=())
    modes: tuple[ModeProbe, ...] = field(default=())


def node(terminal: Terminal) -> str:
    """The node of a terminal of the scenario."""
    return GROUND if terminal.is_remote_earth else at(terminal.place, terminal.name)


def at(place: str, name: str) -> str:
    """The node of the conductor or bar ``name`` at ``place``."""
    return f"{place}/{name}"


def label_of(kind: str, name: str) -> str:
    """What the elements and inner nodes of the thing ``name`` of a section begin with.

    A slot may be called like a place, a supply like a cable. The section in front keeps their
    elements apart; and an inner node has two slashes or more where a place's has one.
    """
    return f"{kind}/{name}"


def inductance(name: str, a: str, b: str, henry: float, group: str) -> Iterator[AnyElement]:
    """An inductance with its damping resistor."""
    yield Inductor(name=name, a=a, b=b, inductance=henry, group=group)
    ohm = henry / DAMPING_TIME
    yield Resistor(name=f"{name}/damping", a=a, b=b, resistance=ohm, group=group)
