"""The metal of a conductor at an end of its route: its resistance, and what skin effect adds.

Skin effect is a chain of resistances R beside inductances L. As such it would put shorts of
micro-ohms, at rest, next to the megohms that lead away from an array. It is built as what is the
same at every frequency: one inductor in the conductor's way, coupled to loops that are closed by a
resistance of ordinary size. A loop of resistance r and inductance r L/R, coupled as closely as
two inductors can be to a part L of the inductor, is R beside L in the conductor.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.build.parts import inductance
from surgesim.build.routes import Band
from surgesim.network.elements import GROUND, AnyElement, Coupling, Inductor, Resistor
from surgesim.physics.skin import skin_chain

LOOP = 1.0
"""Ohm that closes each loop."""

APART = 1e-3
"""Least share of the inductor that no loop is coupled to: all of it would leave none by itself."""


@dataclass(frozen=True, slots=True)
class Metal:
    """``ohm`` at direct current between the node ``outer`` and the line.

    ``wire`` is the resistance in ohm/m of one round wire of it, by which the skin effect goes;
    None for metal of another shape, whose resistance is held at every frequency.
    """

    label: str
    outer: str
    ohm: float
    wire: float | None
    group: str

    def chain(self, band: Band) -> tuple[str, list[AnyElement]]:
        """The node where the line begins, and the elements up to there."""
        if self.ohm == 0.0:
            return self.outer, []
        metal = Resistor(
            name=self.label, a=self.outer, b=self.label, resistance=self.ohm, group=self.group
        )
        if not self.wire:
            return self.label, [metal]
        return f"{self.label}/skin", [metal, *self._skin(self.wire, band)]

    def _skin(self, wire: float, band: Band) -> Iterator[AnyElement]:
        skin, name = skin_chain(wire, front=band.front, tail=band.tail), f"{self.label}/skin"
        felt = [(float(r), float(t)) for r, t in zip(skin.resistance, skin.time, strict=True) if r]
        together = sum(ohms * time for ohms, time in felt)
        whole = together + max(skin.inductance, APART * together)
        yield from inductance(name, self.label, name, self.ohm * whole, self.group)
        for k, (ohms, time) in enumerate(felt, start=1):
            loop, henry = f"{name} {k}", LOOP * time
            mutual = math.sqrt(self.ohm * ohms * time * henry)
            yield Inductor(name=loop, a=loop, b=GROUND, inductance=henry, group=self.group)
            yield Resistor(name=f"{loop} loss", a=loop, b=GROUND, resistance=LOOP, group=self.group)
            yield Coupling(
                name=f"{loop} coupling", first=name, second=loop, mutual=mutual, group=self.group
            )
