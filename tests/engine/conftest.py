"""Small circuits the engine's tests are made of."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from surgesim.engine import version
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
    Resistor,
    Varistor,
)
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import CubicExponential, Heidler, Step, Waveform

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]
MakeProbe = Callable[..., TerminalProbe]
MakeEngine = Callable[..., Path]


@pytest.fixture
def injected() -> MakeNetwork:
    """A network with a surge current into node ``start``, returned from remote earth."""

    def make(
        waveform: Waveform,
        *elements: AnyElement,
        title: str = "test",
        terminals: tuple[TerminalProbe, ...] = (),
    ) -> Network:
        source = CurrentSource(name="surge", a=GROUND, b="start", waveform=waveform)
        return Network(
            title=title, elements=(source, *elements), waveform=waveform, terminals=terminals
        )

    return make


@pytest.fixture
def probe() -> MakeProbe:
    def make(a: str, b: str = GROUND, *, equipment: str = "inverter") -> TerminalProbe:
        limit = Limit(kind="withstand", volts=6e3, origin="guess")
        return TerminalProbe(
            equipment=equipment, pair="plus to pe", place="barn", a=a, b=b, limit=limit
        )

    return make


@pytest.fixture
def eight_twenty() -> Callable[[float], Waveform]:
    """8/20 of IEEE C62.41.2-2002, from memory: A = 0.01243 us^-3, tau = 3.911 us."""

    def make(peak: float) -> Waveform:
        return CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)

    return make


@pytest.fixture
def ten_350() -> Callable[[float], Waveform]:
    """10/350 of IEC 62305-1:2010 Annex B, from memory."""

    def make(peak: float) -> Waveform:
        return Heidler(peak=peak, correction=0.93, front=19e-6, tail=485e-6, exponent=10.0)

    return make


@pytest.fixture
def step() -> Callable[..., Waveform]:
    def make(peak: float, *, rise: float) -> Waveform:
        return Step(peak=peak, rise=rise)

    return make


@pytest.fixture
def installation(line: MakeLine, injected: MakeNetwork, probe: MakeProbe) -> MakeNetwork:
    """A struck electrode, a run of cable, an arrester on leads and equipment behind it."""

    def make(waveform: Waveform, *, flashover: float = 40e3) -> Network:
        law = fit_three_numbers(1250.0, 20e3, 3875.0)
        return injected(
            waveform,
            Ammeter(name="rods current", a="start", b="foot", group="earth rods"),
            Resistor(name="rods", a="foot", b=GROUND, resistance=38.0, group="earth rods"),
            Resistor(name="joint", a="start", b="array", resistance=5.0, group="cable run"),
            line(
                "array",
                "box",
                impedance=350.0,
                delay=0.35e-6,
                resistance=0.5,
                references=("soil", GROUND),
            ),
            Resistor(name="soil loss", a="soil", b=GROUND, resistance=20.0, group="cable run"),
            Inductor(name="soil lag", a="soil", b=GROUND, inductance=20e-6, group="cable run"),
            Inductor(name="lead", a="box", b="hot", inductance=0.8e-6, group="arrester"),
            Resistor(name="lead loss", a="box", b="hot", resistance=800.0, group="arrester"),
            Varistor(name="disc", a="hot", b="bar", law=law, group="arrester"),
            Capacitor(name="disc body", a="hot", b="bar", capacitance=1e-9, group="arrester"),
            Capacitor(name="input", a="box", b="bar", capacitance=22e-9, group="inverter"),
            Insulation(name="gap", a="array", b="bar", level=flashover, group="modules"),
            Resistor(name="foundation", a="bar", b=GROUND, resistance=9.0, group="earth bar"),
            terminals=(probe("box", "bar"), probe("array", "bar", equipment="modules")),
        )

    return make


@pytest.fixture
def fake_engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> MakeEngine:
    """A shell script in ngspice's place: says its version, then does what ``body`` says."""

    def make(body: str, *, says: str = "** ngspice-39 : Circuit level simulation program") -> Path:
        script = tmp_path / "ngspice-in-its-place"
        asked = f'if [ "$1" = --version ]; then echo "{says}"; exit 0; fi'
        script.write_text(f"#!/bin/sh\n{asked}\n{body}\n", encoding="utf-8")
        script.chmod(0o755)
        monkeypatch.setenv(version.VARIABLE, str(script))
        return script

    return make
