"""Routes coupled to a current beside the installation: voltage sources along their lines.

What a current induces between a route and the earth under it acts on all conductors of the
route alike. It is put where each piece of a line has its reference: half of a piece's voltage
lifts its far reference, half lowers its near one, which is the same as a source in every one of
its conductors at either end. A piece is crossed in a fraction of the front's time.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from surgesim.build.parts import Parts
from surgesim.network.elements import GROUND, AnyElement, Line, VoltageSource
from surgesim.physics.induced import Induced, thinned, times
from surgesim.physics.induction import Channel, Point, Source, induced
from surgesim.physics.soil_field import induced_along_soil
from surgesim.physics.waveforms import Waveform, shape_figures
from surgesim.scenario.nearby import course, source_of
from surgesim.scenario.schema import Cable, Scenario

CROSSED = 0.25
"""Longest time a wave takes through a piece, as a share of the surge's front."""

ENDLESS = 200.0
"""Fronts after which an endless surge's voltage is not followed further."""

TAILS = 20.0
"""Half-value times of the surge over which its voltages are followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A current beside the installation and what it induces along a straight path.

    ``front`` in s is the surge's, ``end`` in s is until when its voltages are followed.
    """

    source: Source
    current: Waveform
    soil: float
    front: float
    end: float

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
            source=source, current=waveform, soil=scenario.site.soil, front=figures.front, end=end
        )

    def along(self, path: tuple[Point, Point], *, depth: float) -> Induced:
        """Between a level path and the earth: the voltage that drives current along the path.

        ``depth`` in m is that of a path in the soil, whose height is zero. The soil under a path
        adds its own where the current enters it; where it flows in a conductor, the ground
        counts as a perfect one.
        """
        return _along(self, path, depth)

    def route(self, host: Cable, path: tuple[Point, Point]) -> Induced:
        """The same for a route laid like the cable ``host``, or a part of it."""
        assert host.laying is not None
        depth = 0.0 if host.laying.in_ == "air" else host.laying.distance
        return self.along(path, depth=depth)


@lru_cache(maxsize=1024)
def _along(field: Field, path: tuple[Point, Point], depth: float) -> Induced:
    """Many cases share a surge and its routes, and the soil's part takes 20 ms."""
    table: tuple[tuple[float, float], ...] = ()
    if isinstance(field.source, Channel):
        near, far = (math.hypot(x - field.source.x, y - field.source.y) for x, y, _ in path)
        table = thinned(
            *induced_along_soil(
                field.current, near=near, far=far, depth=depth, soil=field.soil, end=field.end
            )
        )
    mutual = induced(path, field.source) if path[0][2] > 0.0 else 0.0
    return Induced(current=field.current, mutual=mutual, along_soil=table)


def coupled(scenario: Scenario, waveform: Waveform, routes: Iterable[Parts]) -> Iterator[Parts]:
    """The lines of ``routes``, in the order of the scenario's cables that have a laying, with what
    the surge's own field induces in them."""
    field = Field.of(scenario, waveform)
    if field is None:
        yield from routes
        return
    hosts = (cable for cable in scenario.cables.values() if cable.laid_with is None)
    for host, parts in zip(hosts, routes, strict=True):
        path = course(host, scenario)
        if path is None:
            yield parts
        else:
            yield replace(parts, elements=tuple(_route(parts, host, path, field)))


def _route(
    parts: Parts, host: Cable, path: tuple[Point, Point], field: Field
) -> Iterator[AnyElement]:
    """The elements of a route, its lines in pieces with their sources."""
    lines = [element for element in parts.elements if isinstance(element, Line)]
    whole = math.fsum(max(line.delay) for line in lines)
    begun = 0.0
    for element in parts.elements:
        if not isinstance(element, Line):
            yield element
            continue
        delay = max(element.delay)
        for piece, share in _pieces(element, max(1, math.ceil(delay / (CROSSED * field.front)))):
            spots = (begun + share[0] * delay) / whole, (begun + share[1] * delay) / whole
            yield from _driven(piece, _between(path, *spots), host, field)
        begun += delay


def _pieces(line: Line, count: int) -> Iterator[tuple[Line, tuple[float, float]]]:
    """Equal pieces of a line in a row, each with where it begins and ends along the line."""
    if count == 1:
        yield line, (0.0, 1.0)
        return
    joints = [
        tuple(f"{line.name}/joint {k}/{core}" for core in range(len(line.near)))
        for k in range(1, count)
    ]
    ends = [line.near, *joints, line.far]
    for k, (near, far) in enumerate(itertools.pairwise(ends)):
        piece = replace(
            line,
            name=f"{line.name}/{k + 1} of {count}",
            near=near,
            far=far,
            delay=tuple(value / count for value in line.delay),
            resistance=tuple(value / count for value in line.resistance),
            near_reference=line.near_reference if k == 0 else GROUND,
            far_reference=line.far_reference if k == count - 1 else GROUND,
        )
        yield piece, (k / count, (k + 1) / count)


def _driven(
    line: Line, path: tuple[Point, Point], host: Cable, field: Field
) -> Iterator[AnyElement]:
    """A piece of line with half of its voltage at either reference."""
    volts = field.route(host, path)
    if volts.mutual == 0.0 and not any(value for _, value in volts.along_soil):
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
