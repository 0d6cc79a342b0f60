"""Energy closure on circuits whose waveforms are known in closed form.

The sampled closed form is integrated by the trapezoidal rule, whose error on a smooth power is
below (steps per time constant)^-2: with the thousands of steps used here, under 1e-6.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.errors import ResultRefused
from surgesim.findings.energy import CLOSURE_LIMIT, EnergyBalance, energy_balance
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    Coupling,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    IonisingSoil,
    PhotovoltaicSource,
    Resistor,
    Varistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Ramp

Make = Callable[..., Waveforms]

CLOSED = 1e-6
RAMP = Ramp(peak=1.0, rise=1e-6)


def network(*elements: AnyElement) -> Network:
    return Network(title="test", elements=elements, waveform=RAMP)


def resistor(ohm: float, *, name: str = "r", a: str = "a", b: str = GROUND) -> Resistor:
    return Resistor(name=name, a=a, b=b, resistance=ohm)


def test_capacitor_into_a_resistor(waves: Make) -> None:
    ohm, farad = 50.0, 22e-9
    time = np.linspace(0.0, 3 * ohm * farad, 5001)
    volts = 6e3 * np.exp(-time / (ohm * farad))
    circuit = network(resistor(ohm), Capacitor(name="c", a="a", b=GROUND, capacitance=farad))
    balance = energy_balance(circuit, waves(time, {"a": volts}))
    # half C V^2 less what is left after three time constants
    lost = farad / 2 * 6e3**2 * (1 - np.exp(-6.0))
    assert balance.taken["r"] == pytest.approx(lost, rel=1e-6)
    assert balance.taken["c"] == pytest.approx(-lost, rel=1e-12)
    assert balance.turned_over == pytest.approx(lost, rel=1e-6)
    assert balance.closure < CLOSED


def test_a_wrong_capacitance_does_not_close(waves: Make) -> None:
    ohm, farad = 50.0, 22e-9
    time = np.linspace(0.0, 3 * ohm * farad, 5001)
    volts = 6e3 * np.exp(-time / (ohm * farad))
    wrong = Capacitor(name="c", a="a", b=GROUND, capacitance=farad * 1.02)
    balance = energy_balance(network(resistor(ohm), wrong), waves(time, {"a": volts}))
    # 2 % more taken out of the store than arrived: 0.02 / mean(1, 1.02)
    assert balance.closure == pytest.approx(0.02 / 1.01, rel=1e-4)
    with pytest.raises(ResultRefused, match=r"front window: 2 % of .* J is unaccounted for"):
        balance.measured().check()


def test_source_charging_an_inductor_through_a_resistor(waves: Make) -> None:
    ohm, henry, volts = 10.0, 2e-6, 1000.0
    time = np.linspace(0.0, 5 * henry / ohm, 5001)
    amps = volts / ohm * (1 - np.exp(-time * ohm / henry))
    circuit = network(
        VoltageSource(name="s", a="a", b=GROUND, offset=volts),
        resistor(ohm, b="m"),
        Inductor(name="l", a="m", b=GROUND, inductance=henry),
    )
    nodes = {"a": np.full_like(time, volts), "m": volts - ohm * amps}
    balance = energy_balance(circuit, waves(time, nodes, {"s": -amps, "l": amps}))
    assert balance.taken["s"] < 0
    assert balance.taken["l"] == pytest.approx(henry / 2 * amps[-1] ** 2)
    assert balance.closure < CLOSED


def test_energy_is_counted_from_the_state_before_the_surge(waves: Make) -> None:
    time = np.linspace(0.0, 1e-3, 11)
    level = np.full_like(time, 437.0)
    circuit = network(
        Capacitor(name="c", a="a", b=GROUND, capacitance=1e-6),
        Inductor(name="l", a="a", b="n", inductance=1e-3),
    )
    balance = energy_balance(circuit, waves(time, {"a": level, "n": level}, {"l": level * 0 + 5}))
    assert balance.taken == {"c": 0.0, "l": 0.0}
    assert balance.closure == 0.0


def test_coupled_inductors(waves: Make) -> None:
    # two inductors in series fed with a ramp, dots alike: L1 + L2 + 2M
    one, two, mutual, slope = 3e-6, 1e-6, 0.5e-6, 1e9
    time = np.linspace(0.0, 1e-6, 2001)
    amps = slope * time
    circuit = network(
        CurrentSource(name="s", a=GROUND, b="a", waveform=Ramp(peak=slope * 1e-6, rise=1e-6)),
        Inductor(name="one", a="a", b="m", inductance=one),
        Inductor(name="two", a="m", b=GROUND, inductance=two),
        Coupling(name="k", first="one", second="two", mutual=mutual),
    )
    nodes = {
        "a": np.full_like(time, slope * (one + two + 2 * mutual)),
        "m": np.full_like(time, slope * (two + mutual)),
    }
    balance = energy_balance(circuit, waves(time, nodes, {"one": amps, "two": amps}))
    assert balance.taken["k"] == pytest.approx(mutual * amps[-1] ** 2)
    assert balance.closure < CLOSED


def test_clamp_takes_only_what_is_beyond_its_voltage(waves: Make) -> None:
    time = np.linspace(0.0, 1.0, 4001)
    amps = 10.0 * time
    clamp = Clamp(name="d", a="a", b=GROUND, voltage=400.0, resistance=2.0)
    source = CurrentSource(name="s", a=GROUND, b="a", waveform=Ramp(peak=10.0, rise=1.0))
    volts = np.where(amps > 0, 400.0 + 2.0 * amps, 0.0)
    balance = energy_balance(network(source, clamp), waves(time, {"a": volts}))
    # integral of (400 + 20 t) 10 t over a second
    assert balance.taken["d"] == pytest.approx(2000.0 + 200.0 / 3, rel=1e-6)
    assert balance.closure < CLOSED


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_clamp_by_its_own_law(waves: Make, sign: float) -> None:
    time = np.linspace(0.0, 1.0, 4001)
    clamp = Clamp(name="d", a="a", b=GROUND, voltage=400.0, resistance=2.0)
    balance = energy_balance(network(clamp), waves(time, {"a": sign * 800.0 * time}))
    # integral of 800 t (400 t - 200) from half a second on
    assert balance.taken["d"] == pytest.approx(320e3 / 3 * 7 / 8 - 80e3 * 3 / 4, rel=1e-6)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_soil_that_ionises(waves: Make, sign: float) -> None:
    """v = R0 i / sqrt(1 + i/Ig) with R0 10 ohm, Ig 3 A, i = 9 t A: the integral of v i."""
    time = np.linspace(0.0, 1.0, 4001)
    amps = 9.0 * time
    soil = IonisingSoil(name="d", a="a", b=GROUND, resistance=10.0, critical=3.0)
    volts = sign * 10.0 * amps / np.sqrt(1.0 + amps / 3.0)
    balance = energy_balance(network(soil), waves(time, {"a": volts}))
    # with q = 3 t: 810/27 times the integral of q^2/sqrt(1 + q) from 0 to 3, which is 76/15
    assert balance.taken["d"] == pytest.approx(810.0 / 27.0 * 76.0 / 15.0, rel=1e-6)


def test_insulation_that_collapses_under_a_current(waves: Make) -> None:
    time = np.linspace(0.0, 1.0, 20001)
    state = 0.9 + 0.1 * time
    gap = Insulation(name="gap", a="a", b=GROUND, level=1e4, resistance=0.1)
    conductance = 1e-10 * (10.0 / 1e-10) ** state
    source = CurrentSource(name="s", a=GROUND, b="a", waveform=Ramp(peak=100.0, rise=1.0))
    volts = 100.0 * time / conductance
    made = waves(time, {"a": volts, "gap/state": state})
    balance = energy_balance(network(source, resistor(1e12), gap), made)
    assert balance.taken["gap"] > 0
    assert balance.closure < CLOSED


@pytest.mark.parametrize(
    ("volts", "amps"),
    [(0.0, -10.0), (500.0, -10.0), (795.0, -5.0), (800.0, 0.0), (805.0, 5.0), (-7.0, -17.0)],
)
def test_photovoltaic_source_by_its_own_law(waves: Make, volts: float, amps: float) -> None:
    # 800 V, 10 A, 1 ohm: flat to the knee at 790 V, beyond either end one ohm
    source = PhotovoltaicSource(
        name="pv", a="a", b=GROUND, open_circuit_voltage=800.0, short_circuit_current=10.0,
        resistance=1.0,
    )  # fmt: skip
    time = np.array([0.0, 2.0])
    balance = energy_balance(network(source), waves(time, {"a": np.full(2, volts)}))
    assert balance.taken["pv"] == pytest.approx(2.0 * volts * amps)


def test_photovoltaic_law_is_the_engines_table(waves: Make) -> None:
    from surgesim.engine.table import clamp_points, photovoltaic_points
    from surgesim.findings.devices import current

    pv = PhotovoltaicSource(
        name="pv", a="a", b=GROUND, open_circuit_voltage=874.0, short_circuit_current=55.6,
        resistance=0.8,
    )  # fmt: skip
    clamp = Clamp(name="d", a="a", b=GROUND, voltage=400.0, resistance=2.0)
    for element, points in (
        (pv, photovoltaic_points(874.0, 55.6, 0.8)),
        (clamp, clamp_points(400.0, 2.0)),
    ):
        volts, amps = np.array(points).T
        made = waves(np.arange(len(volts)) * 1.0, {"a": volts})
        assert current(element, made) == pytest.approx(amps, abs=1e-9)


LAW = fit_three_numbers(reference_voltage=1250.0, nominal_current=20e3, level=3500.0)


def varistor_behind(series: Element, *, offset: float) -> Network:
    """Current source, something in series, varistor with its capacitance beside it."""
    return network(
        CurrentSource(name="s", a=GROUND, b="a", waveform=Ramp(peak=1e3, rise=1e-3)),
        series,
        Varistor(name="v", a="m", b=GROUND, law=LAW),
        Capacitor(name="c", a="m", b=GROUND, capacitance=offset),
    )


def test_varistor_by_the_current_in_series_with_it(waves: Make) -> None:
    # the voltage is off by two per mille of its law, as a table's would be
    time = np.linspace(0.0, 1e-3, 20001)
    amps = 1e3 * np.minimum(time / 1e-3, 1.0)
    volts = LAW.voltage(amps) * 1.002
    nodes = {"a": volts, "m": volts}
    meter = Ammeter(name="meter", a="a", b="m")
    made = waves(time, nodes, {"meter": amps})
    balance = energy_balance(varistor_behind(meter, offset=1e-15), made)
    assert balance.closure < CLOSED
    # by the law alone the same waveforms would be refused
    other = Ammeter(name="meter", a="a", b="m")
    beside = Clamp(name="d", a="m", b=GROUND, voltage=1e9, resistance=1.0)
    alone = Network(
        title="law alone", waveform=RAMP,
        elements=(*varistor_behind(other, offset=1e-15).elements, beside),
    )  # fmt: skip
    assert energy_balance(alone, made).closure > CLOSURE_LIMIT


def test_what_charges_the_capacitance_beside_a_varistor_is_not_the_varistors(waves: Make) -> None:
    # below its knee the varistor carries nothing: all the current charges 1 uF
    time = np.linspace(0.0, 1e-3, 2001)
    amps = np.minimum(time / 1e-3, 1.0)
    volts = np.cumsum(np.concatenate(([0.0], np.diff(time) * (amps[1:] + amps[:-1]) / 2))) / 1e-6
    meter = Ammeter(name="meter", a="m", b="a")
    made = waves(time, {"a": volts, "m": volts}, {"meter": -amps})
    balance = energy_balance(varistor_behind(meter, offset=1e-6), made)
    assert balance.taken["c"] == pytest.approx(0.125, rel=1e-6)
    assert balance.taken["v"] == pytest.approx(0.0, abs=1e-6)


def test_unknown_elements_are_refused(waves: Make) -> None:
    class Lamp(Element):
        pass

    time = np.array([0.0, 1.0])
    with pytest.raises(ResultRefused, match="known of a Lamp"):
        energy_balance(network(Lamp(name="x", a="a", b=GROUND)), waves(time, {"a": time}))


def test_a_dead_circuit_closes(waves: Make) -> None:
    time = np.linspace(0.0, 1.0, 5)
    balance = energy_balance(network(resistor(1.0)), waves(time, {"a": time * 1e-9}))
    assert balance.closure < CLOSURE_LIMIT


@pytest.mark.parametrize(("left_over", "refused"), [(0.4, False), (0.6, True)])
def test_the_limit_is_half_a_percent(left_over: float, refused: bool) -> None:
    balance = EnergyBalance(
        window="tail", taken={"source": -100.0, "rods": 60.0, "line": 40.0 - left_over}
    )
    assert balance.closure == pytest.approx(left_over / 100.0, rel=0.01)
    if refused:
        with pytest.raises(ResultRefused, match=r"tail window: 0\.6 % of 99\.7 J") as caught:
            balance.measured().check()
        assert caught.value.hint.endswith("most energy is in source, rods, line")
    else:
        balance.measured().check()
