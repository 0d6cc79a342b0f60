"""Spark gaps in ngspice: where they fire, that they do not creep, and the tail's same story."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.engine import run_network, simulate
from surgesim.engine.gap import course_of
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Resistor, SparkGap
from surgesim.oracle import Stretch, follow
from surgesim.physics.spark_gap import GapLaw, calibrated, ramp_sparkover
from surgesim.physics.waveforms import Heidler, Ramp, Step

MakeNetwork = Callable[..., Network]

LAW = calibrated(GapLaw(sparkover=600.0, collapse=1e-8), impulse=1100.0, slope=1e9)


def tube() -> SparkGap:
    return SparkGap(name="tube", a="end", b=GROUND, law=LAW)


def behind(ohms: float = 50.0) -> Resistor:
    return Resistor(name="behind", a="start", b="end", resistance=ohms)


@pytest.mark.parametrize(("slope", "sign"), [(1e8, 1.0), (1e9, -1.0), (1e10, 1.0)])
def test_crest_of_a_ramp_is_the_laws(stiff: MakeNetwork, slope: float, sign: float) -> None:
    # 0.05 % measured; the front's error control is what makes it so good
    front, _ = run_network(stiff(Ramp(peak=sign * 3e3, rise=3e3 / slope), behind(), tube()))
    expected = ramp_sparkover(LAW, slope)
    assert float(np.max(sign * front.at("end"))) == pytest.approx(expected, rel=2e-3)
    assert float(np.min(sign * front.at("end"))) > -1.0
    # the arc of 20 V and 5 mohm
    assert abs(front.at("end")[-1]) < 25.0


def test_standing_just_below_the_level_never_creeps(stiff: MakeNetwork) -> None:
    network = stiff(Step(peak=0.995 * 600.0, rise=100e-6), behind(), tube())
    waves = simulate(network, window="front", stop=1e-3)
    assert float(np.max(waves.voltages["tube/state"])) < 0.01
    assert waves.at("end")[-1] == pytest.approx(597.0, rel=1e-6)


def test_the_tail_tells_the_fronts_story(injected: MakeNetwork) -> None:
    surge = Heidler(peak=500.0, correction=0.93, front=19e-6, tail=485e-6, exponent=10.0)
    rods = Resistor(name="rods", a="start", b=GROUND, resistance=10.0)
    front, tail = run_network(injected(surge, rods, behind(1.0), tube()))
    time = np.linspace(0.0, front.stop, 500)
    one, other = (np.interp(time, w.time, w.voltages["tube/state"]) for w in (front, tail))
    # where it collapses the tail's steps, each 0.6 us long, are 25 of z apart
    calm = np.abs(np.gradient(one)) < 0.1
    assert np.max(np.abs(one - other)[calm]) < 0.1
    # a slowly falling arc stands where its law says
    volts, grown = (float(np.interp(400e-6, tail.time, s)) for s in
                    (tail.at("end"), tail.voltages["tube/state"]))  # fmt: skip
    assert volts == pytest.approx(float(LAW.held(float(LAW.current(volts, grown)))), rel=0.05)


def test_both_solvers_have_its_charge_and_its_dying_arc(injected: MakeNetwork) -> None:
    surge = Heidler(peak=500.0, correction=0.93, front=1.9e-6, tail=20e-6, exponent=10.0)
    rods = Resistor(name="rods", a="start", b=GROUND, resistance=10.0)
    network = injected(surge, rods, behind(1.0), tube())
    front, tail = run_network(network)
    stretches = (
        Stretch(stop=front.stop, longest=front.step), Stretch(stop=tail.stop, longest=tail.step),
    )  # fmt: skip
    other = follow(network, finest=front.step / 16, stretches=stretches)
    one, another = (w.voltages["tube/state"][-1] for w in (tail, other))
    # its resistance at the end, within two percent
    assert one == pytest.approx(another, abs=0.02)
    charges = []
    for waves in (tail, other):
        amps = LAW.current(waves.at("end"), waves.voltages["tube/state"])
        charges.append(float(np.trapezoid(amps, waves.time)))
    # what the tail's steps make of a front that its own front had in finer ones
    assert charges[0] == pytest.approx(charges[1], rel=5e-3)


def test_a_course_keeps_what_bends_and_no_more() -> None:
    time = np.linspace(0.0, 1e-6, 1001)
    grown = np.clip((time - 4e-7) * 1e8, 0.0, 20.0)
    corners = course_of(time, grown, apart=1e-9)
    assert len(corners) < 8
    at, z = np.transpose(corners)
    assert np.max(np.abs(np.interp(time, at, z) - grown)) < 0.2
    assert len(course_of(time, grown, apart=1e-6)) == 2
