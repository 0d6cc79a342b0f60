"""A whole network: its elements, what to read off it, and the surge that drives it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.network.elements import AnyElement, CurrentSource, Element, Line, VoltageSource
from surgesim.network.probes import (
    ArresterProbe,
    EarthProbe,
    ModeProbe,
    StruckProbe,
    TerminalProbe,
)
from surgesim.physics.generators import GeneratorFigures
from surgesim.physics.induced import Induced
from surgesim.physics.waveforms import Waveform


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Circuit of one case, engine-neutral, with remote earth as its reference.

    ``waveform`` is the surge, from which the engine takes its time windows. Where it comes out of
    a ``generator``, a circuit of its own, that is the voltage of its open output. ``notes`` are
    what the builder has to say of this case alone.
    """

    title: str
    elements: tuple[AnyElement, ...]
    waveform: Waveform
    terminals: tuple[TerminalProbe, ...] = ()
    arresters: tuple[ArresterProbe, ...] = ()
    earths: tuple[EarthProbe, ...] = ()
    modes: tuple[ModeProbe, ...] = ()
    notes: tuple[str, ...] = ()
    generator: GeneratorFigures | None = None
    struck: StruckProbe | None = None

    @property
    def is_driven_by_current(self) -> bool:
        """Whether the surge is a current: one that enters the circuit, or that induces in it."""
        return any(
            isinstance(each, CurrentSource)
            or (isinstance(each, VoltageSource) and isinstance(each.waveform, Induced))
            for each in self.elements
        )

    @property
    def lines(self) -> tuple[Line, ...]:
        """The travelling-wave lines, in the order of the elements."""
        return tuple(element for element in self.elements if isinstance(element, Line))

    def nodes(self) -> tuple[str, ...]:
        """Every node, in order of first appearance."""
        return tuple(dict.fromkeys(self._all_ends()))

    def _all_ends(self) -> Iterator[str]:
        for element in self.elements:
            if isinstance(element, Line):
                yield from (*element.near, *element.far)
                yield from (element.near_reference, element.far_reference)
            elif isinstance(element, Element):
                yield from (element.a, element.b)
