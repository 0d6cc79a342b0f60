"""The state before the surge."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Capacitor,
    Inductor,
    Insulation,
    Line,
    PhotovoltaicSource,
    Resistor,
    Varistor,
    VoltageSource,
)
from surgesim.oracle import solve
from surgesim.physics.varistor import VaristorLaw
from surgesim.physics.waveforms import Step

MakeLine = Callable[..., Line]

NOTHING = Step(peak=0.0, rise=1e-6)


def network(*elements: object) -> Network:
    return Network(title="rest", elements=elements, waveform=NOTHING)  # type: ignore[arg-type]


def test_floating_array_settles_about_earth(line: MakeLine) -> None:
    """Two equal resistances to earth put the poles at half the voltage, on either end of a line."""
    found = solve(
        network(
            PhotovoltaicSource(
                name="strings",
                a="plus",
                b="minus",
                open_circuit_voltage=874.0,
                short_circuit_current=55.6,
                resistance=0.629,
            ),
            Resistor(name="plus to earth", a="plus", b=GROUND, resistance=2e6),
            Resistor(name="minus to earth", a="minus", b=GROUND, resistance=2e6),
            line("plus", "far plus", impedance=100.0, delay=1e-6, resistance=1.0),
            Insulation(name="gap", a="far plus", b=GROUND, level=10e3),
            Capacitor(name="body", a="far plus", b="minus", capacitance=1e-6),
        ),
        step=10e-9,
        stop=20e-6,
    )
    # 4 Mohm behind 0.629 ohm; the sound insulation's 10 Gohm shifts both poles by 2e-4 / 2
    leak = 1 / 2e6 + 1e-10
    current = 874.0 / (0.629 + 1 / leak + 2e6)
    assert found.at("far plus")[0] == pytest.approx(current / leak, rel=1e-7)
    assert found.at("minus")[0] == pytest.approx(-2e6 * current, rel=1e-7)
    for node in ("plus", "minus", "far plus"):
        assert np.ptp(found.at(node)) < 1e-5  # and stays there


def test_a_dark_array_stands_at_zero() -> None:
    found = solve(
        network(
            PhotovoltaicSource(
                name="strings",
                a="plus",
                b="minus",
                open_circuit_voltage=874.0,
                short_circuit_current=0.0,
                resistance=0.629,
            ),
            Resistor(name="plus to earth", a="plus", b=GROUND, resistance=2e6),
            Resistor(name="minus to earth", a="minus", b=GROUND, resistance=2e6),
        ),
        step=10e-9,
        stop=1e-6,
    )
    for node in ("plus", "minus"):
        assert np.max(np.abs(found.at(node))) < 1e-9


def test_currents_at_rest_go_on(line: MakeLine) -> None:
    """A current through an inductor and a line stands, with every drop along the way."""
    found = solve(
        network(
            VoltageSource(name="battery", a="start", b=GROUND, offset=48.0),
            Inductor(name="choke", a="start", b="near", inductance=1e-3),
            line(
                "near",
                "far",
                impedance=50.0,
                delay=1e-6,
                resistance=1.0,
                references=("soil", GROUND),
            ),
            Resistor(name="loss", a="soil", b=GROUND, resistance=5.0),
            Inductor(name="lag", a="soil", b=GROUND, inductance=1e-5),
            Ammeter(name="load current", a="far", b="load"),
            Resistor(name="load", a="load", b=GROUND, resistance=3.0),
        ),
        step=50e-9,
        stop=20e-6,
    )
    for name in ("choke", "load current"):
        assert found.currents[name] == pytest.approx(12.0, rel=1e-8)
    assert found.at("near") == pytest.approx(48.0, rel=1e-8)
    assert found.voltages["line/near/0"] == pytest.approx(42.0, rel=1e-8)
    assert found.currents["line/far/0"] == pytest.approx(-12.0, rel=1e-8)


@pytest.mark.parametrize("volts", [10.0, 500.0, 5e3, 200e3, -200e3])
def test_a_varistor_met_cold(law: VaristorLaw, volts: float) -> None:
    """Newton finds its way from nothing to any current."""
    ohm = 0.1
    found = solve(
        network(
            VoltageSource(name="battery", a="start", b=GROUND, offset=volts),
            Resistor(name="source resistance", a="start", b="disc", resistance=ohm),
            Varistor(name="disc", a="disc", b=GROUND, law=law),
        ),
        step=1e-6,
        stop=2e-6,
    )
    residual = float(found.at("disc")[0])
    through = (volts - residual) / ohm
    assert through == pytest.approx(float(law.current(residual)), rel=1e-6, abs=1e-9)


def test_wires_side_by_side_share_a_standing_current() -> None:
    """Two inductors in parallel have no resistance to divide by, and still an answer."""
    found = solve(
        network(
            VoltageSource(name="battery", a="start", b=GROUND, offset=12.0),
            Inductor(name="one", a="start", b="end", inductance=1e-6),
            Inductor(name="other", a="start", b="end", inductance=3e-6),
            Resistor(name="load", a="end", b=GROUND, resistance=2.0),
        ),
        step=1e-8,
        stop=1e-6,
    )
    assert found.currents["one"] + found.currents["other"] == pytest.approx(6.0, rel=1e-7)
    assert found.currents["one"][0] == pytest.approx(3.0, rel=1e-6)
