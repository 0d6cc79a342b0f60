"""Windows and step ceilings: the rules, and what they are worth."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from surgesim.engine import run_network, simulate, simulation
from surgesim.engine.agreement import Gap, disagreement
from surgesim.engine.windows import Plan, finer, front_plan, tail_plan
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    Clamp,
    Inductor,
    Insulation,
    Line,
    Resistor,
)
from surgesim.network.probes import TerminalProbe
from surgesim.network.waveforms import Waveforms, Window
from surgesim.physics.waveforms import (
    DampedSine,
    Heidler,
    Ramp,
    Step,
    Waveform,
    shape_figures,
)

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]
Shape = Callable[[float], Waveform]

ROD = Resistor(name="rods", a="start", b=GROUND, resistance=10.0)


def test_a_line_is_crossed_in_two_steps(
    injected: MakeNetwork, line: MakeLine, ten_350: Shape
) -> None:
    network = injected(ten_350(1.0), ROD, line("start", "end", impedance=50.0, delay=30e-9))
    assert front_plan(network).step == pytest.approx(15e-9)


@pytest.mark.parametrize(
    ("element", "step"),
    [
        # 0.5 uH into 0.1 uF swings in 1.405 us; a twelfth is past the largest step of 100 ns
        (Capacitor(name="body", a="end", b=GROUND, capacitance=0.1e-6), 100e-9),
        (Capacitor(name="body", a="end", b=GROUND, capacitance=2e-9), 16.6e-9),
        # swings far faster than 8/20 are left at a five-hundredth of its front
        (Capacitor(name="body", a="end", b=GROUND, capacitance=1e-12), 16.05e-9),
        (Insulation(name="gap", a="end", b=GROUND, level=1e3, lag=5e-9), 10e-9),
        (Clamp(name="limiter", a="end", b=GROUND, voltage=1e3, resistance=1.0), 16.05e-9),
    ],
)
def test_step_ceilings(
    injected: MakeNetwork, eight_twenty: Shape, element: Capacitor, step: float
) -> None:
    lead = Inductor(name="lead", a="start", b="end", inductance=0.5e-6)
    assert front_plan(injected(eight_twenty(1.0), ROD, lead, element)).step == pytest.approx(
        step, rel=5e-3
    )


def test_a_front_takes_fifty_steps(injected: MakeNetwork) -> None:
    """Where nothing else is faster, and 100 ns are more than that."""
    wave = Heidler(peak=1.0, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0)
    network = injected(wave, ROD)
    figures = shape_figures(network.waveform, kind="current")
    assert figures.front < 50 * 100e-9
    assert front_plan(network).step == pytest.approx(figures.front / 50)


def test_front_goes_past_the_crest_and_twenty_round_trips(
    injected: MakeNetwork, line: MakeLine, ten_350: Shape
) -> None:
    long, short = (
        front_plan(injected(ten_350(1.0), ROD, line("start", "end", impedance=50.0, delay=delay)))
        for delay in (2e-6, 0.1e-6)
    )
    # 10/350 peaks 31.4 us after its beginning and has a front of 9.98 us
    assert long.stop == pytest.approx(2 * 31.4e-6 + 80e-6, rel=0.01)
    assert short.stop == pytest.approx(2 * 31.4e-6 + 2 * 9.98e-6, rel=0.01)


def test_tail_holds_the_charge_and_lumps_short_lines(
    injected: MakeNetwork, line: MakeLine, ten_350: Shape
) -> None:
    network = injected(
        ten_350(1.0),
        ROD,
        line("start", "end", impedance=50.0, delay=1e-6, name="short"),
        line("start", "far", impedance=50.0, delay=2e-6, name="long"),
    )
    plan = tail_plan(network, front_stop=80e-6)
    assert plan.stop == pytest.approx(7 * 356.6e-6, rel=0.01)
    assert plan.step <= plan.stop / 3999
    assert plan.lumped == ("short",)
    assert plan.step <= 1e-6


def test_an_endless_surge_has_a_tail_of_five_fronts(injected: MakeNetwork) -> None:
    plan = tail_plan(injected(Ramp(peak=1.0, rise=1e-6), ROD), front_stop=20e-6)
    assert plan.stop == pytest.approx(100e-6)


def test_a_step_beyond_half_a_delay_is_refused(
    injected: MakeNetwork, line: MakeLine, ten_350: Shape
) -> None:
    network = injected(ten_350(1.0), ROD, line("start", "end", impedance=50.0, delay=30e-9))
    plan = Plan(window="front", step=16e-9, stop=1e-6)
    with pytest.raises(EngineError, match=r"'line': a step of 1\.6e-08 s is longer than half"):
        finer(plan, network, step=1.0)


def test_too_many_points_are_refused(injected: MakeNetwork, line: MakeLine, ten_350: Shape) -> None:
    network = injected(
        ten_350(1.0), ROD, line("start", "end", impedance=50.0, delay=1e-11, name="stub")
    )
    with pytest.raises(EngineError, match=r"takes \d+ points.*the shortest line is 'stub'"):
        simulate(network, window="front")


def test_finer_steps_are_taken_only_when_finer(injected: MakeNetwork, ten_350: Shape) -> None:
    network = injected(ten_350(1.0), ROD)
    plan = front_plan(network)
    assert finer(plan, network, step=1.0) == plan
    assert finer(plan, network, step=plan.step / 2) == replace(plan, step=plan.step / 2)


def test_planned_steps_are_fine_enough(installation: MakeNetwork) -> None:
    # 0.5 %: what the ceilings are set for; a subsequent stroke, the steepest surge there is
    surge = Heidler(peak=1.2e3, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0)
    network = installation(surge)
    planned = simulate(network, window="front")
    fine = simulate(network, window="front", step=planned.step / 8)
    for probe in network.terminals:
        peaks = [float(np.max(np.abs(w.across(probe.a, probe.b)))) for w in (planned, fine)]
        assert peaks[0] == pytest.approx(peaks[1], rel=5e-3)


def test_what_a_steep_beginning_excites_is_resolved(injected: MakeNetwork, line: MakeLine) -> None:
    """A damped sine begins at its steepest, and a kink has no front of its own.

    Behind a matched line of 50 ohm the surge's 1.95e8 A/s are a ramp of 50 ohm times that; in
    100 ohm and 2 uH it leaves A (1 - exp(-t/T)) over the coil, A = 50 * 1.95e8 * T, T = 20 ns,
    and of that a capacitor into a large resistance, again 20 ns, A t/T exp(-t/T): A/e at its
    crest. Steps of a front's fiftieth had it 5 % off.
    """
    surge = DampedSine(
        peak=1e3, correction=0.6152, time_constant=24.022e-6, angular_frequency=120023.0
    )
    network = injected(
        surge,
        Resistor(name="match", a="start", b=GROUND, resistance=50.0),
        line("start", "end", impedance=50.0, delay=0.3e-6),
        Resistor(name="joint", a="end", b="coil", resistance=50.0),
        Inductor(name="coil", a="coil", b=GROUND, inductance=2e-6),
        Capacitor(name="body", a="coil", b="out", capacitance=0.2e-12),
        Resistor(name="load", a="out", b=GROUND, resistance=100e3),
    )
    crest = 1e3 / 0.6152 * 120023.0 * 50.0 * 20e-9 / math.e
    waves = simulate(network, window="front", stop=2e-6)
    # 1 %: what the two solvers have to agree in
    assert float(np.max(waves.at("out"))) == pytest.approx(crest, rel=0.01)


def test_windows_are_recorded(installation: MakeNetwork, ten_350: Shape) -> None:
    front, tail = run_network(installation(ten_350(5e3)))
    for waves in (front, tail):
        assert float(np.max(np.diff(waves.time))) <= waves.step * (1 + 1e-6)
        assert waves.time[-1] == pytest.approx(waves.stop, rel=1e-9)
        assert waves.engine.startswith("ngspice ")
        assert waves.elapsed > 0
    assert (front.lumped, tail.lumped) == ((), ("line",))
    assert ("method=trap" in front.options, "xmu=0.495" in tail.options) == (True, True)


def made_up(window: Window, stop: float, volts: Callable[[np.ndarray], np.ndarray]) -> Waveforms:
    time = np.linspace(0.0, stop, 2001)
    voltages = {"end": volts(time)}
    return Waveforms(
        window=window, time=time, voltages=voltages, currents={}, step=stop / 2000, stop=stop
    )


@pytest.mark.parametrize(
    ("ringing", "growth", "expected"),
    [
        # share of the crest by which the windows differ where one hands over to the other:
        # 50 V of the 1920 V that the tail climbs to
        (0.0, 0.0, 0.0),
        (50.0, 1.0, 0.026),
        # the tail stays so far below the front's crest that the difference touches no crest
        (50.0, -1.0, 0.0),
        # it ends 20 V below the front's crest, so 30 of the 50 V are at stake
        (50.0, 0.0326, 0.0286),
    ],
)
def test_disagreement_counts_where_a_peak_is_at_stake(
    injected: MakeNetwork,
    probe: Callable[..., TerminalProbe],
    ringing: float,
    growth: float,
    expected: float,
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD, terminals=(probe("end"),))

    def slow(time: np.ndarray) -> np.ndarray:
        return (
            1000.0 * np.minimum(time / 1e-6, 1.0) * (1 + growth * np.maximum(time - 8e-6, 0) / 1e-4)
        )

    def fast(time: np.ndarray) -> np.ndarray:
        return slow(time) + ringing * np.sin(2 * np.pi * time / 0.5e-6) * (time > 1e-6)

    front, tail = made_up("front", 10e-6, fast), made_up("tail", 100e-6, slow)
    gap = disagreement(network, front, tail)
    assert gap.share == pytest.approx(expected, rel=0.1, abs=1e-9)
    assert gap.where == "inverter, plus to pe"


@pytest.mark.parametrize(
    ("shares", "factor"), [([0.0], 1), ([0.5, 0.004], 2), ([0.5] * 3 + [0], 8)]
)
def test_a_front_that_ends_too_early_is_made_longer(
    injected: MakeNetwork, monkeypatch: pytest.MonkeyPatch, shares: list[float], factor: int
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD)
    gaps = iter(shares)

    def told(_network: Network, front: Waveforms, _tail: Waveforms) -> Gap:
        return Gap(share=next(gaps), where="inverter", at=3 * front.stop)

    monkeypatch.setattr(simulation, "disagreement", told)
    front, _ = run_network(network)
    assert front.stop == pytest.approx(factor * front_plan(network).stop)
    assert not front.notes


def test_a_crest_that_is_slow_is_left_to_a_finer_tail(
    injected: MakeNetwork, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD)
    gaps = iter([0.5, 0.0])
    monkeypatch.setattr(
        simulation, "disagreement", lambda *_: Gap(share=next(gaps), where="inverter", at=1.0)
    )
    front, tail = run_network(network)
    plan = front_plan(network)
    assert front.stop == pytest.approx(plan.stop)
    assert tail.step == pytest.approx(tail_plan(network, front_stop=plan.stop).step / 5)
    assert not front.notes


def test_a_front_that_stays_too_short_says_so(
    injected: MakeNetwork, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD)
    gap = Gap(share=0.03, where="inverter, plus to pe", at=1.0)
    monkeypatch.setattr(simulation, "disagreement", lambda *_: gap)
    front, tail = run_network(network)
    assert tail.step == pytest.approx(tail_plan(network, front_stop=front.stop).step / 5)
    assert front.stop == pytest.approx(8 * front_plan(network).stop)
    (note,) = front.notes
    assert "ends too early" in note
    assert "3.0% of the peak at inverter, plus to pe" in note


def test_what_still_swings_as_the_longest_front_ends_is_left_to_a_finer_tail(
    injected: MakeNetwork, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD)
    gaps = iter([0.5, 0.5, 0.5, 0.5, 0.0])

    def told(_network: Network, front: Waveforms, _tail: Waveforms) -> Gap:
        return Gap(share=next(gaps), where="inverter", at=1.2 * front.stop)

    monkeypatch.setattr(simulation, "disagreement", told)
    front, tail = run_network(network)
    assert tail.step == pytest.approx(tail_plan(network, front_stop=front.stop).step / 5)
    assert not front.notes


def test_windows_far_apart_are_no_result(
    injected: MakeNetwork, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), ROD)
    gap = Gap(share=0.5, where="inverter, plus to pe", at=1.0)
    monkeypatch.setattr(simulation, "disagreement", lambda *_: gap)
    with pytest.raises(EngineError, match=r"50\.0% of the peak at inverter, plus to pe") as caught:
        run_network(network)
    assert "rings long after the surge" in caught.value.hint


def test_step_sources_are_seen_by_the_tail(injected: MakeNetwork) -> None:
    front, tail = run_network(injected(Step(peak=3.0, rise=1e-6), ROD))
    assert front.at("start")[-1] == pytest.approx(30.0)
    assert tail.at("start")[-1] == pytest.approx(30.0)
