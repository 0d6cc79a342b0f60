"""The energy closure on what ngspice answers: small on the circuit that ran, large on another."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from surgesim.engine import run_network
from surgesim.findings.energy import CLOSURE_LIMIT, energy_balance
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    CurrentSource,
    Inductor,
    Insulation,
    Line,
    PhotovoltaicSource,
    Resistor,
    Varistor,
)
from surgesim.network.waveforms import Waveforms, Window
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Heidler

STEEP = Heidler(peak=2.5e3, correction=0.986, front=1.82e-6, tail=285e-6, exponent=10)
LAW = fit_three_numbers(reference_voltage=1250.0, nominal_current=20e3, level=3500.0)

PARTS: tuple[AnyElement, ...] = (
    CurrentSource(name="stroke", a=GROUND, b="frame", waveform=STEEP),
    Resistor(name="rods", a="frame", b=GROUND, resistance=38.0),
    PhotovoltaicSource(
        name="strings", a="plus", b="minus", open_circuit_voltage=874.0,
        short_circuit_current=55.6, resistance=0.8,
    ),
    Resistor(name="plus leak", a="plus", b="frame", resistance=2e6),
    Resistor(name="minus leak", a="minus", b="frame", resistance=2e6),
    Capacitor(name="plus body", a="plus", b="frame", capacitance=155e-9),
    Capacitor(name="minus body", a="minus", b="frame", capacitance=155e-9),
    Insulation(name="modules", a="plus", b="frame", level=10e3),
    Line(
        name="run", near=("plus", "minus"), far=("inverter plus", "inverter minus"),
        voltage_modes=((1.0, 0.5), (1.0, -0.5)), impedance=(120.0, 90.0),
        delay=(0.5e-6, 0.33e-6), resistance=(0.1, 0.4), near_reference="soil",
    ),
    Resistor(name="loss", a="soil", b=GROUND, resistance=10.0),
    Inductor(name="lag", a="soil", b=GROUND, inductance=15e-6),
    Capacitor(name="plus input", a="inverter plus", b="bar", capacitance=22e-9),
    Capacitor(name="minus input", a="inverter minus", b="bar", capacitance=22e-9),
    Ammeter(name="meter", a="inverter plus", b="inner"),
    Inductor(name="lead", a="inner", b="core", inductance=0.8e-6),
    Resistor(name="damping", a="inner", b="core", resistance=800.0),
    Varistor(name="disc", a="core", b="bar", law=LAW),
    Capacitor(name="disc body", a="core", b="bar", capacitance=1e-9),
    Resistor(name="foundation", a="bar", b=GROUND, resistance=9.0),
)  # fmt: skip


def network(*elements: AnyElement) -> Network:
    return Network(title="two earths", elements=elements, waveform=STEEP)


@functools.cache
def answer(window: Window) -> Waveforms:
    front, tail = run_network(network(*PARTS))
    return front if window == "front" else tail


@pytest.mark.parametrize(("window", "closed"), [("front", 1e-4), ("tail", 2e-3)])
def test_closes_on_the_circuit_that_ran(window: Window, closed: float) -> None:
    # coarse steps across a flashover cost the tail up to a permille
    balance = energy_balance(network(*PARTS), answer(window))
    assert balance.turned_over > 100.0
    assert balance.closure < closed


@pytest.mark.parametrize("window", ["front", "tail"])
@pytest.mark.parametrize("share", [0.1, 0.3, 0.7])
def test_closes_from_any_moment_on(window: Window, share: float) -> None:
    # what lines, leads and the earth return hold at that moment counts as held
    waves = answer(window)
    balance = energy_balance(network(*PARTS), waves, since=share * waves.stop)
    assert balance.turned_over > 0.1
    assert balance.closure < 1e-3


def test_closes_from_a_moment_on_with_the_line_lumped() -> None:
    short = replace(network(*PARTS), elements=tuple(_shorter(element) for element in PARTS))
    front, tail = run_network(short)
    assert tail.lumped == ("run",)
    # a permille: the slope of a lumped line's voltage is that over one coarse step
    assert energy_balance(short, tail, since=front.stop).closure < 1e-3


def _shorter(element: AnyElement) -> AnyElement:
    return replace(element, delay=(0.15e-6, 0.1e-6)) if isinstance(element, Line) else element


def test_the_tail_lumped_nothing_or_said_so() -> None:
    assert set(answer("tail").lumped) <= {"run"}


def _scaled(name: str, **factors: float) -> Callable[[AnyElement], AnyElement]:
    def change(element: AnyElement) -> AnyElement:
        if element.name != name:
            return element
        values = {key: getattr(element, key) * factor for key, factor in factors.items()}
        return replace(element, **values)

    return change


def _line(**changes: Any) -> Callable[[AnyElement], AnyElement]:
    def change(element: AnyElement) -> AnyElement:
        return replace(element, **changes) if isinstance(element, Line) else element

    return change


@pytest.mark.parametrize(
    "change",
    [
        _scaled("rods", resistance=1.05),
        _scaled("foundation", resistance=1.5),
        _scaled("modules", resistance=10.0),
        _line(impedance=(150.0, 90.0)),
        _line(delay=(0.6e-6, 0.33e-6)),
        _scaled("loss", resistance=0.5),
    ],
)
def test_does_not_close_on_another_circuit(
    change: Callable[[AnyElement], AnyElement],
) -> None:
    other = network(*(change(element) for element in PARTS))
    assert energy_balance(other, answer("front")).closure > CLOSURE_LIMIT
