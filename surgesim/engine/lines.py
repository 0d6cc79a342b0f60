"""A multiconductor line as ideal parts: its modes travel, its conductors only see the ends.

At each end every mode k hangs on the conductors through an ideal transformer::

    v_k = sum_j W[k, j] v_j        i_j = sum_k W[k, j] i_k        W = inv(voltage_modes)

the voltages by a chain of E sources, the currents by F sources that follow the current of a
0 V source in the mode. Behind it stands half the mode's series resistance, then the port of the
lossless line: a T element, or one pi section when lumped. With a reference of its own at an end,
both sides of the transformer stand on it there, the mode on ground.

In a row of lines (:mod:`surgesim.engine.rows`) only the row's own two ends have transformers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part, Sum
from surgesim.engine.rows import Row
from surgesim.network.elements import GROUND, Line

End = Literal["near", "far"]
ENDS: tuple[End, End] = ("near", "far")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Port:
    """Where the lossless part of a mode begins, and the 0 V source its current flows through."""

    parts: list[Part]
    node: str
    sense: str


def lower_line(line: Line, *, name: str, node: Callable[[str], str], lumped: bool) -> Lowered:
    """The line's deck elements; ``name`` is its deck name, ``node`` gives those of nodes."""
    parts: list[Part] = []
    voltages: dict[str, str] = {}
    currents: dict[str, str] = {}
    for mode in range(len(line.impedance)):
        ports: dict[End, _Port] = {}
        for end in ENDS:
            port = _end_of_mode(line, mode, end, name, node)
            ports[end] = port
            parts += port.parts
            voltages[f"{line.name}/{end}/{mode}"] = port.node
            currents[f"{line.name}/{end}/{mode}"] = port.sense
        between = _pi_section if lumped else _travelling
        parts += between(line, mode, f"{name}_{mode}", ports["near"].node, ports["far"].node)
    return Lowered(parts=tuple(parts), voltages=voltages, currents=currents)


@dataclass(frozen=True, slots=True, kw_only=True)
class InRow:
    """A line of a row as ngspice has it; ``name`` and ``node`` as in :func:`lower_line`.

    ``element`` gives the deck names of the row's lines.
    """

    row: Row
    line: Line
    element: Callable[[str], str]
    node: Callable[[str], str]

    def lower(self, *, lumped: bool) -> Lowered:
        """Its modes, and the transformers at an end of the row that is its own."""
        parts: list[Part] = []
        voltages, currents = dict(self._at_joint()), {}
        for mode, share in enumerate(self.row.shares.tolist()):
            scale = share or 1.0
            single = self._single(mode, scale, follows=share != 0.0)
            parts += self._transformers(mode, scale, single)
            label = f"{self.element(self.line.name)}_{mode}"
            lowered = _on_its_own(single, label) if lumped else _between_poles(single, label)
            parts += lowered.parts
            for end in ENDS:
                name = f"{self.line.name}/{end}/{mode}"
                voltages[name] = _times(scale, lowered.added_voltages[end])
                currents[name] = _times(1.0 / scale, lowered.added_currents[end])
        return Lowered(parts=tuple(parts), added_voltages=voltages, added_currents=currents)

    def _single(self, mode: int, scale: float, *, follows: bool) -> Line:
        """A mode as a line of one conductor between nodes of the deck, and remote earth.

        Where it does not follow the references they are not its own.
        """
        line = self.line
        near, far = (
            self.node(reference) if follows and reference != GROUND else GROUND
            for reference in (line.near_reference, line.far_reference)
        )
        return replace(
            line,
            near=(self._node("near", mode),),
            far=(self._node("far", mode),),
            voltage_modes=((1.0,),),
            impedance=(line.impedance[mode] / scale**2,),
            delay=(line.delay[mode],),
            resistance=(line.resistance[mode] / scale**2,),
            near_reference=near,
            far_reference=far,
        )

    def _node(self, end: End, mode: int) -> str:
        """The deck's node of a mode; one conductor by itself is its mode."""
        conductors = self.line.near if end == "near" else self.line.far
        if len(conductors) == 1:
            return self.node(conductors[0])
        if end == "near":
            return f"{self.element(self.line.name)}_a{mode}"
        if self.line is self.row.lines[-1]:
            return f"{self.element(self.line.name)}_z{mode}"
        following = self.row.lines[self.row.lines.index(self.line) + 1]
        return f"{self.element(following.name)}_a{mode}"

    def _transformers(self, mode: int, scale: float, single: Line) -> Iterator[Part]:
        if len(self.line.near) == 1:
            return
        weights = (np.linalg.inv(self.line.modes)[mode] / scale).tolist()
        outer = {"near": self.row.lines[0], "far": self.row.lines[-1]}
        for end in ENDS:
            if self.line is outer[end]:
                label = f"{self.element(self.line.name)}_{end[0]}{mode}"
                conductors = [self.node(conductor) for conductor in getattr(self.line, end)]
                yield from _transformer(weights, conductors, "0", label, getattr(single, end)[0])

    def _at_joint(self) -> Iterator[tuple[str, Sum]]:
        """The conductors' voltages where the line goes on from the one before it."""
        if self.line is self.row.lines[0] or len(self.line.near) == 1:
            return
        scales = [share or 1.0 for share in self.row.shares.tolist()]
        nodes = [f"v({self._node('near', mode)})" for mode in range(len(scales))]
        for conductor, weights in zip(self.line.near, self.line.modes * scales, strict=True):
            yield conductor, tuple(zip(weights.tolist(), nodes, strict=True))


def _on_its_own(single: Line, label: str) -> Lowered:
    """A lumped mode of a row: results by their end."""
    lowered = lower_line(single, name=label, node=_or_zero, lumped=True)
    (near, far), (into_near, into_far) = lowered.voltages.values(), lowered.currents.values()
    return Lowered(
        parts=lowered.parts,
        added_voltages={"near": _of(f"v({near})"), "far": _of(f"v({far})")},
        added_currents={"near": _of(f"i({into_near})"), "far": _of(f"i({into_far})")},
    )


def _between_poles(single: Line, label: str) -> Lowered:
    """A travelling mode of a row, on its references as they are; results by their end.

    A ``T`` element knows the current into each of its ends.
    """
    parts: list[Part] = []
    poles: list[str] = []
    voltages: dict[str, Sum] = {}
    for end in ENDS:
        losses, port = _losses(single, 0, f"{label}_{end[0]}", getattr(single, end)[0])
        pole = _or_zero(single.near_reference if end == "near" else single.far_reference)
        parts += losses
        poles += [port, pole]
        voltages[end] = _of(f"v({port})") + (() if pole == "0" else ((-1.0, f"v({pole})"),))
    parts.append(Part("T", label, tuple(poles), _waves(single, 0)))
    return Lowered(
        parts=tuple(parts),
        added_voltages=voltages,
        added_currents={"near": _of(f"v(T{label}#i1)"), "far": _of(f"v(T{label}#i2)")},
    )


def _or_zero(node: str) -> str:
    return "0" if node == GROUND else node


def _of(vector: str) -> Sum:
    return ((1.0, vector),)


def _times(factor: float, values: Sum) -> Sum:
    return tuple((factor * share, vector) for share, vector in values)


def _end_of_mode(line: Line, mode: int, end: End, name: str, node: Callable[[str], str]) -> _Port:
    label = f"{name}_{end[0]}{mode}"
    conductors = [node(conductor) for conductor in getattr(line, end)]
    reference = line.near_reference if end == "near" else line.far_reference
    weights = np.linalg.inv(line.modes)[mode]
    behind, sense = f"{label}_i", f"V{label}"
    if len(weights) == 1 and weights[0] == 1.0 and reference == GROUND:
        parts = [Part("V", label, (conductors[0], behind), "0")]
    else:
        parts = _transformer(weights.tolist(), conductors, node(reference), label, behind)
    losses, port = _losses(line, mode, label, behind)
    return _Port(parts=[*parts, *losses], node=port, sense=sense)


def _transformer(
    weights: list[float], conductors: list[str], reference: str, label: str, behind: str
) -> list[Part]:
    """Modal voltage up to the sensing source, and its current drawn from the conductors."""
    least = 1e-12 * max(abs(weight) for weight in weights)
    windings = [
        (j, weight, conductor)
        for j, (weight, conductor) in enumerate(zip(weights, conductors, strict=True))
        if abs(weight) > least
    ]
    parts, below = [], "0"
    for j, weight, conductor in windings:
        above = f"{label}_v{j}"
        nodes = (above, below, conductor, reference)
        parts.append(Part("E", f"{label}_{j}", nodes, number(weight)))
        below = above
    parts.append(Part("V", label, (below, behind), "0"))
    parts += [
        Part("F", f"{label}_{j}", (conductor, reference), f"V{label} {number(weight)}")
        for j, weight, conductor in windings
    ]
    return parts


def _losses(line: Line, mode: int, label: str, behind: str) -> tuple[list[Part], str]:
    """Half of a mode's resistance in series, and the node after it."""
    if line.resistance[mode] == 0:
        return [], behind
    after = f"{label}_r"
    half = number(line.resistance[mode] / 2)
    return [Part("R", f"{label}_s", (behind, after), half)], after


def _travelling(line: Line, mode: int, label: str, near: str, far: str) -> list[Part]:
    return [Part("T", label, (near, "0", far, "0"), _waves(line, mode))]


def _waves(line: Line, mode: int) -> str:
    """``rel`` and ``abs`` set no breakpoints at arriving kinks: with them a varistor hangs."""
    impedance, delay = number(line.impedance[mode]), number(line.delay[mode])
    return f"Z0={impedance} TD={delay} rel=3 abs=1e12"


def _pi_section(line: Line, mode: int, label: str, near: str, far: str) -> list[Part]:
    impedance, delay = line.impedance[mode], line.delay[mode]
    half = number(delay / impedance / 2)
    return [
        Part("L", label, (near, far), number(impedance * delay)),
        Part("C", f"{label}_n", (near, "0"), half),
        Part("C", f"{label}_f", (far, "0"), half),
    ]
