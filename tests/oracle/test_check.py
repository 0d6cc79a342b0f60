"""What the second solver will not start on, and that it says why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Coupling,
    Element,
    Inductor,
    Insulation,
    Line,
    Resistor,
    VoltageSource,
)
from surgesim.oracle import solve
from surgesim.physics.waveforms import Ramp

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

RAMP = Ramp(peak=1e3, rise=1e-6)
LOAD = Resistor(name="load", a="start", b=GROUND, resistance=10.0)


def refused(network: Network, message: str, *, step: float = 1e-8, stop: float = 1e-6) -> None:
    with pytest.raises(EngineError, match=message):
        solve(network, step=step, stop=stop)


@pytest.mark.parametrize(
    ("element", "message"),
    [
        (Resistor(name="bad", a="start", b=GROUND, resistance=0.0), "bad: resistance is 0"),
        (Resistor(name="bad", a="start", b=GROUND, resistance=float("nan")), "resistance is nan"),
        (Inductor(name="bad", a="start", b=GROUND, inductance=-1e-6), "inductance is -1e-06"),
        (Capacitor(name="bad", a="start", b=GROUND, capacitance=float("inf")), "is inf"),
        (Insulation(name="bad", a="start", b=GROUND, level=1e3, lag=0.0), "lag is 0"),
        (Resistor(name="load", a="start", b=GROUND, resistance=1.0), "same name: load"),
    ],
)
def test_numbers_without_meaning(stiff: MakeNetwork, element: AnyElement, message: str) -> None:
    refused(stiff(RAMP, LOAD, element), message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Novelty(Element):
    """An element nobody taught the solver."""


def test_an_unknown_kind_is_not_left_out(stiff: MakeNetwork) -> None:
    refused(stiff(RAMP, Novelty(name="new", a="start", b=GROUND)), "new: .* a Novelty")


def test_a_node_without_a_path(stiff: MakeNetwork) -> None:
    lonely = Capacitor(name="lonely", a="start", b="nowhere", capacitance=1e-9)
    refused(stiff(RAMP, lonely), "nowhere: has no path")


def test_a_loop_of_sources(stiff: MakeNetwork) -> None:
    second = VoltageSource(name="second", a="start", b=GROUND, offset=1.0)
    refused(stiff(RAMP, LOAD, second), "no unique solution")
    meters = (Ammeter(name="one", a="start", b="x"), Ammeter(name="two", a="start", b="x"))
    refused(stiff(RAMP, LOAD, *meters), "no unique solution")


def test_coupling(stiff: MakeNetwork) -> None:
    first = Inductor(name="first", a="start", b=GROUND, inductance=1e-6)
    second = replace(first, name="second", inductance=4e-6)
    close = Coupling(name="close", first="first", second="second", mutual=2e-6)
    refused(stiff(RAMP, first, second, close), "more closely than one to one")
    lost = replace(close, second="load", mutual=1e-7)
    refused(stiff(RAMP, first, second, LOAD, lost), "close: couples something")


def test_line(stiff: MakeNetwork, line: MakeLine) -> None:
    cable = line("start", "end", impedance=50.0, delay=5e-9)
    refused(stiff(RAMP, cable), "step of 1e-08 s is longer than its delay of 5e-09 s")
    refused(stiff(RAMP, replace(cable, delay=(0.0,))), "delay is 0")
    refused(stiff(RAMP, replace(cable, resistance=(-1.0,))), "resistance is -1")
    refused(stiff(RAMP, replace(cable, far=("end", "other"))), "differ in length")


@pytest.mark.parametrize(("step", "stop"), [(0.0, 1.0), (1e-6, 1e-7), (1e-9, float("inf"))])
def test_window(stiff: MakeNetwork, step: float, stop: float) -> None:
    refused(stiff(RAMP, LOAD), "expected 0 < step < stop", step=step, stop=stop)


def test_more_steps_than_memory(stiff: MakeNetwork) -> None:
    refused(stiff(RAMP, LOAD), "takes 1e\\+07 steps, more than 5e\\+06", step=1e-9, stop=1e-2)
