"""Lines through the real engine against the worked examples of travelling-wave theory."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from surgesim.engine import simulate
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Ammeter, Capacitor, Clamp, Inductor, Line, Resistor
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Ramp, Step

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

DELAY = 1e-6
RISE = 0.05e-6
"""A step needs a front: plateaus are read half a delay after it arrived."""


def at(waves: Waveforms, node: str, time: float) -> float:
    return float(np.interp(time, waves.time, waves.at(node)))


def test_lattice_of_a_mismatched_line(stiff: MakeNetwork, line: MakeLine) -> None:
    # Gönen, Electric Power Transmission System Engineering, 2nd ed., Example 7.6.
    # 0.1 %: the book's figures are exact; a line sampled twice a delay keeps plateaus exactly.
    network = stiff(
        Step(peak=1000.0, rise=RISE),
        line("start", "end", impedance=40.0, delay=DELAY),
        Resistor(name="load", a="end", b=GROUND, resistance=60.0),
    )
    waves = simulate(network, window="front")
    measured = [at(waves, "end", k * DELAY) for k in (0.5, 2.0, 4.0, 6.0, 8.0)]
    assert measured == pytest.approx([0.0, 1200.0, 960.0, 1008.0, 998.4], rel=1e-3, abs=1e-3)


def test_reflection_at_a_resistor(stiff: MakeNetwork, line: MakeLine) -> None:
    # Gönen, Example 7.4: 5 kV on 400 ohm meets 500 ohm: 5555.6 V and 11.111 A at the end.
    network = stiff(
        Step(peak=5000.0, rise=RISE),
        line("start", "end", impedance=400.0, delay=DELAY),
        Ammeter(name="load current", a="end", b="load"),
        Resistor(name="load", a="load", b=GROUND, resistance=500.0),
    )
    waves = simulate(network, window="front")
    current = float(np.interp(2 * DELAY, waves.time, waves.currents["load current"]))
    assert at(waves, "end", 2 * DELAY) == pytest.approx(5555.6, rel=1e-3)
    assert current == pytest.approx(11.111, rel=1e-3)


# Gönen, Example 7.5 (line 400 to cable 40 ohm), and Example 8.5 of Naidu and Kamaraju, High
# Voltage Engineering (title from memory), cable 0.189 mH/km with 0.3 uF/km and line 1.26 mH/km
# with 0.009 uF/km, both ways. Incident, first and second impedance, transmitted, reflected.
JUNCTIONS = [
    (200e3, 400.0, 40.0, 36.364e3, -163.64e3),
    (200e3, 25.10, 374.17, 374.85e3, 174.85e3),
    (200e3, 374.17, 25.10, 25.15e3, -174.85e3),
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
    waves = simulate(network, window="front")
    arriving = float(np.interp(2 * DELAY, waves.time, waves.currents["second/near/0"]))
    # 0.1 %: the printed impedances have four digits
    assert at(waves, "joint", 2 * DELAY) == pytest.approx(transmitted, rel=1e-3)
    assert at(waves, "joint", 2 * DELAY) - incident == pytest.approx(reflected, rel=1e-3)
    assert arriving == pytest.approx(transmitted / second, rel=1e-3)


@pytest.mark.parametrize(("load", "expected"), [(1e9, 2.0), (50.0, 1.0), (1e-6, 0.0)])
def test_open_matched_and_shorted_end(
    stiff: MakeNetwork, line: MakeLine, load: float, expected: float
) -> None:
    # An open end doubles, a matched one leaves alone: textbook. 0.5 % of the incident wave.
    network = stiff(
        Step(peak=1000.0, rise=RISE),
        line("start", "end", impedance=50.0, delay=DELAY),
        Resistor(name="load", a="end", b=GROUND, resistance=load),
    )
    waves = simulate(network, window="front", stop=2.8 * DELAY)
    assert float(np.max(waves.at("end"))) / 1000.0 == pytest.approx(expected, abs=5e-3)


# Peak at the open end of a line behind a stiff source that ramps up in `rise` delays: the sum of
# the lattice in closed form, recomputed by two methods.
RAMPS = [(1, 2.0), (2, 2.0), (2.5, 1.6), (3, 1.3333), (4, 1.0), (5, 1.2), (6, 1.3333)]


@pytest.mark.parametrize(("rise", "expected"), RAMPS)
def test_open_end_behind_a_ramp(
    stiff: MakeNetwork, line: MakeLine, rise: float, expected: float
) -> None:
    network = stiff(
        Ramp(peak=1000.0, rise=rise * DELAY),
        line("start", "end", impedance=50.0, delay=DELAY),
        Resistor(name="open", a="end", b=GROUND, resistance=1e9),
    )
    waves = simulate(network, window="front", stop=40 * DELAY)
    # 0.3 %: a crest that comes to a point is met to a step of a five-hundredth of the ramp
    assert float(np.max(waves.at("end"))) / 1000.0 == pytest.approx(expected, rel=3e-3)


def arrester_ahead(line: MakeLine, stiff: MakeNetwork, length: float) -> Network:
    """1000 kV/us on a 400 ohm line, a 400 kV limiter, ``length`` m of line, an open end.

    The wave arrives from a source of twice its voltage behind the line's own impedance.
    """
    return stiff(
        Ramp(peak=2 * 1500e3, rise=1.5e-6),
        Resistor(name="far line", a="start", b="arrester", resistance=400.0),
        Clamp(name="limiter", a="arrester", b=GROUND, voltage=400e3, resistance=1e-3),
        line("arrester", "end", impedance=400.0, delay=length / 300e6),
        Resistor(name="open", a="end", b=GROUND, resistance=1e9),
    )


def test_arrester_ahead_of_a_transformer(stiff: MakeNetwork, line: MakeLine) -> None:
    # Chakrabarti, Soni, Gupta, Bhatnagar, Power System Engineering, Example 15.1: 30 m behind
    # a 400 kV arrester, 1000 kV/us, 300 m/us: Ea + 2 S L / v = 600 kV. 1 %: a pointed crest
    # sampled every 3 ns at 2000 kV/us.
    waves = simulate(arrester_ahead(line, stiff, 30.0), window="front")
    assert float(np.max(waves.at("end"))) == pytest.approx(600e3, rel=0.01)
    assert float(np.max(waves.at("arrester"))) == pytest.approx(400e3, rel=1e-3)


@pytest.mark.parametrize(
    ("length", "expected"), [(10.0, 466.67e3), (30.0, 600e3), (60.0, 800e3), (90.0, 800e3)]
)
def test_distance_saturates_at_twice_the_arrester(
    stiff: MakeNetwork, line: MakeLine, length: float, expected: float
) -> None:
    # U = min(Up + 2 S T, 2 Up): IEC 60099-5 and IEEE C62.22, formula from memory. 1 % as above.
    waves = simulate(arrester_ahead(line, stiff, length), window="front")
    assert float(np.max(waves.at("end"))) == pytest.approx(expected, rel=0.01)


def capacitor_at_the_end(stiff: MakeNetwork, line: MakeLine, ratio: float) -> Network:
    """``ratio`` is Z0 C over the line's delay."""
    return stiff(
        Step(peak=1000.0, rise=DELAY / 25),
        line("start", "end", impedance=50.0, delay=DELAY),
        Capacitor(name="load", a="end", b=GROUND, capacitance=ratio * DELAY / 50.0),
    )


def test_first_re_reflection_at_a_capacitor(stiff: MakeNetwork, line: MakeLine) -> None:
    # 4 exp(-1/2) = 2.4261 of a stiff step, where Z0 C is short beside the delay: closed form.
    # Twice the source is no bound. 1 %: Z0 C is a tenth of the delay, the front 2/5 of that.
    waves = simulate(capacitor_at_the_end(stiff, line, 0.1), window="front", stop=4.9 * DELAY)
    assert float(np.max(waves.at("end"))) / 1000.0 == pytest.approx(2.4261, rel=0.01)


def test_capacitor_at_the_end_against_a_plain_solver(stiff: MakeNetwork, line: MakeLine) -> None:
    # The lattice written out: waves handed over once a delay, the capacitor by the trapezoid.
    # 1e-4: both sample a front of 40 ns at their own times, for 40 delays.
    ratio, per_delay, delays = 0.5, 1000, 40
    waves = simulate(capacitor_at_the_end(stiff, line, ratio), window="front", stop=delays * DELAY)
    time = np.arange(delays * per_delay) / per_delay
    source = Step(peak=1000.0, rise=DELAY / 25).value(time * DELAY)
    weight = 1.0 / (2 * per_delay * ratio)
    forward, backward, end = (np.zeros(len(time)) for _ in range(3))
    for k in range(1, len(time)):
        arriving, arrived = (
            forward[j] if j >= 0 else 0.0 for j in (k - per_delay, k - per_delay - 1)
        )
        end[k] = ((1 - weight) * end[k - 1] + 2 * weight * (arriving + arrived)) / (1 + weight)
        backward[k] = end[k] - arriving
        forward[k] = source[k] - (backward[k - per_delay] if k >= per_delay else 0.0)
    assert float(np.max(waves.at("end"))) == pytest.approx(float(np.max(end)), rel=1e-4)


def test_symmetric_pair_is_two_single_lines(stiff: MakeNetwork, line: MakeLine) -> None:
    # Even and odd mode of a symmetric pair travel alone: superposition, exact for any source.
    even, odd = (300.0, 0.8e-6), (60.0, 1.1e-6)
    pair = Line(
        name="pair",
        near=("one", "two"),
        far=("one end", "two end"),
        voltage_modes=((1.0, 1.0), (1.0, -1.0)),
        # v = v_e + v_o and i = (i_e + i_o)/2: a mode's current is that of both conductors
        impedance=(even[0] / 2, odd[0] / 2),
        delay=(even[1], odd[1]),
        resistance=(0.0, 0.0),
    )
    surge = Step(peak=1000.0, rise=RISE)
    ends = [("one", "start", 20.0), ("two", GROUND, 20.0)]
    loads = [("one end", 150.0), ("two end", 150.0)]
    both = stiff(
        surge,
        pair,
        *(Resistor(name=f"at {a}", a=a, b=b, resistance=r) for a, b, r in ends),
        *(Resistor(name=f"load {a}", a=a, b=GROUND, resistance=r) for a, r in loads),
    )
    waves = simulate(both, window="front", step=5e-9, stop=15e-6)
    modes = [single_mode(stiff, line, surge, *mode) for mode in (even, odd)]
    for node, sign in (("one end", 1.0), ("two end", -1.0)):
        parts = [np.interp(waves.time, mode.time, mode.at("end")) for mode in modes]
        expected = 0.5 * (parts[0] + sign * parts[1])
        # 0.2 % of the source: both runs sample a front of 50 ns every 5 ns, at other times
        np.testing.assert_allclose(waves.at(node), expected, rtol=0, atol=2.0)


def single_mode(
    stiff: MakeNetwork, line: MakeLine, surge: Step, impedance: float, delay: float
) -> Waveforms:
    network = stiff(
        surge,
        Resistor(name="behind", a="start", b="near", resistance=20.0),
        line("near", "end", impedance=impedance, delay=delay),
        Resistor(name="load", a="end", b=GROUND, resistance=150.0),
    )
    return simulate(network, window="front", step=5e-9, stop=15e-6)


def test_lines_in_a_row_are_one_line(stiff: MakeNetwork, line: MakeLine) -> None:
    whole = [line("start", "end", impedance=80.0, delay=1.5e-6)]
    halves = [
        line("start", "middle", impedance=80.0, delay=0.5e-6, name="first"),
        line("middle", "end", impedance=80.0, delay=1.0e-6, name="second"),
    ]
    load = Resistor(name="load", a="end", b=GROUND, resistance=200.0)
    runs = [
        simulate(stiff(Step(peak=1.0, rise=0.2e-6), *lines, load), window="front", stop=12e-6)
        for lines in (whole, halves)
    ]
    second = np.interp(runs[0].time, runs[1].time, runs[1].at("end"))
    np.testing.assert_allclose(runs[0].at("end"), second, rtol=0, atol=2e-3)


def test_reversing_a_line_changes_nothing(stiff: MakeNetwork) -> None:
    modes = ((1.0, 0.8), (0.9, -1.0))
    ends = ("a", "b"), ("c", "d")
    results = []
    for near, far in (ends, ends[::-1]):
        run = Line(
            name="run",
            near=near,
            far=far,
            voltage_modes=modes,
            impedance=(150.0, 70.0),
            delay=(0.4e-6, 0.3e-6),
            resistance=(1.0, 2.0),
            near_reference="soil" if near == ends[0] else GROUND,
            far_reference="soil" if far == ends[0] else GROUND,
        )
        network = stiff(
            Step(peak=1000.0, rise=0.1e-6),
            Resistor(name="loss", a="soil", b=GROUND, resistance=30.0),
            Inductor(name="lag", a="soil", b=GROUND, inductance=20e-6),
            Resistor(name="in", a="start", b="a", resistance=10.0),
            run,
            *(
                Resistor(name=f"at {node}", a=node, b=GROUND, resistance=value)
                for node, value in (("b", 40.0), ("c", 300.0), ("d", 90.0))
            ),
        )
        results.append(simulate(network, window="front"))
    first, second = results
    assert len(first.time) == len(second.time)
    for node in "abcd":
        np.testing.assert_allclose(first.at(node), second.at(node), rtol=0, atol=1e-3)


def test_what_goes_into_a_lossless_line_comes_out(stiff: MakeNetwork, line: MakeLine) -> None:
    # The ports' sign: both currents count into the line, so over a whole pulse the energies
    # into both ends cancel once the line is at rest.
    network = stiff(
        Ramp(peak=1000.0, rise=0.3e-6),
        line("start", "end", impedance=50.0, delay=0.5e-6),
        Resistor(name="load", a="end", b=GROUND, resistance=50.0),
    )
    waves = simulate(network, window="front", stop=8e-6)
    into = [waves.voltages[f"line/{e}/0"] * waves.currents[f"line/{e}/0"] for e in ("near", "far")]
    near, far = (float(np.trapezoid(power, waves.time)) for power in into)
    stored = 1000.0**2 / 50.0 * 0.5e-6
    # 0.5 %: the integrals are sums over steps of a fiftieth of the front
    assert near + far == pytest.approx(stored, rel=5e-3)
    assert far < 0 < near


@pytest.mark.parametrize("factor", [2.0, -3.5])
def test_a_linear_network_scales_with_its_source(
    stiff: MakeNetwork, line: MakeLine, factor: float
) -> None:
    runs = [
        simulate(
            stiff(
                Step(peak=peak, rise=RISE),
                line(
                    "start",
                    "end",
                    impedance=50.0,
                    delay=DELAY,
                    resistance=2.0,
                    references=("soil", GROUND),
                ),
                Resistor(name="loss", a="soil", b=GROUND, resistance=10.0),
                Inductor(name="lag", a="soil", b=GROUND, inductance=5e-6),
                Capacitor(name="body", a="end", b=GROUND, capacitance=10e-9),
                Resistor(name="load", a="end", b=GROUND, resistance=75.0),
            ),
            window="front",
        )
        for peak in (100.0, factor * 100.0)
    ]
    first, second = (run.at("end") for run in runs)
    np.testing.assert_allclose(second, factor * first, rtol=1e-6, atol=1e-6)


def test_time_runs_forward_from_zero_to_the_end(stiff: MakeNetwork, line: MakeLine) -> None:
    network = stiff(
        Step(peak=1.0, rise=RISE),
        line("start", "end", impedance=50.0, delay=DELAY),
        Resistor(name="load", a="end", b=GROUND, resistance=75.0),
    )
    waves = simulate(network, window="front")
    assert waves.time[0] == 0.0
    assert waves.time[-1] == pytest.approx(waves.stop, rel=1e-9)
    assert all(before < after for before, after in pairwise(waves.time))
    assert float(np.max(np.diff(waves.time))) <= waves.step * (1 + 1e-6)
