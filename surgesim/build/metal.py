"""The metal of a conductor at an end of its route: its resistance, and what skin effect adds."""

from __future__ import annotations

from dataclasses import dataclass

from surgesim.build.parts import inductance
from surgesim.build.routes import Band
from surgesim.network.elements import AnyElement, Inductor, Resistor
from surgesim.physics.skin import skin_chain


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
        found: list[AnyElement] = [
            Resistor(
                name=self.label, a=self.outer, b=self.label, resistance=self.ohm, group=self.group
            )
        ]
        if not self.wire:
            return self.label, found
        skin, node = skin_chain(self.wire, front=band.front, tail=band.tail), self.label
        for k, ohms in enumerate(self.ohm * skin.resistance):
            if ohms == 0.0:
                continue
            near, node = node, f"{self.label}/skin {k + 1}"
            henry = float(ohms * skin.time[k])
            found += [
                Resistor(name=node, a=near, b=node, resistance=float(ohms), group=self.group),
                Inductor(name=f"{node} lag", a=near, b=node, inductance=henry, group=self.group),
            ]
        if skin.inductance > 0.0:
            near, node = node, f"{self.label}/skin"
            henry = self.ohm * skin.inductance
            found += inductance(node, near, node, henry, self.group)
        return node, found
