"""A multiconductor line as ideal parts: its modes travel, its conductors only see the ends.

At each end every mode k hangs on the conductors through an ideal transformer::

    v_k = sum_j W[k, j] v_j        i_j = sum_k W[k, j] i_k        W = inv(voltage_modes)

the voltages by a chain of E sources, the currents by F sources that follow the current of a
0 V source in the mode. Behind it stands half the mode's series resistance, then the port of the
lossless line: a T element, or one pi section when lumped. With a reference of its own at an end,
both sides of the transformer stand on it there, the mode on ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part
from surgesim.network.elements import GROUND, Line

End = Literal["near", "far"]


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
        for end in ("near", "far"):
            port = _end_of_mode(line, mode, end, name, node)
            ports[end] = port
            parts += port.parts
            voltages[f"{line.name}/{end}/{mode}"] = port.node
            currents[f"{line.name}/{end}/{mode}"] = port.sense
        between = _pi_section if lumped else _travelling
        parts += between(line, mode, f"{name}_{mode}", ports["near"].node, ports["far"].node)
    return Lowered(parts=tuple(parts), voltages=voltages, currents=currents)


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
    """``rel`` and ``abs`` set no breakpoints at arriving kinks: with them a varistor hangs."""
    impedance, delay = number(line.impedance[mode]), number(line.delay[mode])
    value = f"Z0={impedance} TD={delay} rel=3 abs=1e12"
    return [Part("T", label, (near, "0", far, "0"), value)]


def _pi_section(line: Line, mode: int, label: str, near: str, far: str) -> list[Part]:
    impedance, delay = line.impedance[mode], line.delay[mode]
    half = number(delay / impedance / 2)
    return [
        Part("L", label, (near, far), number(impedance * delay)),
        Part("C", f"{label}_n", (near, "0"), half),
        Part("C", f"{label}_f", (far, "0"), half),
    ]
