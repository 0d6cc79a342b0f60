"""What a stroke's current does in the soil around the point where it enters.

Uniform soil, a current I(t) that comes down an upright channel and spreads from one point. Its
field along the surface, r from that point, follows from the diffusion of the magnetic field
mu0 I / (2 pi r) into the soil, in closed form (g = sqrt(j omega mu0 / soil))::

    E(r) = soil I / (2 pi r^2) (g r + exp(-g r))

The 1 in it for slow currents, soil I / (2 pi r^2), is the field of the soil's potential, by
which it raises the electrodes (:mod:`surgesim.physics.common_soil`). The rest is
*induced*: for r beyond the depth 1/g to which the current spreads it is I sqrt(j omega mu0
soil) / (2 pi r), the surface impedance of the soil times the magnetic field. ``depth`` m below
the surface it is exp(-g depth) of that, for a depth small against r.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.constants import MU_0
from surgesim.physics.return_stroke import Arriving
from surgesim.physics.waveforms import Waveform

Array = NDArray[np.float64]

NODES = 8
"""Of Gauss's rule over the logarithm of the distance along a piece of a route."""

STEPS = 400
"""Times, evenly spread by ratio, at which a voltage is given; straight lines between two of them
are right to 0.1 % of its crest."""

FINER = 3
"""Steps of the current to one of those."""


def point_potential(distance: float, soil: float) -> float:
    """Potential of the surface at ``distance`` m from a point where 1 A enters it, V.

    soil / (2 pi d): a current that spreads in half of space.
    """
    return soil / (2.0 * math.pi * distance)


def induced_along_soil(
    waveform: Waveform | Arriving, *, near: float, far: float, depth: float, soil: float, end: float
) -> tuple[Array, Array]:
    """The induced voltage along the soil from ``near`` to ``far`` m from the stroke's foot.

    Times in s from 0 to ``end`` and volts, outwards; what lies level with the surface at equal
    distance has none. The voltage is the change of current convolved with the answer to a step,
    G with T = mu0 r^2 / soil and D = mu0 depth^2 / soil::

        g(t) = soil/(2 pi r^2) (exp(-D/4t) sqrt(T/(pi t)) - erfc(sqrt(D/4t))
                                + erfc((sqrt T + sqrt D) / 2 sqrt t))
    """
    if not min(near, far) > 0.0:
        raise ValueError(f"expected distances above zero but got {near} and {far} m")
    time, fine = _times(waveform, end)
    change = np.diff(waveform.value(fine)) / np.diff(fine)
    grown = _answer(near, far, depth, soil, 1e-4 * float(fine[1]), end)
    since = np.maximum(time[:, None] - fine[None, :], 0.0)
    # it begins as a root of time
    integral = np.interp(np.sqrt(since), np.sqrt(grown[0]), grown[1])
    volts: Array = (integral[:, :-1] - integral[:, 1:]) @ change
    return time, volts


def _times(waveform: Waveform | Arriving, end: float) -> tuple[Array, Array]:
    """Times at which a voltage is given, and the finer ones of the current."""
    first = _foot(waveform, end)
    time = np.concatenate(([0.0], np.geomspace(first, end, STEPS)))
    fine = np.concatenate(([0.0], np.geomspace(first, end, FINER * (STEPS - 1) + 1)))
    return time, fine


def _foot(waveform: Waveform | Arriving, end: float) -> float:
    """Time in s by which a thousandth of the crest has come."""
    time = np.geomspace(1e-7 * end, end, 4000)
    size = np.abs(waveform.value(time))
    return float(time[int(np.argmax(size > 1e-3 * size.max()))])


def _answer(
    near: float, far: float, depth: float, soil: float, first: float, end: float
) -> tuple[Array, Array]:
    """Integral over time of the answer to a step of 1 A, in V s, between two distances."""
    time = np.concatenate(([0.0], np.geomspace(first, end, 1500)))
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    half = 0.5 * math.log(far / near)
    total = np.zeros_like(time)
    for node, weight in zip(nodes, weights, strict=True):
        distance = math.sqrt(near * far) * math.exp(half * float(node))
        # dr = r d(ln r)
        total[1:] += half * float(weight) * distance * _grown(distance, depth, soil, time[1:])
    return time, total


def _grown(distance: float, depth: float, soil: float, time: Array) -> Array:
    """Integral from 0 to ``time`` of the answer to a step of 1 A, V s/m."""
    slowness = math.sqrt(MU_0 / soil)
    root, deep = slowness * distance, slowness * depth
    parts = root * _half(deep, time) - _ramp(deep, time) + _ramp(deep + root, time)
    return soil / (2.0 * math.pi * distance**2) * parts


def _half(a: float, t: Array) -> Array:
    """Inverse Laplace transform of s^(-3/2) exp(-a sqrt(s))."""
    return 2.0 * np.sqrt(t / math.pi) * np.exp(-a * a / (4.0 * t)) - a * _erfc(a / (2 * np.sqrt(t)))


def _ramp(a: float, t: Array) -> Array:
    """Inverse Laplace transform of s^(-2) exp(-a sqrt(s))."""
    bell = a * np.sqrt(t / math.pi) * np.exp(-a * a / (4.0 * t))
    return (t + a * a / 2.0) * _erfc(a / (2.0 * np.sqrt(t))) - bell


def _erfc(values: Array) -> Array:
    return np.array([math.erfc(value) for value in values.tolist()])
