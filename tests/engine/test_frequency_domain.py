"""A line in time by the engine, against the same line in the frequency domain by scikit-rf."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import skrf

from surgesim.engine import simulate
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Line, Resistor
from surgesim.physics.waveforms import DoubleExponential

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

IMPEDANCE, DELAY, BEHIND = 120.0, 0.4e-6, 40.0
PULSE = DoubleExponential(peak=1000.0, scale=1.0, decay=2e6, rise=2e7)
LONG, POINTS = 40e-6, 2**14
"""The pulse and its echoes, halved and more at every return, are over long before."""


@pytest.mark.parametrize("load", [IMPEDANCE, 1e6, 30.0], ids=["matched", "open", "mismatched"])
def test_both_domains_have_the_same_voltages(
    stiff: MakeNetwork, line: MakeLine, load: float
) -> None:
    network = stiff(
        PULSE,
        Resistor(name="behind", a="start", b="near", resistance=BEHIND),
        line("near", "far", impedance=IMPEDANCE, delay=DELAY),
        Resistor(name="load", a="far", b=GROUND, resistance=load),
    )
    waves = simulate(network, window="front", stop=12 * DELAY)
    for node, wanted in zip(("near", "far"), by_scikit_rf(load), strict=True):
        found = waves.at(node)
        reference = np.interp(waves.time, np.arange(POINTS) * LONG / POINTS, wanted)
        # 0.5 % of the largest: both sample a front of 0.1 us at times of their own
        error = float(np.max(np.abs(found - reference)))
        assert error < 5e-3 * float(np.max(np.abs(reference)))


def by_scikit_rf(load: float) -> list[np.ndarray]:
    """Near and far voltage of the line behind the source, from its chain matrix."""
    frequency = np.fft.rfftfreq(POINTS, LONG / POINTS)
    # no line has a phase at exactly zero; a thousandth of the first frequency stands for it
    usable = np.where(frequency == 0.0, 1e-3 / LONG, frequency)
    medium = skrf.media.DefinedGammaZ0(
        skrf.Frequency.from_f(usable, unit="Hz"),
        gamma=2j * np.pi * usable * DELAY,
        z0=IMPEDANCE,
    )
    chain = medium.line(1.0, "m").a
    a, b, c, d = chain[:, 0, 0], chain[:, 0, 1], chain[:, 1, 0], chain[:, 1, 1]
    near_per_far, current_per_far = a + b / load, c + d / load
    source = np.fft.rfft(PULSE.value(np.arange(POINTS) * LONG / POINTS))
    far = source / (near_per_far + BEHIND * current_per_far)
    return [np.fft.irfft(v, n=POINTS) for v in (far * near_per_far, far)]
