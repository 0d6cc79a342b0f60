"""Who meets whom: the recorded current of a device that stands in series with known ones.

Where a device conducts steeply, its law at a voltage says little about its current: one per
mille of a varistor's voltage is three per cent of its current. The current that the elements
in series with it carry is known much better.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from surgesim.findings.devices import Currents
from surgesim.findings.record import Array
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Capacitor,
    CurrentSource,
    Element,
    Inductor,
    Line,
    Resistor,
    VoltageSource,
)

_KNOWN = (Ammeter, CurrentSource, Inductor, Resistor, VoltageSource)
"""Kinds whose current is recorded, given, or linear in a voltage."""

_PASSIVE = (Capacitor, Resistor)


class Wiring:
    """The elements at each node of a network."""

    def __init__(self, network: Network) -> None:
        self._at: dict[str, list[Element]] = defaultdict(list)
        self._lines: set[str] = set()
        for element in network.elements:
            if isinstance(element, Line):
                self._lines.update((*element.near, *element.far))
            elif isinstance(element, Element):
                self._at[element.a].append(element)
                self._at[element.b].append(element)

    def companions(self, device: Element) -> list[Element]:
        """What else lies between the same two nodes."""
        ends = {device.a, device.b}
        return [e for e in self._at[device.a] if e is not device and {e.a, e.b} == ends]

    def series_current(self, device: Element, currents: Currents) -> Array | None:
        """Current a to b of the device together with its companions, A.

        From the balance of currents at one of its ends, where everything else there has a
        known current; None where neither end is such a node, or where a companion is not a
        plain resistor or capacitor and the two could not be told apart.
        """
        companions = self.companions(device)
        if not all(isinstance(companion, _PASSIVE) for companion in companions):
            return None
        for node, sign in ((device.a, -1.0), (device.b, 1.0)):
            others = [e for e in self._at[node] if e is not device and e not in companions]
            if self._known(node, others):
                leaving = [currents.through(e) * (1.0 if e.a == node else -1.0) for e in others]
                total: Array = sign * np.sum(leaving, axis=0)
                return total
        return None

    def _known(self, node: str, others: list[Element]) -> bool:
        within = node != GROUND and node not in self._lines
        return within and bool(others) and all(isinstance(e, _KNOWN) for e in others)
