"""The magnetic field of a return stroke, whose current climbs its channel at a speed of its own.

The current of the channel's foot runs up unchanged (the transmission-line model; Uman and McLain
1969, from memory), over ground that counts as a perfect conductor. A step of 1 A so has the
closed form (Rubinstein and Uman 1989, from memory), at distance r and height z, from the moment
on when light from the foot arrives, t = sqrt(r^2 + z^2)/c::

    B = mu0 g / (2 pi r),   g = (f(vt - z) + f(vt + z)) / 2,   f(x) = x / sqrt(x^2 + a^2)
    a^2 = (1 - v^2/c^2) r^2

g grows from v/c on the ground to 1, the field of an endless wire that carries the current at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from surgesim.physics.constants import SPEED_OF_LIGHT
from surgesim.physics.induced import rate
from surgesim.physics.waveforms import Waveform

Array = NDArray[np.float64]

STEPS = 700
"""Times of a current, evenly spread by ratio from its foot on, between which its rate of change
counts as straight: that leaves 0.1 % of its crest."""

FOOT = 1e-5
"""Share of its crest that a current has at its foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arriving:
    """The current that an endless wire would carry for the magnetic field a return stroke has at
    some spot: later than the stroke's own and with a slower front.

    ``current`` is the stroke's at its foot, ``distance`` and ``height`` in m say where, ``speed``
    in m/s is at most that of light. It is followed until ``end`` in s.
    """

    current: Waveform
    distance: float
    height: float
    speed: float
    end: float

    def __post_init__(self) -> None:
        if not (self.distance > 0.0 and self.height >= 0.0):
            raise ValueError(
                "expected a spot beside the channel and above ground but got "
                f"distance={self.distance}, height={self.height}"
            )
        if not 0.0 < self.speed <= SPEED_OF_LIGHT:
            raise ValueError(f"expected a speed up to that of light but got speed={self.speed}")

    def value(self, t: ArrayLike) -> Array:
        """The current at the times ``t`` in s."""
        time, values, _ = _followed(self)
        return np.interp(np.asarray(t, dtype=np.float64), time, values)

    def rate(self, t: ArrayLike) -> Array:
        """Its rate of change in A/s."""
        time, _, slopes = _followed(self)
        return np.interp(np.asarray(t, dtype=np.float64), time, slopes)

    @property
    def times(self) -> Array:
        """Times in s between which both count as straight lines."""
        return _followed(self)[0]


def step_share(time: Array, *, distance: float, height: float, speed: float) -> Array:
    """g of a step, at times in s since it left the foot."""
    reached = time >= math.hypot(distance, height) / SPEED_OF_LIGHT
    parts = [_part(speed * time + z, _slowed(distance, speed)) for z in (-height, height)]
    share: Array = np.where(reached, 0.5 * (parts[0] + parts[1]), 0.0)
    return share


def _slowed(distance: float, speed: float) -> float:
    """The length a, m."""
    return distance * math.sqrt(max(0.0, 1.0 - (speed / SPEED_OF_LIGHT) ** 2))


def _part(climbed: Array, a: float) -> Array:
    away = np.hypot(climbed, a)
    return np.divide(climbed, away, out=np.zeros_like(climbed), where=away > 0.0)


def _grown(since: Array, spot: Arriving) -> Array:
    """Integral over time of g, in s, from its first moment on until ``since``."""
    first = math.hypot(spot.distance, spot.height) / SPEED_OF_LIGHT
    a, time = _slowed(spot.distance, spot.speed), np.maximum(since, first)
    total = np.zeros_like(time)
    for z in (-spot.height, spot.height):
        # a root of squares: numpy's hypot takes five times as long
        total += np.sqrt((spot.speed * time + z) ** 2 + a * a)
        total -= math.hypot(spot.speed * first + z, a)
    return total / (2.0 * spot.speed)


@lru_cache(maxsize=256)
def _followed(spot: Arriving) -> tuple[Array, Array, Array]:
    """Times, the current and its rate of change at a spot.

    Each is its foot's change, piece by piece a constant, convolved with the answer to a step.
    """
    own = _own_times(spot.current, spot.end)
    time = own + math.hypot(spot.distance, spot.height) / SPEED_OF_LIGHT
    grown = _grown(time[:, None] - own[None, :], spot)
    answer = (grown[:, :-1] - grown[:, 1:]) / np.diff(own)
    values = answer @ np.diff(spot.current.value(own))
    slopes = answer @ np.diff(rate(spot.current, own))
    return time, values, slopes


@lru_cache(maxsize=16)
def _own_times(current: Waveform, end: float) -> Array:
    search = np.geomspace(1e-7 * end, end, 4000)
    size = np.abs(current.value(search))
    foot = float(search[int(np.argmax(size > FOOT * size.max()))])
    return np.concatenate(([0.0], np.geomspace(foot, end, STEPS)))
