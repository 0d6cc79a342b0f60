"""Lines of the second solver against the worked examples of travelling-wave theory."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Ammeter, Capacitor, Clamp, Line, Resistor
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import solve
from surgesim.physics.waveforms import Ramp, Step

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

DELAY = 1e-6
STEP = DELAY / 200
RISE = 4 * STEP
"""A step needs a front: plateaus are read half a delay after it arrived."""


def at(waves: Waveforms, node: str, time: float) -> float:
    return float(np.interp(time, waves.time, waves.at(node)))


def test_lattice_of_a_mismatched_line(stiff: MakeNetwork, line: MakeLine) -> None:
    # Gönen, Electric Power Transmission System Engineering, 2nd ed., Example 7.6: the receiving
    # end between arrivals. A delay of whole steps keeps plateaus to rounding.
    network = stiff(
        Step(peak=1000.0, rise=RISE),
        line("start", "end", impedance=40.0, delay=DELAY),
        Resistor(name="load", a="end", b=GROUND, resistance=60.0),
    )
    waves = solve(network, step=STEP, stop=9 * DELAY)
    measured = [at(waves, "end", k * DELAY) for k in (0.5, 2.0, 4.0, 6.0, 8.0)]
    assert measured == pytest.approx([0.0, 1200.0, 960.0, 1008.0, 998.4], rel=1e-9, abs=1e-9)


def test_quarter_length_from_the_receiving_end(stiff: MakeNetwork, line: MakeLine) -> None:
    # Gönen, Example 7.6 (d), t = 6.5 T: 1008 V a quarter-length from the receiving end, which
    # is what the book prints for x = 0.25 l; from the sending end the lattice gives 1000 V.
    network = stiff(
        Step(peak=1000.0, rise=RISE),
        line("start", "quarter", impedance=40.0, delay=DELAY / 4, name="first"),
        line("quarter", "three quarters", impedance=40.0, delay=DELAY / 2, name="middle"),
        line("three quarters", "end", impedance=40.0, delay=DELAY / 4, name="last"),
        Resistor(name="load", a="end", b=GROUND, resistance=60.0),
    )
    waves = solve(network, step=STEP, stop=7 * DELAY)
    assert at(waves, "three quarters", 6.5 * DELAY) == pytest.approx(1008.0, rel=1e-9)
    assert at(waves, "quarter", 6.5 * DELAY) == pytest.approx(1000.0, rel=1e-9)


def test_reflection_at_a_resistor(stiff: MakeNetwork, line: MakeLine) -> None:
    # Gönen, Example 7.4: 5 kV on 400 ohm meets 500 ohm: 555.6 V come back, 5555.6 V and
    # 11.111 A at the end. Printed to four digits.
    network = stiff(
        Step(peak=5000.0, rise=RISE),
        line("start", "end", impedance=400.0, delay=DELAY),
        Ammeter(name="load current", a="end", b="load"),
        Resistor(name="load", a="load", b=GROUND, resistance=500.0),
    )
    waves = solve(network, step=STEP, stop=2 * DELAY)
    assert at(waves, "end", 1.5 * DELAY) == pytest.approx(5555.6, abs=0.05)
    assert at(waves, "end", 1.5 * DELAY) - 5000.0 == pytest.approx(555.6, abs=0.05)
    assert waves.currents["load current"][-1] == pytest.approx(11.111, abs=5e-4)


# Gönen, Example 7.5 (line 400 to cable 40 ohm), and Example 8.5 of Naidu and Kamaraju, High
# Voltage Engineering (title from memory), cable 0.189 mH/km with 0.3 uF/km and line 1.26 mH/km
# with 0.009 uF/km, both ways. Incident, first and second impedance, transmitted, reflected.
JUNCTIONS = [
    (200e3, 400.0, 40.0, 36.364e3, -163.64e3),
    (200e3, 25.10, 374.17, 374.85e3, 174.85e3),
    (200e3, 374.17, 25.10, 25.15e3, -174.85e3),
    # a textbook junction of 2 mH/km, 0.01 uF/km with 0.25 mH/km, 0.102 uF/km
    (100e3, 447.21, 49.507, 19.934e3, -80.066e3),
]


@pytest.mark.parametrize(("incident", "first", "second", "transmitted", "reflected"), JUNCTIONS)
def test_junction_of_line_and_cable(
    stiff: MakeNetwork,
    line: MakeLine,
    incident: float,
    first: float,
    second: float,
    transmitted: float,
    reflected: float,
) -> None:
    network = stiff(
        Step(peak=incident, rise=RISE),
        line("start", "joint", impedance=first, delay=DELAY, name="first"),
        line("joint", "end", impedance=second, delay=DELAY, name="second"),
        Resistor(name="match", a="end", b=GROUND, resistance=second),
    )
    waves = solve(network, step=STEP, stop=2 * DELAY)
    joint = at(waves, "joint", 1.5 * DELAY)
    assert joint == pytest.approx(transmitted, rel=2e-4)  # printed to four digits
    assert joint - incident == pytest.approx(reflected, rel=2e-4)
    current = float(np.interp(1.5 * DELAY, waves.time, waves.currents["second/near/0"]))
    assert current == pytest.approx(transmitted / second, rel=2e-4)


# Peak at the open end of a stiff ramp, per unit, by its rise in one-way delays: the ramp's
# reflections added up, closed form. All arrivals fall on whole steps.
OPEN_END = [
    (1.0, 2.0),
    (2.0, 2.0),
    (2.5, 1.6),
    (3.0, 1.3333),
    (3.5, 1.1429),
    (4.0, 1.0),
    (5.0, 1.2),
    (6.0, 1.3333),
    (8.0, 1.0),
]


@pytest.mark.parametrize(("rise", "expected"), OPEN_END)
def test_ramp_on_an_open_line(
    stiff: MakeNetwork, line: MakeLine, rise: float, expected: float
) -> None:
    network = stiff(
        Ramp(peak=1.0, rise=rise * DELAY),
        line("start", "end", impedance=100.0, delay=DELAY),
    )
    waves = solve(network, step=STEP, stop=20 * DELAY)
    assert np.max(waves.at("end")) == pytest.approx(expected, abs=6e-5)  # as printed


SPEED = 300e6
STEEPNESS = 1000e3 / 1e-6
RESIDUAL = 400e3

# Chakrabarti, Soni, Gupta, Bhatnagar, Power System Engineering, Example 15.1: 400 kV arrester
# 30 m in front of an open transformer, 1000 kV/us, 300 m/us: 600 kV. The other lengths by
# U = min(Up + 2 S T, 2 Up) (IEC 60099-5, IEEE C62.22, from memory), closed form.
DISTANCES = [(10.0, 466.67e3), (30.0, 600e3), (60.0, 800e3), (90.0, 800e3)]


@pytest.mark.parametrize(("length", "expected"), DISTANCES)
def test_arrester_at_a_distance(
    stiff: MakeNetwork, line: MakeLine, length: float, expected: float
) -> None:
    # The incoming wave as twice its voltage behind the line's impedance.
    delay = length / SPEED
    peak = 3000e3
    network = stiff(
        Ramp(peak=2 * peak, rise=peak / STEEPNESS),
        Resistor(name="incoming line", a="start", b="arrester", resistance=400.0),
        Clamp(name="clamp", a="arrester", b=GROUND, voltage=RESIDUAL, resistance=1e-3),
        line("arrester", "transformer", impedance=400.0, delay=delay),
    )
    waves = solve(network, step=delay / 100, stop=20 * delay + 1e-6)
    # 0.5 %: the clamp's knee falls between two steps, a hundredth of a delay apart
    assert np.max(waves.at("transformer")) == pytest.approx(expected, rel=5e-3)


def capacitor_at_the_end(
    stiff: MakeNetwork, line: MakeLine, ratio: float, *, delays: float
) -> Waveforms:
    """Unit step on a line that ends in a capacitor with Z C = ratio times the delay."""
    network = stiff(
        Step(peak=1.0, rise=4e-4 * DELAY),
        line("start", "end", impedance=100.0, delay=DELAY),
        Capacitor(name="load", a="end", b=GROUND, capacitance=ratio * DELAY / 100.0),
    )
    return solve(network, step=2e-4 * DELAY, stop=delays * DELAY)


def test_first_peak_after_the_return_from_a_capacitor(stiff: MakeNetwork, line: MakeLine) -> None:
    # (2 + 4 x) exp(-x) behind the second arrival, x in Z C: 4 exp(-1/2) at x = 1/2, closed form.
    # 0.1 %: the front is 1/50 of Z C long.
    waves = capacitor_at_the_end(stiff, line, 0.02, delays=5)
    first = waves.time > 3 * DELAY
    assert np.max(waves.at("end")[first]) == pytest.approx(4 * np.exp(-0.5), rel=1e-3)


# Peak by Z C over the delay: the reflections' series, closed form, to four digits. Nothing is
# lost, so the swing has no last and no largest peak: these are the largest of the first 12
# delays, for the slowest of the first 25.
CAPACITIVE = [
    (0.1, 12, 2.513),
    (0.2, 12, 2.495),
    (0.5, 12, 2.404),
    (1.0, 12, 2.327),
    (2.0, 12, 2.060),
    (5.0, 25, 2.066),
]


@pytest.mark.parametrize(("ratio", "delays", "expected"), CAPACITIVE)
def test_peak_at_a_capacitor(
    stiff: MakeNetwork, line: MakeLine, ratio: float, delays: float, expected: float
) -> None:
    waves = capacitor_at_the_end(stiff, line, ratio, delays=delays)
    assert np.max(waves.at("end")) == pytest.approx(expected, abs=1e-3)
