"""Losses and modes of the second solver's lines, and that cutting or turning one does nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    Capacitor,
    Inductor,
    Line,
    Resistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import solve
from surgesim.physics.modes import decompose, surge_impedance
from surgesim.physics.waveforms import DoubleExponential, Step

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

# 1.2/50: Kuffel, Zaengl, Kuffel, High Voltage Engineering, constants from memory
IMPULSE = DoubleExponential(peak=6e3, scale=1.03725, decay=14659.1, rise=2.46893e6)
DELAY = 0.4e-6
STEP = DELAY / 100

# Two 6 mm2 conductors 7 mm apart, 0.5 m over ground, logarithmic formulas, closed form: self
# and mutual in H/m; Z11 394.78, Z12 297.51 ohm.
PAIR = np.array([[1.3168e-6, 0.9924e-6], [0.9924e-6, 1.3168e-6]])
LIGHT = 299792458.0


def bundle(inductance: np.ndarray, capacitance: np.ndarray, *, length: float) -> Line:
    modes = decompose(inductance, capacitance)
    n = len(inductance)
    return Line(
        name="bundle",
        near=tuple(f"near {k}" for k in range(n)),
        far=tuple(f"far {k}" for k in range(n)),
        voltage_modes=tuple(tuple(float(x) for x in row) for row in modes.voltage_modes),
        impedance=tuple(float(z) for z in modes.impedance),
        delay=tuple(float(length / v) for v in modes.velocity),
        resistance=(0.0,) * n,
    )


def fed(line: Line, volts: list[float]) -> Waveforms:
    """A step of its own voltage on every conductor, the far ends open."""
    sources = [
        VoltageSource(name=f"v{k}", a=node, b=GROUND, waveform=Step(peak=v, rise=4 * STEP))
        for k, (node, v) in enumerate(zip(line.near, volts, strict=True))
    ]
    network = Network(title="fed", elements=(*sources, line), waveform=IMPULSE)
    return solve(network, step=min(line.delay) / 50, stop=1.5 * max(line.delay))


def test_impedances_of_a_pair() -> None:
    # Zdm = 2 (Z11 - Z12) = 194.55, Zcm = (Z11 + Z12)/2 = 346.14 ohm, closed form; the matrices
    # are printed to four digits
    line = bundle(PAIR, np.linalg.inv(PAIR) / LIGHT**2, length=100.0)
    differential = fed(line, [0.5e3, -0.5e3])
    common = fed(line, [1e3, 1e3])
    assert 1e3 / -differential.currents["v0"][-1] == pytest.approx(194.55, rel=1e-3)
    total = common.currents["v0"][-1] + common.currents["v1"][-1]
    assert 1e3 / -total == pytest.approx(346.14, rel=1e-3)


@settings(max_examples=15)
@given(seed=st.integers(min_value=0, max_value=2**31))
def test_a_bundle_draws_what_its_surge_impedance_says(seed: int) -> None:
    """Before anything has come back, i = Zc^-1 v, whatever the modes are."""
    random = np.random.default_rng(seed)
    draw = random.uniform(-0.3, 0.3, (3, 3))
    shape = np.eye(3) + 0.4 + (draw + draw.T) / 2
    inductance = 1e-6 * (shape + 0.5 * np.eye(3))
    capacitance = 20e-12 * np.linalg.inv(shape)
    line = bundle(inductance, capacitance, length=100.0)
    volts = random.uniform(-1e3, 1e3, 3)
    waves = fed(line, list(volts))
    early = waves.time < 1.9 * min(line.delay)
    drawn = [-waves.currents[f"v{k}"][early][-1] for k in range(3)]
    expected = np.linalg.solve(surge_impedance(inductance, capacitance), volts)
    assert drawn == pytest.approx(expected, rel=1e-6, abs=1e-6)


def loaded(stiff: MakeNetwork, *lines: AnyElement) -> Network:
    return stiff(
        IMPULSE,
        Resistor(name="source resistance", a="start", b="near", resistance=10.0),
        *lines,
        Capacitor(name="load", a="far", b=GROUND, capacitance=2e-9),
        Resistor(name="path", a="far", b=GROUND, resistance=200.0),
    )


def test_end_losses_are_what_the_record_says(stiff: MakeNetwork, line: MakeLine) -> None:
    """Half of R at either end, written out as elements."""
    whole = loaded(stiff, line("near", "far", impedance=150.0, delay=DELAY, resistance=4.0))
    apart = loaded(
        stiff,
        line("near in", "far in", impedance=150.0, delay=DELAY),
        *(
            Resistor(name=f"{end} metal", a=end, b=f"{end} in", resistance=2.0)
            for end in ("near", "far")
        ),
    )
    first, second = (solve(each, step=STEP, stop=20e-6) for each in (whole, apart))
    for node in ("near", "far"):
        assert first.at(node) == pytest.approx(second.at(node), rel=1e-9, abs=1e-6)
    assert first.voltages["line/far/0"] == pytest.approx(second.at("far in"), rel=1e-9, abs=1e-6)


def test_a_reference_is_in_the_way_of_the_sum_of_currents(
    stiff: MakeNetwork, line: MakeLine
) -> None:
    """Of one conductor the sum is its own current: the same as if it stood in series with it."""

    def soil(a: str, b: str) -> list[AnyElement]:
        return [
            Resistor(name=f"{a} loss", a=a, b=b, resistance=30.0),
            Inductor(name=f"{a} lag", a=a, b=b, inductance=20e-6),
        ]

    references = "near soil", "far soil"
    below = loaded(
        stiff,
        line("near", "far", impedance=150.0, delay=DELAY, references=references),
        *soil("near soil", GROUND),
        *soil("far soil", GROUND),
    )
    in_series = loaded(
        stiff,
        line("near in", "far in", impedance=150.0, delay=DELAY),
        *soil("near", "near in"),
        *soil("far", "far in"),
    )
    first, second = (solve(each, step=STEP, stop=20e-6) for each in (below, in_series))
    for node in ("near", "far"):
        assert first.at(node) == pytest.approx(second.at(node), rel=1e-9, abs=1e-6)
        # what the conductor lost on its way to the line is what the soil lost on its way back
        lost = second.at(node) - second.at(f"{node} in")
        assert first.at(f"{node} soil") == pytest.approx(lost, rel=1e-9, abs=1e-6)


def test_cutting_a_line_changes_nothing(stiff: MakeNetwork, line: MakeLine) -> None:
    whole = loaded(stiff, line("near", "far", impedance=150.0, delay=DELAY))
    parts = loaded(
        stiff,
        line("near", "joint", impedance=150.0, delay=0.3 * DELAY, name="first"),
        line("joint", "far", impedance=150.0, delay=0.7 * DELAY, name="second"),
    )
    first, second = (solve(each, step=STEP, stop=20e-6) for each in (whole, parts))
    assert first.at("far") == pytest.approx(second.at("far"), rel=1e-9, abs=1e-6)


def test_turning_a_line_round_changes_nothing(stiff: MakeNetwork, line: MakeLine) -> None:
    cable = line("near", "far", impedance=150.0, delay=DELAY, resistance=4.0)
    turned = replace(cable, near=cable.far, far=cable.near)
    first, second = (solve(loaded(stiff, each), step=STEP, stop=20e-6) for each in (cable, turned))
    assert first.at("far") == pytest.approx(second.at("far"), rel=1e-9, abs=1e-6)


def test_a_delay_between_two_steps(stiff: MakeNetwork, line: MakeLine) -> None:
    """Read between steps, a wave arrives in time; a delay of whole steps is the measure."""
    cable = line("near", "far", impedance=150.0, delay=DELAY)
    fitted = solve(loaded(stiff, cable), step=STEP, stop=20e-6)
    loose = solve(loaded(stiff, cable), step=STEP * 0.93, stop=20e-6)
    at_fitted = np.interp(fitted.time[::50], loose.time, loose.at("far"))
    # h^2 a''/8 a passage for a front of 0.4 us at steps of 4 ns is some 1e-5 of the peak
    assert at_fitted == pytest.approx(fitted.at("far")[::50], abs=1e-3 * 6e3)
