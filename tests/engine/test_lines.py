"""Lines of several conductors, their losses and their lumped form, as the engine has them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.linalg import sqrtm

from surgesim.engine import simulate
from surgesim.engine.lines import lower_line
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Inductor,
    Line,
    Resistor,
    VoltageSource,
)
from surgesim.physics.modes import decompose
from surgesim.physics.waveforms import Step, Waveform

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]
MakeWaveform = Callable[..., Waveform]

DELAY = 0.4e-6

# A pair and a bond beside it: no two modes share a speed, no conductor is like another.
INDUCTANCE = 1e-6 * np.array([[1.50, 0.90, 0.60], [0.90, 1.40, 0.70], [0.60, 0.70, 1.80]])
CAPACITANCE = 1e-12 * np.array([[60.0, -30.0, -5.0], [-30.0, 70.0, -8.0], [-5.0, -8.0, 40.0]])


def bundle(length: float) -> Line:
    modes = decompose(INDUCTANCE, CAPACITANCE)
    return Line(
        name="bundle",
        near=("near 0", "near 1", "near 2"),
        far=("far 0", "far 1", "far 2"),
        voltage_modes=tuple(tuple(map(float, row)) for row in modes.voltage_modes),
        impedance=tuple(map(float, modes.impedance)),
        delay=tuple(float(length / v) for v in modes.velocity),
        resistance=(0.0,) * 3,
    )


@pytest.mark.parametrize("volts", [(1e3, 0.0, 0.0), (0.0, 1e3, 0.0), (400.0, -900.0, 300.0)])
def test_a_bundle_draws_what_its_surge_impedance_says(volts: tuple[float, float, float]) -> None:
    """Before anything has come back i = Zc^-1 v, whatever the modes are.

    Zc = C^-1/2 (C^1/2 L C^1/2)^1/2 C^-1/2 solves Zc C Zc = L (telegrapher's equations); by
    square roots of matrices, without modes. 0.1 %: the engine's own 0.1 % of a current.
    """
    line, rise = bundle(100.0), 10e-9
    sources = tuple(
        VoltageSource(name=f"v{k}", a=node, b=GROUND, waveform=Step(peak=volt, rise=rise))
        for k, (node, volt) in enumerate(zip(line.near, volts, strict=True))
    )
    loads = tuple(
        Resistor(name=f"load {k}", a=node, b=GROUND, resistance=200.0)
        for k, node in enumerate(line.far)
    )
    waveform = next(s.waveform for s, volt in zip(sources, volts, strict=True) if volt)
    assert isinstance(waveform, Step)
    network = Network(title="bundle", elements=(*sources, line, *loads), waveform=waveform)
    waves = simulate(network, window="front", stop=1.5 * min(line.delay))
    drawn = [-waves.currents[f"v{k}"][-1] for k in range(3)]
    root = sqrtm(CAPACITANCE)
    inverse = np.linalg.inv(root)
    surge_impedance = inverse @ sqrtm(root @ INDUCTANCE @ root) @ inverse
    expected = np.linalg.solve(surge_impedance, np.array(volts))
    assert drawn == pytest.approx(expected, abs=1e-3 * float(np.max(np.abs(expected))))


def test_end_losses_are_what_the_record_says(
    stiff: MakeNetwork, line: MakeLine, step: MakeWaveform
) -> None:
    """Half of R at each end; of one conductor, what stands below a reference is in series too."""

    def loaded(*between: AnyElement) -> Network:
        return stiff(
            step(1e3, rise=20e-9),
            Resistor(name="behind", a="start", b="near", resistance=10.0),
            *between,
            Resistor(name="load", a="far", b=GROUND, resistance=200.0),
        )

    references = "near soil", "far soil"
    below: list[AnyElement] = []
    for end in references:
        below += [
            Resistor(name=f"{end} loss", a=end, b=GROUND, resistance=30.0),
            Inductor(name=f"{end} lag", a=end, b=GROUND, inductance=20e-6),
        ]
    cable = line("near", "far", impedance=150.0, delay=DELAY, resistance=4.0, references=references)
    whole = loaded(cable, *below)
    apart: list[AnyElement] = [line("near in", "far in", impedance=150.0, delay=DELAY)]
    for end in ("near", "far"):
        apart += [
            Resistor(name=f"{end} metal", a=end, b=f"{end} earth", resistance=2.0),
            Resistor(name=f"{end} earth", a=f"{end} earth", b=f"{end} in", resistance=30.0),
            Inductor(name=f"{end} fading", a=f"{end} earth", b=f"{end} in", inductance=20e-6),
        ]
    first, second = (
        simulate(network, window="front", step=2e-9, stop=4e-6)
        for network in (whole, loaded(*apart))
    )
    for node in ("near", "far"):
        other = np.interp(first.time, second.time, second.at(node))
        # 0.2 % of the source: both sample a front of 20 ns at their own times
        np.testing.assert_allclose(first.at(node), other, rtol=0, atol=2.0)


def test_a_lumped_line_holds_its_charge(
    stiff: MakeNetwork, line: MakeLine, step: MakeWaveform
) -> None:
    """An open line holds delay/Z times its voltage: 0.4 us over 150 ohm, 2.667 nF, at 1 kV."""
    short = line("near", "far", impedance=150.0, delay=DELAY)
    network = stiff(
        step(1e3, rise=50e-6),
        Ammeter(name="into", a="start", b="meter"),
        Resistor(name="behind", a="meter", b="near", resistance=1e3),
        short,
        Capacitor(name="end", a="far", b=GROUND, capacitance=1e-15),
        Resistor(name="path", a="far", b=GROUND, resistance=1e12),
    )
    waves = simulate(network, window="tail")
    assert waves.lumped == ("line",)
    charge = float(np.trapezoid(waves.currents["into"], waves.time))
    assert charge == pytest.approx(DELAY / 150.0 * 1e3, rel=2e-3)


def test_a_lumped_line_has_its_inductance(line: MakeLine) -> None:
    """Z times the delay: 150 ohm and 0.4 us are 60 uH."""
    short = line("near", "far", impedance=150.0, delay=DELAY)
    lowered = lower_line(short, name="l", node=lambda node: node, lumped=True)
    (henry,) = [float(part.value) for part in lowered.parts if part.kind == "L"]
    assert henry == pytest.approx(60e-6)
