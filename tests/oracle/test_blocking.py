"""What stands across a surge's blocking capacitor stays there."""

from __future__ import annotations

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    CurrentSource,
    PhotovoltaicSource,
    Resistor,
    VoltageSource,
)
from surgesim.oracle import solve
from surgesim.physics.waveforms import DoubleExponential

IMPULSE = DoubleExponential(peak=1e3, scale=1.03725, decay=14659.1, rise=2.46893e6)


def test_a_large_capacitor_between_live_nodes_carries_no_current_of_rounding() -> None:
    """600 V across 2.5 mF, both its ends off the ground: at steps of 2 ns its conductance would
    be 2.5 MS, and 1e-5 V of rounding 25 A."""
    elements = (
        VoltageSource(name="supply", a="plus", b="bar", offset=600.0),
        Resistor(name="rod", a="bar", b=GROUND, resistance=50.0),
        Capacitor(name="blocking", a="bar", b="blocked", capacitance=2.5e-3),
        Resistor(name="channel", a="blocked", b="plus", resistance=400.0),
        CurrentSource(name="surge", a=GROUND, b="plus", waveform=IMPULSE),
    )
    waves = solve(Network(title="t", elements=elements, waveform=IMPULSE), step=2e-9, stop=2e-6)
    through = waves.across("blocked", "plus") / 400.0
    assert np.max(np.abs(through)) < 1e-6
    assert np.max(np.abs(waves.across("bar", "blocked") + 600.0)) < 1e-9
    assert "blocking" not in waves.currents


def test_its_charge_follows_its_current() -> None:
    """Driven: the voltage is the integral of the current over C, to the trapezoidal rule."""
    elements = (
        CurrentSource(name="surge", a=GROUND, b="top", waveform=IMPULSE),
        Capacitor(name="big", a="top", b="low", capacitance=20e-6),
        Resistor(name="shunt", a="top", b=GROUND, resistance=100.0),
        Resistor(name="load", a="low", b=GROUND, resistance=2.0),
    )
    waves = solve(Network(title="t", elements=elements, waveform=IMPULSE), step=10e-9, stop=20e-6)
    amps = waves.at("low") / 2.0
    charge = np.concatenate(([0.0], np.cumsum((amps[1:] + amps[:-1]) / 2.0 * np.diff(waves.time))))
    assert waves.across("top", "low") == pytest.approx(charge / 20e-6, rel=1e-9, abs=1e-6)


def test_a_dark_array_is_open_between_zero_and_its_voltage() -> None:
    """Without light it delivers nothing, and conducts only beyond its open-circuit voltage."""
    elements = (
        PhotovoltaicSource(
            name="array", a="plus", b=GROUND,
            open_circuit_voltage=600.0, short_circuit_current=0.0, resistance=2.0,
        ),
        CurrentSource(name="surge", a=GROUND, b="plus", waveform=IMPULSE),
        Resistor(name="load", a="plus", b=GROUND, resistance=1.0),
    )  # fmt: skip
    waves = solve(Network(title="t", elements=elements, waveform=IMPULSE), step=10e-9, stop=5e-6)
    driven = IMPULSE.value(waves.time)
    # beyond 600 V two ohm come beside the load: v = (i + 300 A) / 1.5 S
    expected = np.where(driven <= 600.0, driven, (driven + 300.0) / 1.5)
    assert waves.at("plus") == pytest.approx(expected, rel=1e-6, abs=1e-3)
