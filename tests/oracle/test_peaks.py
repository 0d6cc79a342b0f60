"""What comes back from the second solver, and the peaks read off it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Ammeter, Inductor, Insulation, Line, Resistor
from surgesim.network.probes import ArresterProbe, EarthProbe, Limit, Rating, TerminalProbe
from surgesim.oracle import peaks, solve
from surgesim.physics.waveforms import Ramp

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

RATING = Rating(
    device_class="II",
    continuous=None,
    nominal_current=None,
    peak=None,
    charge=None,
    specific_energy=None,
    basis="none",
)


@pytest.fixture
def divider(injected: MakeNetwork) -> Network:
    """-100 A through 30 ohm, 5 ohm and 1 ohm in series, everything probed."""
    network = injected(
        Ramp(peak=-100.0, rise=1e-6),
        Resistor(name="upper", a="start", b="bar", resistance=30.0),
        Resistor(name="arrester", a="bar", b="head", resistance=5.0),
        Ammeter(name="meter", a="head", b="foot"),
        Resistor(name="rods", a="foot", b=GROUND, resistance=1.0),
    )
    terminal = TerminalProbe(
        equipment="box",
        pair="plus to pe",
        place="wall",
        a="start",
        b="bar",
        limit=Limit(kind="withstand", volts=1.0, origin="guess"),
        bar="head",
    )
    arrester = ArresterProbe(
        slot="slot",
        element="plus to pe",
        card="card",
        place="wall",
        a="bar",
        b="head",
        ammeter="meter",
        rating=RATING,
    )
    earth = EarthProbe(name="rods", place="wall", node="foot", ammeter="meter", resistance=1.0)
    return replace(network, terminals=(terminal,), arresters=(arrester,), earths=(earth,))


def test_peaks_by_ohms_law(divider: Network) -> None:
    found = peaks(divider, solve(divider, step=1e-8, stop=2e-6))
    assert {name: peak.value for name, peak in found.items()} == pytest.approx(
        {
            "box, plus to pe": -3000.0,
            "box, plus to pe, to remote earth": -3600.0,
            "box, plus to pe, to bar": -3500.0,
            "slot, plus to pe, residual": -500.0,
            "slot, plus to pe, current": -100.0,
            "rods, rise": -100.0,
            "rods, current": -100.0,
        },
        rel=1e-9,
    )
    assert found["rods, current"].unit == "A"
    assert found["rods, rise"].unit == "V"
    assert found["rods, rise"].time == pytest.approx(1e-6, abs=1e-8)
    assert found["rods, rise"].rest == 0.0


def test_names_of_what_comes_back(stiff: MakeNetwork, line: MakeLine) -> None:
    network = stiff(
        Ramp(peak=1e3, rise=1e-6),
        Inductor(name="lead", a="start", b="near", inductance=1e-6),
        line("near", "far", impedance=50.0, delay=1e-6, name="cable"),
        Ammeter(name="meter", a="far", b="load"),
        Resistor(name="load", a="load", b=GROUND, resistance=50.0),
        Insulation(name="gap", a="far", b=GROUND, level=10e3),
    )
    waves = solve(network, step=3e-8, stop=1e-6)
    ports = {"cable/near/0", "cable/far/0"}
    assert set(waves.voltages) == {"start", "near", "far", "load", "gap/state"} | ports
    assert set(waves.currents) == {"source", "lead", "meter"} | ports
    assert (waves.window, waves.engine, waves.lumped) == ("front", "oracle", ())
    assert waves.time[0] == 0.0
    assert waves.stop == waves.time[-1]
    assert waves.stop - waves.step < 1e-6 <= waves.stop  # whole steps, none too few
    for series in (*waves.voltages.values(), *waves.currents.values()):
        assert series.shape == waves.time.shape
    assert np.all(waves.voltages["gap/state"] == 0.0)
