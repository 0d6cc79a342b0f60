"""The state before the surge against what a pencil gives."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.errors import ResultRefused
from surgesim.findings.standing import standing_state
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    CurrentSource,
    Inductor,
    Insulation,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
    Varistor,
    VoltageSource,
)
from surgesim.network.standing import LEAST_LIMIT
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Ramp

Make = Callable[..., Waveforms]

RAMP = Ramp(peak=1e3, rise=1e-6)
TIME = np.array([0.0, 1e-6])


def deviation(make: Make, volts: dict[str, float], *elements: AnyElement) -> float:
    """Of these voltages at t = 0 from the linear solve, V."""
    nodes = {node: np.array([value, 0.0]) for node, value in volts.items()}
    circuit = Network(title="test", elements=elements, waveform=RAMP)
    return standing_state(circuit, make(TIME, nodes)).worst


def resistor(name: str, a: str, b: str, ohm: float) -> Resistor:
    return Resistor(name=name, a=a, b=b, resistance=ohm)


def battery(volts: float) -> VoltageSource:
    return VoltageSource(name="battery", a="p", b=GROUND, offset=volts)


def test_a_divider_behind_what_is_short_and_beside_what_is_open(waves: Make) -> None:
    parts = (
        battery(100.0), Ammeter(name="meter", a="p", b="q"),
        Inductor(name="lead", a="q", b="r", inductance=1e-6), resistor("upper", "r", "m", 30.0),
        resistor("lower", "m", GROUND, 10.0), Capacitor(name="c", a="r", b="m", capacitance=1e-6),
        CurrentSource(name="surge", a=GROUND, b="m", waveform=RAMP),
    )  # fmt: skip
    assert deviation(waves, {"p": 100.0, "q": 100.0, "r": 100.0, "m": 25.0}, *parts) < 1e-6
    # deviations are measured at the node that is off
    off = deviation(waves, {"p": 100.0, "q": 100.0, "r": 100.0, "m": 25.5}, *parts)
    assert off == pytest.approx(0.5, abs=1e-6)


def test_a_line_is_its_modes_series_resistances(waves: Make) -> None:
    """Two modes, common and differential: plus and minus of 100 V through 2 ohm each way.

    The metal of conductors of R ohm is R/2 of the common mode and 2 R of the differential one
    for v = (v1 + v2)/2 and v1 - v2; the soil does not count.
    """
    ohm = 2.0
    line = Line(
        name="run", near=("p", "n"), far=("f", "g"), voltage_modes=((1.0, 0.5), (1.0, -0.5)),
        impedance=(120.0, 90.0), delay=(1e-6, 1e-6), resistance=(ohm / 2, 2 * ohm),
        near_reference="soil",
    )  # fmt: skip
    parts = (
        battery(50.0), VoltageSource(name="other", a="n", b=GROUND, offset=-50.0), line,
        resistor("load", "f", "g", 46.0), resistor("loss", "soil", GROUND, 50.0),
        Inductor(name="lag", a="soil", b=GROUND, inductance=1e-5),
    )  # fmt: skip
    # 100 V over 2 + 46 + 2 ohm: 2 A
    assert (
        deviation(waves, {"p": 50.0, "n": -50.0, "f": 46.0, "g": -46.0, "soil": 0.0}, *parts) < 1e-6
    )


@pytest.mark.parametrize(
    ("load", "volts"),
    [
        # 800 V open, 10 A short, 1 ohm: past the knee, below it, and driven below zero
        (99.0, 792.0),
        (7.0, 70.0),
        (1e9, 800.0),
    ],
)
def test_an_array_on_its_segments(waves: Make, load: float, volts: float) -> None:
    source = PhotovoltaicSource(
        name="pv", a="p", b=GROUND, open_circuit_voltage=800.0, short_circuit_current=10.0,
        resistance=1.0,
    )  # fmt: skip
    assert deviation(waves, {"p": volts}, source, resistor("load", "p", GROUND, load)) < 1e-5


def test_a_bypassed_array(waves: Make) -> None:
    source = PhotovoltaicSource(
        name="pv", a="p", b=GROUND, open_circuit_voltage=800.0, short_circuit_current=10.0,
        resistance=1.0,
    )  # fmt: skip
    drawn = VoltageSource(name="pull", a="m", b=GROUND, offset=-100.0)
    # -100 V through 4 ohm: 10 A of the array and 1 ohm of its bypass leave -12 V
    assert deviation(
        waves, {"p": -12.0, "m": -100.0}, source, drawn, resistor("r", "p", "m", 4.0)
    ) == pytest.approx(0.0, abs=1e-6)


def test_a_varistor_by_the_chord_at_the_engines_voltage(waves: Make) -> None:
    law = fit_three_numbers(reference_voltage=1250.0, nominal_current=20e3, level=3500.0)
    amps = 5e-3
    stands = float(law.voltage(amps))
    parts = (
        battery(2000.0), resistor("r", "p", "m", (2000.0 - stands) / amps),
        Varistor(name="disc", a="m", b=GROUND, law=law),
    )  # fmt: skip
    assert deviation(waves, {"p": 2000.0, "m": stands}, *parts) < 1e-3
    # any other voltage is not the one its own chord leads to
    assert deviation(waves, {"p": 2000.0, "m": stands - 10.0}, *parts) > 10.0


@pytest.mark.parametrize(("load", "volts"), [(1e3, 500.0), (1e6, 418.0)])
def test_a_clamp_below_and_above_its_voltage(waves: Make, load: float, volts: float) -> None:
    clamp = Clamp(name="clamp", a="m", b=GROUND, voltage=400.0, resistance=22.0)
    source = battery(1000.0)
    if volts > 400.0 and load == 1e6:
        # (1000 - v)/r = (v - 400)/22 at v = 418
        feed = (1000.0 - volts) * 22.0 / (volts - 400.0)
        assert (
            deviation(
                waves, {"p": 1000.0, "m": volts}, source, clamp, resistor("feed", "p", "m", feed)
            )
            < 1e-6
        )
    else:
        parts = (source, clamp, resistor("feed", "p", "m", 2e3), resistor("l", "m", GROUND, load))
        # 333 V by the divider, below the clamp's
        assert deviation(waves, {"p": 1000.0, "m": 1000.0 / 3}, *parts) < 1e-6


def test_ionised_soil_stands_where_its_law_does(waves: Make) -> None:
    soil = IonisingSoil(name="soil", a="m", b=GROUND, resistance=10.0, critical=3.0)
    # 9 A: 10 ohm / sqrt(1 + 3) = 5 ohm, 45 V
    parts = (battery(135.0), resistor("feed", "p", "m", 10.0), soil)
    assert deviation(waves, {"p": 135.0, "m": 45.0}, *parts) < 1e-6
    assert deviation(waves, {"p": 135.0, "m": 67.5}, *parts) > 1.0


def test_sound_insulation_of_a_pole_that_hangs_on_nothing_else(waves: Make) -> None:
    gap = Insulation(name="gap", a="m", b="p", level=1e4)
    assert deviation(waves, {"p": 100.0, "m": 100.0}, battery(100.0), gap) < 1e-6


def test_parallel_shorts_have_a_state(waves: Make) -> None:
    wires = (Ammeter(name="one", a="p", b="m"), Ammeter(name="two", a="p", b="m"))
    load = resistor("load", "m", GROUND, 10.0)
    assert deviation(waves, {"p": 100.0, "m": 100.0}, battery(100.0), *wires, load) < 1e-6


def test_the_limit_is_a_permille_of_the_highest_and_never_less_than_a_tenth(waves: Make) -> None:
    def limit(volts: float) -> float:
        nodes = {"p": np.array([volts, 0.0])}
        circuit = Network(title="test", elements=(battery(volts),), waveform=RAMP)
        return standing_state(circuit, waves(TIME, nodes)).limit

    assert limit(-874.0) == pytest.approx(0.874)
    assert limit(0.0) == limit(48.0) == LEAST_LIMIT


def test_a_network_in_the_air_is_refused(waves: Make) -> None:
    parts = (battery(1.0), Capacitor(name="c", a="m", b="p", capacitance=1e-9))
    nodes = {"p": np.array([1.0, 0.0]), "m": np.array([2617.0, 0.0])}
    circuit = Network(title="test", elements=parts, waveform=RAMP)
    with pytest.raises(ResultRefused, match=r"^state before the surge at in the front"):
        standing_state(circuit, waves(TIME, nodes)).check()
