"""Routes and loops coupled to a current beside the installation: voltage sources in them.

What a current induces between a route and the earth under it acts on all conductors of the
route alike. It is put where each piece of a line has its reference: half of a piece's voltage
lifts its far reference, half lowers its near one, which is the same as a source in every one of
its conductors at either end. What it induces in the loop between the route's first cable and one
that lies at a spacing stands in the conductors of that one. A piece is crossed in a fraction of
the front's time.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from surgesim.build.parts import Parts, inductance, label_of
from surgesim.network.elements import GROUND, AnyElement, Line, PhotovoltaicSource, VoltageSource
from surgesim.physics.induced import Induced, thinned, times
from surgesim.physics.induction import Channel, Point, Source, induced, polygon_inductance
from surgesim.physics.stroke_voltage import induced_by_stroke
from surgesim.physics.waveforms import Waveform, shape_figures
from surgesim.scenario.laying import Spacing
from surgesim.scenario.nearby import Course, courses, loop_beside, source_of, spaced
from surgesim.scenario.schema import Scenario
from surgesim.scenario.strokes import Loop

CROSSED = 0.25
"""Longest time a wave takes through a piece, as a share of the surge's front."""

ENDLESS = 200.0
"""Fronts after which an endless surge's voltage is not followed further."""

TAILS = 20.0
"""Half-value times of the surge over which its voltages are followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A current beside the installation and what it induces along a straight path.

    ``front`` in s is the surge's, ``end`` in s is until when its voltages are followed, ``speed``
    in m/s that of a return stroke up its channel.
    """

    source: Source
    current: Waveform
    soil: float
    front: float
    end: float
    speed: float | None = None

    @classmethod
    def of(cls, scenario: Scenario, waveform: Waveform) -> Field | None:
        """The field of the scenario's surge, if it has one of its own."""
        source = source_of(scenario.surge)
        if source is None:
            return None
        figures = shape_figures(waveform, kind="current")
        tail = figures.tail
        end = ENDLESS * figures.front if tail is None else TAILS * tail
        return cls(
            source=source, current=waveform, soil=scenario.site.soil, front=figures.front, end=end,
            speed=scenario.surge.return_stroke_speed,
        )  # fmt: skip

    def along(self, path: tuple[Point, Point], *, depth: float) -> Induced:
        """Between a level path and the earth: the voltage that drives current along the path.

        ``depth`` in m is that of a path in the soil, whose height is zero. The soil under a path
        adds its own where the current enters it; where it flows in a conductor, the ground
        counts as a perfect one.
        """
        return _along(self, path, depth)

    def over(self, course: Course, *, start: float = 0.0, end: float = 1.0) -> Induced:
        """The same over a route's course, or from one share of it to another."""
        laying = course.laying
        depth = laying.distance if laying.in_ == "plastic duct" else 0.0
        return self.along(_between(course.path, start, end), depth=depth)

    def around(self, loop: tuple[Point, ...]) -> Induced:
        """In a closed loop in the air, its first point its last: what drives current around it."""
        return _along(self, loop, None)


@lru_cache(maxsize=1024)
def _along(field: Field, path: tuple[Point, ...], depth: float | None) -> Induced:
    """Along a path over the soil, or one in the air that is closed, whose ``depth`` is None.

    Many cases share a surge and its routes, and a return stroke's takes 50 ms.
    """
    if not isinstance(field.source, Channel):
        above = depth is None or path[0][2] > 0.0
        return Induced(current=field.current, mutual=induced(path, field.source) if above else 0.0)
    assert field.speed is not None
    time, volts = induced_by_stroke(
        path, field.source, field.current, speed=field.speed, end=field.end,
        depth=depth or 0.0, soil=None if depth is None else field.soil,
    )  # fmt: skip
    return Induced(current=field.current, mutual=0.0, table=thinned(time, volts))


def coupled(scenario: Scenario, waveform: Waveform, routes: Iterable[Parts]) -> Iterator[Parts]:
    """The lines of ``routes``, in the order of the scenario's cables that have a laying, with what
    the surge's own field induces in them."""
    field = Field.of(scenario, waveform)
    if field is None:
        yield from routes
        return
    hosts = ((name, cable) for name, cable in scenario.cables.items() if cable.laid_with is None)
    for (name, host), parts in zip(hosts, routes, strict=True):
        lines = _by_stretch(name, parts, courses(host, scenario))
        apart = _labelled(name, scenario)
        elements = (
            list(_driven(element, *lines[element.name], field, apart))
            if element.name in lines and isinstance(element, Line)
            else [element]
            for element in parts.elements
        )
        yield replace(parts, elements=tuple(itertools.chain.from_iterable(elements)))


Part = tuple[Course, float, float]
"""Where a line lies: its course, and from which share of it to which."""


def _by_stretch(name: str, parts: Parts, found: tuple[Course, ...]) -> dict[str, Part]:
    """Where each line of a route lies: the pieces of a stretch are equal and in order."""
    where: dict[str, Part] = {}
    for k, course in enumerate(found, start=1):
        whole = name if len(found) == 1 else f"{name}/stretch {k} of {len(found)}"
        lines = [
            e.name for e in parts.elements
            if isinstance(e, Line) and (e.name == whole or e.name.startswith(f"{whole}, piece "))
        ]  # fmt: skip
        for n, line in enumerate(lines):
            where[line] = course, n / len(lines), (n + 1) / len(lines)
    return where


def _labelled(host: str, scenario: Scenario) -> dict[str, Spacing]:
    """What the nodes of cables at a spacing from a route's first one begin with, and where those
    lie."""
    return {f"{label_of('cable', name)}/": it for name, it in spaced(host, scenario).items()}


def _driven(
    line: Line, course: Course, start: float, end: float, field: Field, apart: dict[str, Spacing]
) -> Iterator[AnyElement]:
    """A line in pieces short against the front, each with its sources."""
    count = max(1, math.ceil(max(line.delay) / (CROSSED * field.front)))
    found = {
        k: spacing
        for k, ends in enumerate(zip(line.near, line.far, strict=True))
        for label, spacing in apart.items()
        if any(end.startswith(label) for end in ends)
    }
    for k, piece in enumerate(_pieces(line, count)):
        first, last = (start + (end - start) * (k + step) / count for step in (0, 1))
        for index, spacing in found.items():
            volts = field.around(loop_beside(_between(course.path, first, last), spacing))
            piece, sources = _in_series(piece, index, volts)
            yield from sources
        yield from _lifted(piece, field.over(course, start=first, end=last))


def _in_series(line: Line, index: int, volts: Induced) -> tuple[Line, list[AnyElement]]:
    """A piece of line with half of a voltage in one of its conductors at either end."""
    if volts.mutual == 0.0 and not any(value for _, value in volts.table):
        return line, []
    made: list[AnyElement] = []
    ends = {"near": list(line.near), "far": list(line.far)}
    for (end, nodes), share in zip(ends.items(), (-0.5, 0.5), strict=True):
        name, outer = f"{line.name}/induced in {index + 1} at {end}", nodes[index]
        nodes[index] = name
        made.append(
            VoltageSource(
                name=name, a=outer, b=name, waveform=times(volts, share), group=line.group
            )
        )
    return replace(line, near=tuple(ends["near"]), far=tuple(ends["far"])), made


def _pieces(line: Line, count: int) -> Iterator[Line]:
    """Equal pieces of a line in a row."""
    if count == 1:
        yield line
        return
    joints = [
        tuple(f"{line.name}/joint {k}/{core}" for core in range(len(line.near)))
        for k in range(1, count)
    ]
    ends = [line.near, *joints, line.far]
    for k, (near, far) in enumerate(itertools.pairwise(ends)):
        yield replace(
            line,
            name=f"{line.name}/{k + 1} of {count}",
            near=near,
            far=far,
            delay=tuple(value / count for value in line.delay),
            resistance=tuple(value / count for value in line.resistance),
            near_reference=line.near_reference if k == 0 else GROUND,
            far_reference=line.far_reference if k == count - 1 else GROUND,
        )


def _lifted(line: Line, volts: Induced) -> Iterator[AnyElement]:
    """A piece of line with half of its voltage at either reference."""
    if volts.mutual == 0.0 and not any(value for _, value in volts.table):
        yield line
        return
    near, far = (f"{line.name}/induced at {end}" for end in ("near", "far"))
    yield replace(line, near_reference=near, far_reference=far)
    for name, below, share in ((near, line.near_reference, -0.5), (far, line.far_reference, 0.5)):
        yield VoltageSource(
            name=name, a=name, b=below, waveform=times(volts, share), group=line.group
        )


def _between(path: tuple[Point, Point], start: float, end: float) -> tuple[Point, Point]:
    """The part of a straight path from one share of it to another."""
    (ax, ay, z), (bx, by, _) = path
    first, last = ((ax + s * (bx - ax), ay + s * (by - ay), z) for s in (start, end))
    return first, last


def with_loops(scenario: Scenario, waveform: Waveform, parts: Iterable[Parts]) -> Iterator[Parts]:
    """The ``parts`` of the scenario's supplies, the wiring of an array that is a loop in series
    with it: its inductance, and what the surge's own field induces in it."""
    field = Field.of(scenario, waveform)
    loops = {label_of("supply", loop.of): (name, loop) for name, loop in scenario.loops.items()}
    for part in parts:
        elements = (
            _looped(element, *loops[element.name], field)
            if isinstance(element, PhotovoltaicSource) and element.name in loops
            else (element,)
            for element in part.elements
        )
        yield replace(part, elements=tuple(itertools.chain.from_iterable(elements)))


def _looped(
    array: PhotovoltaicSource, name: str, loop: Loop, field: Field | None
) -> Iterator[AnyElement]:
    """An array, the inductance of its loop, and the voltage induced from its minus to its plus."""
    label, group = label_of("loop", name), f"loop {name}"
    cells, end = f"{label}/cells", f"{label}/end" if field is not None else array.a
    yield replace(array, a=cells)
    henry = loop_inductance(loop)
    yield from inductance(f"{label}/inductance", cells, end, henry, group)
    if field is not None:
        yield VoltageSource(
            name=label, a=array.a, b=end, waveform=field.around(loop.around), group=group
        )


def loop_inductance(loop: Loop) -> float:
    """H; of several equal strings beside each other, which see each other's flux as none."""
    corners = [corner.position for corner in loop.corners]
    return polygon_inductance(corners, loop.wire / 2) / loop.strings
