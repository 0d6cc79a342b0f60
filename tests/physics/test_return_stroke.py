"""How much a channel that carries its current at once all along induces too much.

A return stroke climbs at a speed of its own. With the current of its foot running up unchanged
(the transmission-line model; Uman and McLain 1969, from memory), the magnetic field at the
ground follows from the retarded current; for a step it has the closed form that
``docs/physics.md`` names (Rusck 1958, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from surgesim.physics.constants import SPEED_OF_LIGHT
from surgesim.physics.induced import rate
from surgesim.physics.waveforms import Heidler, Waveform

THIRD = SPEED_OF_LIGHT / 3.0
STROKES = {
    0.25e-6: Heidler(peak=1.0, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0),
    1e-6: Heidler(peak=1.0, correction=0.986, front=1.82e-6, tail=285e-6, exponent=10.0),
    10e-6: Heidler(peak=1.0, correction=0.93, front=19e-6, tail=485e-6, exponent=10.0),
}


def of_a_step(distance: float, time: np.ndarray) -> np.ndarray:
    """Field over that of an endless wire with the same current."""
    climbed = THIRD * time
    slower = (1.0 - (THIRD / SPEED_OF_LIGHT) ** 2) * distance**2
    grown = climbed / np.sqrt(climbed**2 + slower)
    return np.where(time >= distance / SPEED_OF_LIGHT, grown, 0.0)


@pytest.mark.parametrize("time", [0.4e-6, 1e-6, 3e-6])
def test_the_field_of_a_step_by_the_retarded_current(time: float) -> None:
    """Induction and radiation of every metre and of its image, of a front 2 ns long."""
    distance, rise = 46.0, 2e-9
    z = np.linspace(0.0, 2.0 * THIRD * time, 2_000_001)
    away = np.hypot(distance, z)
    since = time - away / SPEED_OF_LIGHT - z / THIRD
    current = np.clip(since / rise, 0.0, 1.0)
    steep = np.where((since > 0.0) & (since < rise), 1.0 / rise, 0.0)
    field = distance / away**3 * current + distance / (SPEED_OF_LIGHT * away**2) * steep
    found = distance * float(np.trapezoid(field, z))
    assert found == pytest.approx(float(of_a_step(distance, np.array(time))), rel=0.01)


def too_much(shape: Waveform, distance: float) -> float:
    """Crest of the rate of change of the field of an endless wire over that of the stroke."""
    step = 2e-9
    time = np.arange(0.0, 20e-6, step)
    slope = rate(shape, time)
    field = np.convolve(slope, of_a_step(distance, time))[: len(time)] * step
    return float(np.max(slope) / np.max(np.gradient(field, step)))


@pytest.mark.parametrize(("front", "factor"), [(0.25e-6, 2.06), (1e-6, 1.34), (10e-6, 1.02)])
def test_what_is_told_of_it(front: float, factor: float) -> None:
    assert too_much(STROKES[front], 46.0) == pytest.approx(factor, rel=0.02)


def test_it_never_reads_low() -> None:
    for shape in STROKES.values():
        for distance in (10.0, 46.0, 150.0):
            assert too_much(shape, distance) >= 1.0 - 1e-3
    assert math.isclose(THIRD, 1e8, rel_tol=1e-2)
