"""A result run again: finer, with the other method, with halved lines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from surgesim.engine import Refinement, run_again, run_network, simulate
from surgesim.engine.windows import Plan
from surgesim.findings.estimates import Series, peak_error
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Capacitor, Line, Resistor
from surgesim.network.halves import half_names, halved
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import DoubleExponential

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

IMPEDANCE, DELAY, SOURCE, LOAD = 50.0, 0.4e-6, 20.0, 300.0
# 1.2/50, A.4 of IEC 60060-1's double exponential (from memory)
WAVE = DoubleExponential(peak=1e3, scale=1.03725, decay=14659.1, rise=2.46893e6)


def mismatched(stiff: MakeNetwork, line: MakeLine) -> Network:
    """A line between two resistances that are not its own."""
    return stiff(
        WAVE,
        Resistor(name="source resistance", a="start", b="near", resistance=SOURCE),
        line("near", "far", impedance=IMPEDANCE, delay=DELAY),
        Resistor(name="load", a="far", b=GROUND, resistance=LOAD),
    )


def lattice_peak() -> float:
    """Peak at the far end, V: the sum of every wave that arrives there (Bewley's lattice).

    Each is the source's own wave, later by two delays and smaller by both reflections.
    """
    time = np.linspace(0.0, 20e-6, 2_000_001)
    sent = IMPEDANCE / (IMPEDANCE + SOURCE)
    at_load = (LOAD - IMPEDANCE) / (LOAD + IMPEDANCE)
    at_source = (SOURCE - IMPEDANCE) / (SOURCE + IMPEDANCE)
    total = np.zeros_like(time)
    for n in range(40):
        since = np.maximum(time - (2 * n + 1) * DELAY, 0.0)
        total += sent * (1 + at_load) * (at_load * at_source) ** n * WAVE.value(since)
    return float(np.max(np.abs(total)))


def estimate(waves: Waveforms, node: str) -> float:
    nothing = np.zeros(1)
    return peak_error(Series(waves.time, waves.at(node), nothing, nothing))


@pytest.mark.parametrize("per_delay", [2, 5, 20])
def test_an_estimate_is_above_the_true_error_of_a_mismatched_line(
    stiff: MakeNetwork, line: MakeLine, per_delay: int
) -> None:
    """At the coarsest step there may be, and at finer ones."""
    network = mismatched(stiff, line)
    plan = Plan(window="front", step=DELAY / per_delay, stop=20e-6)
    waves = simulate(network, window="front", plan=plan)
    exact, found = lattice_peak(), float(np.max(np.abs(waves.at("far"))))
    true, told = abs(found - exact), estimate(waves, "far")
    # 1 ppm of rounding in the engine's own tables of numbers and in the reference's sampling
    assert true <= told + 1e-6 * exact
    assert told < 0.1 * exact  # a bound that says nothing would pass too


def test_a_finer_step_tells_a_smaller_error(stiff: MakeNetwork, line: MakeLine) -> None:
    network = mismatched(stiff, line)
    told = []
    for per_delay in (2, 8, 32):
        plan = Plan(window="front", step=DELAY / per_delay, stop=20e-6)
        told.append(estimate(simulate(network, window="front", plan=plan), "far"))
    assert told[0] > 2 * told[1] > 4 * told[2] > 0.0


def test_what_was_asked_is_what_changes(stiff: MakeNetwork, line: MakeLine) -> None:
    network = mismatched(stiff, line)
    before = run_network(network)
    finer = run_again(network, before, Refinement(step=0.5))
    other = run_again(network, before, Refinement(other_method=True))
    for was, half, gear in zip(before, finer, other, strict=True):
        assert half.step == pytest.approx(was.step / 2)
        assert "method=" in was.options
        assert (half.stop, half.lumped) == (was.stop, was.lumped)
        # error control that is on is of second order: a quarter of its tolerance halves the steps
        closer = was.options.replace("trtol=0.015 ", "trtol=0.00375 ")
        assert half.options == closer
        assert (closer == was.options) is (was.window == "tail")
        assert (gear.step, gear.stop, gear.lumped) == (was.step, was.stop, was.lumped)
        assert ("gear" in gear.options) is ("trap" in was.options)
        assert ("trap" in gear.options) is ("gear" in was.options)
        assert "xmu" not in gear.options


def test_a_halved_line_is_the_whole_one(stiff: MakeNetwork, line: MakeLine) -> None:
    """Within 0.2 %, the tolerance of a split, at both ends and on both windows."""
    whole = stiff(
        WAVE,
        Resistor(name="source resistance", a="start", b="near", resistance=SOURCE),
        line("near", "far", impedance=IMPEDANCE, delay=DELAY, resistance=0.5),
        Resistor(name="load", a="far", b=GROUND, resistance=LOAD),
        Capacitor(name="input", a="far", b=GROUND, capacitance=1e-9),
    )
    before = run_network(whole)
    after = run_again(halved(whole), before, Refinement())
    for one, other in zip(before, after, strict=True):
        for node in ("near", "far"):
            peak = float(np.max(np.abs(one.at(node))))
            assert float(np.max(np.abs(other.at(node)))) == pytest.approx(peak, rel=0.002)


def test_halves_have_half_of_everything(line: MakeLine, stiff: MakeNetwork) -> None:
    whole = line("near", "far", impedance=IMPEDANCE, delay=DELAY, resistance=4.0,
                 references=("soil", "other soil"))  # fmt: skip
    network = stiff(WAVE, Resistor(name="in", a="start", b="near", resistance=1.0), whole)
    first, second = halved(network).lines
    assert (first.name, second.name) == half_names("line")
    assert first.far == second.near
    assert (first.near, second.far) == (("near",), ("far",))
    assert (first.near_reference, second.far_reference) == ("soil", "other soil")
    assert first.far_reference == second.near_reference == GROUND
    for half in (first, second):
        assert half.delay == (DELAY / 2,)
        assert half.impedance == whole.impedance
        assert half.resistance == (2.0,)
    assert replace(network, elements=()) == replace(halved(network), elements=())


def test_halves_of_a_lumped_line_are_lumped(stiff: MakeNetwork, line: MakeLine) -> None:
    network = stiff(
        WAVE,
        Resistor(name="source resistance", a="start", b="near", resistance=SOURCE),
        line("near", "far", impedance=IMPEDANCE, delay=20e-9),
        Resistor(name="load", a="far", b=GROUND, resistance=LOAD),
    )
    front, tail = run_network(network)
    assert tail.lumped == ("line",)
    again = run_again(halved(network), (front, tail), Refinement())
    assert again[0].lumped == ()
    assert again[0].step <= 5e-9
    assert again[1].lumped == half_names("line")
