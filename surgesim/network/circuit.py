"""A whole network: its elements, what to read off it, and the surge that drives it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.network.elements import AnyElement, Element, Line, VoltageSource
from surgesim.network.probes import ArresterProbe, EarthProbe, TerminalProbe
from surgesim.physics.waveforms import Waveform


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Circuit of one case, engine-neutral, with remote earth as its reference.

    ``waveform`` is the surge, from which the engine takes its time windows. ``notes`` are what
    the builder has to say of this case alone.
    """

    title: str
    elements: tuple[AnyElement, ...]
    waveform: Waveform
    terminals: tuple[TerminalProbe, ...] = ()
    arresters: tuple[ArresterProbe, ...] = ()
    earths: tuple[EarthProbe, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def is_driven_by_voltage(self) -> bool:
        """Whether the surge is a voltage: an ideal source of it stands in the circuit. A surge that
        only induces voltages is a current."""
        sources = [each for each in self.elements if isinstance(each, VoltageSource)]
        return any(each.waveform == self.waveform for each in sources)

    @property
    def lines(self) -> tuple[Line, ...]:
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
