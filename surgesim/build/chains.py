"""Electrodes as chains: what a steep current meets along them before it is in the soil."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import singledispatch

from surgesim.build.parts import inductance
from surgesim.network.elements import GROUND, AnyElement, Resistor
from surgesim.physics.conductors import wire_inductance
from surgesim.physics.electrodes import buried_inductance, rod_inductance
from surgesim.physics.leaky import Rung, open_chain
from surgesim.scenario.electrodes import Earth, Posts, Radials, Ring, Rod, Shape, Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """How a current runs along an electrode: ``paths`` equal chains beside each other.

    ``rungs`` are those of one path, their shares its own; ``branch`` H stands at every rung on
    the way into the soil; ``words`` say what it is.
    """

    paths: int
    rungs: tuple[Rung, ...]
    branch: float
    words: str

    def elements(self, label: str, start: str, ohm: float, group: str) -> Iterator[AnyElement]:
        """All paths as one chain from the node ``start``, together ``ohm`` to remote earth."""
        here = start
        for k, rung in enumerate(self.rungs, start=1):
            step = f"{label}/{k}"
            if rung.inductance > 0.0:
                henry = rung.inductance / self.paths
                yield from inductance(f"{step}/inductance", here, step, henry, group)
                here = step
            into = here
            if self.branch > 0.0:
                into = f"{step}/branch"
                henry = self.branch / self.paths
                yield from inductance(f"{step}/branch/inductance", here, into, henry, group)
            yield Resistor(name=step, a=into, b=GROUND, resistance=ohm / rung.share, group=group)


def chain_of(earth: Earth, ohm: float, front: float) -> Along | None:
    """The chain along an earth of ``ohm``; None where an inductance stands in front of it."""
    if earth.lumped is not None or earth.shape is None:
        return None
    return along(earth.shape, ohm, front)


@singledispatch
def along(shape: Shape, ohm: float, front: float) -> Along:
    """The chain of a shape of ``ohm`` to remote earth, for a front of frequency ``front`` in Hz."""
    raise TypeError(f"{type(shape).__name__} has no length, at {ohm:g} ohm and {front:g} Hz")


def _paths(count: int, length: float, henry: float, ohm: float, front: float, what: str) -> Along:
    """Equal conductors of ``length`` m and ``henry`` each, beside each other from one point."""
    per_metre = henry / length
    conductance = 1.0 / (ohm * count * length)
    rungs = open_chain(length, inductance=per_metre, conductance=conductance, front=front)
    pieces = f"{len(rungs)} pieces" if len(rungs) > 1 else "one piece"
    each = "each of " if count > 1 else ""
    words = f"{what}, {each}{length:.4g} m in {pieces}, {1e6 * per_metre:.3g} uH/m, leaking evenly"
    return Along(paths=count, rungs=rungs, branch=0.0, words=words)


@along.register
def _(shape: Strip, ohm: float, front: float) -> Along:
    if shape.joined == "end":
        henry = buried_inductance(shape.length, shape.radius)
        return _paths(1, shape.length, henry, ohm, front, "from its end")
    half = shape.length / 2
    return _paths(2, half, buried_inductance(half, shape.radius), ohm, front, "both halves")


@along.register
def _(shape: Ring, ohm: float, front: float) -> Along:
    half = shape.length / 2
    return _paths(2, half, buried_inductance(half, shape.radius), ohm, front, "both ways round")


@along.register
def _(shape: Radials, ohm: float, front: float) -> Along:
    henry = buried_inductance(shape.length, shape.radius)
    return _paths(shape.count, shape.length, henry, ohm, front, "every radial")


@along.register
def _(shape: Rod, ohm: float, front: float) -> Along:
    radius = shape.diameter / 2
    henry = rod_inductance(shape.length, radius)
    if shape.spacing is None:
        return _paths(1, shape.length, henry, ohm, front, "down the rod")
    return _row(1, shape.count, shape.spacing, radius=radius, henry=henry, what="rods")


@along.register
def _(shape: Posts, ohm: float, front: float) -> Along:
    henry = rod_inductance(shape.length, shape.radius)
    if shape.spacing is None and shape.rows == 1:
        return _paths(1, shape.length, henry, ohm, front, "down the post")
    spacing, radius = shape.spacing or 0.0, shape.radius
    return _row(shape.rows, shape.in_a_row, spacing, radius=radius, henry=henry, what="posts")


def _row(rows: int, count: int, spacing: float, *, radius: float, henry: float, what: str) -> Along:
    """Rods or posts in ``rows`` beside each other, joined above ground from the first one on.

    What joins them counts as a wire as thick as they are; each takes an equal share.
    """
    link = wire_inductance(spacing, radius) if count > 1 else 0.0
    rungs = tuple(
        Rung(inductance=link if k else 0.0, length=spacing if k else 0.0, share=1.0 / count)
        for k in range(count)
    )
    words = f"{what} of {1e6 * henry:.3g} uH each, joined from the first on"
    words += f" through {1e6 * link:.3g} uH" if link else ""
    return Along(paths=rows, rungs=rungs, branch=henry, words=words)
