"""The field of a return stroke against its retarded current, summed metre by metre.

The reference is the transmission-line model itself (Uman and McLain 1969, from memory): every
metre of the channel, and of its image in perfect ground, gives the magnetic field that its
retarded current and the change of that have, r/R^3 I + r/(c R^2) dI/dt.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.physics.constants import MU_0, SPEED_OF_LIGHT
from surgesim.physics.induced import rate
from surgesim.physics.induction import Channel
from surgesim.physics.return_stroke import Arriving, step_share
from surgesim.physics.stroke_voltage import induced_by_stroke
from surgesim.physics.waveforms import Heidler, Waveform

Array = NDArray[np.float64]

HALF, THIRD = SPEED_OF_LIGHT / 2.0, SPEED_OF_LIGHT / 3.0
STROKES = {
    0.25e-6: Heidler(peak=1.0, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0),
    1e-6: Heidler(peak=1.0, correction=0.986, front=1.82e-6, tail=285e-6, exponent=10.0),
    10e-6: Heidler(peak=1.0, correction=0.93, front=19e-6, tail=485e-6, exponent=10.0),
}
STEEP = STROKES[0.25e-6]


def summed(
    current: Waveform, distance: float, height: float, speed: float, time: float, metres: int
) -> float:
    """The current of an endless wire with the field of a stroke, by the trapezoidal rule."""
    z = np.linspace(0.0, speed * time, metres)
    total = 0.0
    for side in (-1.0, 1.0):
        away = np.hypot(distance, height + side * z)
        since = np.maximum(time - away / SPEED_OF_LIGHT - z / speed, 0.0)
        near = distance / away**3 * current.value(since)
        far = distance / (SPEED_OF_LIGHT * away**2) * rate(current, since)
        total += float(np.trapezoid(near + far, z))
    return distance / 2.0 * total


@pytest.mark.parametrize("speed", [THIRD, HALF])
@pytest.mark.parametrize(("distance", "height"), [(46.0, 0.0), (46.0, 10.0), (3.0, 8.0)])
def test_what_arrives_is_what_the_retarded_current_gives(
    distance: float, height: float, speed: float
) -> None:
    found = Arriving(current=STEEP, distance=distance, height=height, speed=speed, end=2e-3)
    for time in (0.45e-6, 0.6e-6, 0.9e-6, 3e-6):
        values = [summed(STEEP, distance, height, speed, time + dt, 40_001) for dt in (-2e-9, 2e-9)]
        # 1e-3 of the crest of each: straight lines between the times of the current
        assert float(found.value(time)) == pytest.approx(sum(values) / 2.0, abs=1e-3)
        slope = (values[1] - values[0]) / 4e-9
        assert float(found.rate(time)) == pytest.approx(slope, abs=3e-3 * 5.6e6)


def test_a_step_grows_from_v_over_c_to_that_of_an_endless_wire() -> None:
    # Rubinstein and Uman 1989, from memory: v/c at the moment it arrives
    first = 46.0 / SPEED_OF_LIGHT
    time = np.array([0.999 * first, 1.000001 * first, 1e-3])
    share = step_share(time, distance=46.0, height=0.0, speed=THIRD)
    assert share == pytest.approx([0.0, 1.0 / 3.0, 1.0], abs=1e-5)
    light = step_share(time, distance=46.0, height=0.0, speed=SPEED_OF_LIGHT)
    assert light == pytest.approx([0.0, 1.0, 1.0])


def test_the_voltage_of_a_loop_by_the_field_in_it() -> None:
    """14 m by 4 m upright, 20 to 34 m from the foot: the change of the flux, point by point."""
    corners = ((20.0, 0.0, 1.0), (34.0, 0.0, 1.0), (34.0, 0.0, 5.0), (20.0, 0.0, 5.0))
    channel = Channel(0.0, 0.0)
    time, volts = induced_by_stroke(
        (*corners, corners[0]), channel, STEEP, speed=HALF, end=2e-3
    )  # fmt: skip
    nodes, weights = np.polynomial.legendre.leggauss(6)
    for at in (0.4e-6, 0.55e-6, 0.8e-6):
        flux = []
        for t in (at - 2e-9, at + 2e-9):
            total = 0.0
            for x, wx in zip(27.0 + 7.0 * nodes, 7.0 * weights, strict=True):
                for z, wz in zip(3.0 + 2.0 * nodes, 2.0 * weights, strict=True):
                    field = MU_0 / (2 * math.pi * x) * summed(STEEP, x, z, HALF, t, 4_001)
                    total += wx * wz * field
            flux.append(total)
        expected = (flux[0] - flux[1]) / 4e-9  # its lower side outward: against the flux
        found = float(np.interp(at, time, volts))
        # parts of the path at one distance each, up to 1.4 times as far at the end
        assert found == pytest.approx(expected, abs=0.01 * 2.1)


def test_the_voltage_along_the_soil_is_that_of_the_arriving_current() -> None:
    """Against the sum over frequencies of the soil's field times the arriving current."""
    near, far, soil, period, count = 46.0, 52.0, 170.0, 2e-3, 2**20
    time, volts = induced_by_stroke(
        ((near, 0.0, 0.0), (far, 0.0, 0.0)), Channel(0.0, 0.0), STEEP, speed=THIRD, end=40e-6,
        depth=0.7, soil=soil,
    )  # fmt: skip
    grid = np.arange(count) * period / count
    growth = np.sqrt(2j * math.pi * np.fft.rfftfreq(count, period / count) * MU_0 / soil)
    nodes, weights = np.polynomial.legendre.leggauss(4)
    spectrum = np.zeros_like(growth)
    for node, weight in zip(nodes, weights, strict=True):
        r = 49.0 + 3.0 * float(node)
        arriving = Arriving(current=STEEP, distance=r, height=0.0, speed=THIRD, end=period)
        shape = soil / (2 * math.pi * r**2) * (growth * r + np.exp(-growth * r) - 1.0)
        spectrum += 3.0 * weight * shape * np.fft.rfft(arriving.value(grid))
    expected = np.interp(time, grid, np.fft.irfft(spectrum * np.exp(-growth * 0.7), count))
    # what is left of the current at the period's end, and lines between points
    assert np.max(np.abs(volts - expected)) < 0.01 * np.max(np.abs(expected))


def too_much(shape: Waveform, distance: float, speed: float) -> float:
    """Crest of the rate of change at once all along over that of the stroke."""
    arriving = Arriving(current=shape, distance=distance, height=0.0, speed=speed, end=1e-3)
    time = np.arange(0.0, 20e-6, 2e-9)
    return float(np.max(rate(shape, time)) / np.max(arriving.rate(time)))


@pytest.mark.parametrize(
    ("front", "half", "third"), [(0.25e-6, 1.51, 2.06), (1e-6, 1.16, 1.34), (10e-6, 1.01, 1.02)]
)
def test_what_is_told_of_a_channel_that_carries_its_current_at_once(
    front: float, half: float, third: float
) -> None:
    found = [too_much(STROKES[front], 46.0, speed) for speed in (HALF, THIRD)]
    assert found == pytest.approx([half, third], rel=0.02)


def test_a_faster_stroke_induces_more_and_none_more_than_at_once() -> None:
    for shape in STROKES.values():
        for distance in (10.0, 46.0, 150.0):
            ratios = [too_much(shape, distance, v * SPEED_OF_LIGHT) for v in (0.2, 0.33, 0.5, 0.9)]
            assert ratios == sorted(ratios, reverse=True)
            assert min(ratios) >= 1.0 - 1e-3


@pytest.mark.parametrize(
    ("spot", "words"),
    [
        ({"distance": 0.0}, "beside the channel"),
        ({"height": -1.0}, "above ground"),
        ({"speed": 4e8}, "up to that of light"),
        ({"speed": 0.0}, "up to that of light"),
    ],
)
def test_what_is_no_stroke_is_refused(spot: dict[str, float], words: str) -> None:
    numbers = {"distance": 46.0, "height": 0.0, "speed": HALF, "end": 1e-3, **spot}
    with pytest.raises(ValueError, match=words):
        Arriving(current=STEEP, **numbers)
