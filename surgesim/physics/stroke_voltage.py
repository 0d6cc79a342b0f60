"""The voltage that a return stroke induces along a path above or in the ground."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.induction import Channel, Point, induced
from surgesim.physics.return_stroke import Arriving
from surgesim.physics.soil_field import induced_along_soil
from surgesim.physics.waveforms import Waveform

Array = NDArray[np.float64]

SPREAD = 1.2
"""Ratio of the distances from the channel within a part of a path that counts as at one distance.
Against parts a tenth as long that moves no crest by more than 0.4 %."""


def induced_by_stroke(
    path: tuple[Point, ...],
    channel: Channel,
    current: Waveform,
    *,
    speed: float,
    end: float,
    depth: float = 0.0,
    soil: float | None = None,
) -> tuple[Array, Array]:
    """Times in s until ``end`` and the voltage in V that drives current along ``path``.

    The flux between the path and the ground below it, of the field that a return stroke of
    ``speed`` in m/s has there, and along ``soil`` (ohm m) what that same field induces in it,
    ``depth`` m below its surface. A closed path has no soil under it: a loop in the air.
    """
    parts = list(_parts(path, channel, current, speed, end))
    time = np.unique(np.concatenate([[0.0], *(arriving.times for _, _, arriving in parts)]))
    volts = np.zeros_like(time)
    for near, far, arriving in parts:
        mutual = induced((near, far), channel)
        if mutual != 0.0:
            volts += mutual * arriving.rate(time)
        if soil is not None:
            first, last = (_away(point, channel) for point in (near, far))
            instants, along = induced_along_soil(
                arriving, near=first, far=last, depth=depth, soil=soil, end=end
            )
            volts += np.interp(time, instants, along)
    return time, volts


def _parts(
    path: tuple[Point, ...], channel: Channel, current: Waveform, speed: float, end: float
) -> Iterator[tuple[Point, Point, Arriving]]:
    """The path in parts each at about one distance, and what arrives there.

    The flux goes by the mean of the field from the ground up to the path, whose first term grows
    with the square of the height.
    """
    for a, b in itertools.pairwise(path):
        cuts = _cuts(a, b, channel)
        for near, far in itertools.pairwise(_at(a, b, cut) for cut in cuts):
            distance = math.sqrt(_away(near, channel) * _away(far, channel))
            height = (near[2] + far[2]) / (2.0 * math.sqrt(3.0))
            yield near, far, Arriving(
                current=current, distance=distance, height=height, speed=speed, end=end
            )  # fmt: skip


def _cuts(a: Point, b: Point, channel: Channel) -> list[float]:
    """Shares of an edge at which its distance from the channel has grown by a ratio."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    level = math.hypot(dx, dy)
    if level == 0.0:
        return [0.0, 1.0]
    nearest = ((channel.x - a[0]) * dx + (channel.y - a[1]) * dy) / level
    aside = abs((channel.x - a[0]) * dy - (channel.y - a[1]) * dx) / level
    spots = [-nearest, *([0.0] if 0.0 < nearest < level else []), level - nearest]
    cuts = [0.0]
    for start, stop in itertools.pairwise(spots):
        first, last = math.hypot(aside, start), math.hypot(aside, stop)
        count = max(1, math.ceil(abs(math.log(last / first)) / math.log(SPREAD)))
        side = -1.0 if stop <= 0.0 else 1.0
        for radius in np.geomspace(first, last, count + 1)[1:-1]:
            along = side * math.sqrt(max(0.0, float(radius) ** 2 - aside**2))
            cuts.append((along + nearest) / level)
        cuts.append((stop + nearest) / level)
    return cuts


def _at(a: Point, b: Point, share: float) -> Point:
    x, y, z = (p + share * (q - p) for p, q in zip(a, b, strict=True))
    return x, y, z


def _away(point: Point, channel: Channel) -> float:
    return math.hypot(point[0] - channel.x, point[1] - channel.y)
