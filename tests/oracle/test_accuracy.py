"""How the second solver's error shrinks with its step, and that no energy is made or lost."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Coupling,
    Inductor,
    Line,
    Resistor,
    Varistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve
from surgesim.physics.varistor import VaristorLaw
from surgesim.physics.waveforms import CubicExponential

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

SMOOTH = CubicExponential(peak=1e3, scale=0.01243e18, time_constant=3.911e-6)
STOP = 32e-6
COARSE = 0.2e-6


def ringing() -> list[AnyElement]:
    return [
        Resistor(name="damping", a="start", b="middle", resistance=3.0),
        Inductor(name="lead", a="middle", b="end", inductance=20e-6),
        Capacitor(name="load", a="end", b=GROUND, capacitance=0.2e-6),
        Resistor(name="path", a="end", b=GROUND, resistance=100.0),
    ]


def travelling(line: MakeLine) -> list[AnyElement]:
    """A delay that ends a third or two thirds into a step however often that is halved, which
    costs the same share of h^2 each time; and losses of both kinds."""
    return [
        line(
            "start",
            "end",
            impedance=100.0,
            delay=(7 + 1 / 3) * COARSE,
            resistance=2.0,
            references=("soil", GROUND),
        ),
        Resistor(name="loss", a="soil", b=GROUND, resistance=30.0),
        Inductor(name="lag", a="soil", b=GROUND, inductance=20e-6),
        Capacitor(name="load", a="end", b=GROUND, capacitance=5e-9),
        Resistor(name="path", a="end", b=GROUND, resistance=400.0),
    ]


@pytest.mark.parametrize("kind", ["ringing", "travelling"])
def test_halving_the_step_quarters_the_error(stiff: MakeNetwork, line: MakeLine, kind: str) -> None:
    # second order: 4, and 3.6 to 4.4 leaves room for the terms behind the leading one
    network = stiff(SMOOTH, *(ringing() if kind == "ringing" else travelling(line)))
    times = np.arange(0.0, STOP, COARSE)

    def end(step: float) -> np.ndarray:
        waves = solve(network, step=step, stop=STOP)
        return waves.at("end")[:: round(COARSE / step)][: len(times)]

    exact = end(COARSE / 256)
    errors = [np.max(np.abs(end(COARSE / n) - exact)) for n in (1, 2, 4, 8)]
    for longer, shorter in pairwise(errors[1:]):
        assert 3.6 < longer / shorter < 4.4
    assert errors[-1] < 1e-3 * np.max(np.abs(exact))


def trapezoid(waves: Waveforms, volts: np.ndarray, amperes: np.ndarray) -> float:
    """Energy by the means of each step, which is how the trapezoidal rule itself counts."""
    power = (volts[1:] + volts[:-1]) * (amperes[1:] + amperes[:-1]) / 4.0
    return float(np.sum(power) * waves.step)


def test_energy_of_lumped_elements_closes(stiff: MakeNetwork, law: VaristorLaw) -> None:
    """What the source gave is in the resistors, the disc, the field and the charge."""
    first, second, mutual, farad, ohm = 20e-6, 12e-6, 7e-6, 10e-9, 3.0
    network = stiff(
        SMOOTH,
        Resistor(name="damping", a="start", b="middle", resistance=ohm),
        Inductor(name="lead", a="middle", b="end", inductance=first),
        Inductor(name="loop", a="loop", b=GROUND, inductance=second),
        Coupling(name="beside", first="lead", second="loop", mutual=mutual),
        Resistor(name="loop resistance", a="loop", b=GROUND, resistance=ohm),
        Capacitor(name="body", a="end", b=GROUND, capacitance=farad),
        Ammeter(name="through disc", a="end", b="disc"),
        Varistor(name="disc", a="disc", b=GROUND, law=law),
    )
    waves = solve(network, step=50e-9, stop=STOP)
    i, j, v = waves.currents["lead"], waves.currents["loop"], waves.at("end")
    given = trapezoid(waves, waves.at("start"), -waves.currents["source"])
    burnt = trapezoid(waves, ohm * i, i) + trapezoid(waves, ohm * j, j)
    burnt += trapezoid(waves, waves.at("disc"), waves.currents["through disc"])
    stored = (first * i[-1] ** 2 + second * j[-1] ** 2 + farad * v[-1] ** 2) / 2
    stored += mutual * i[-1] * j[-1]
    # to rounding: the rule keeps energy exactly
    assert given == pytest.approx(burnt + stored, rel=1e-9)
    assert abs(stored) > 1e-6 * given


def test_energy_on_a_line_closes(stiff: MakeNetwork, line: MakeLine) -> None:
    """What went into a lossless line and not out of it is on its way along it."""
    impedance, delay = 100.0, 2e-6
    network = stiff(
        SMOOTH,
        line("start", "end", impedance=impedance, delay=delay),
        Resistor(name="load", a="end", b=GROUND, resistance=37.0),
    )
    waves = solve(network, step=fitting_step(network, largest=20e-9), stop=15.3e-6)
    into, held = 0.0, 0.0
    for end in ("near", "far"):
        volts, amperes = (m[f"line/{end}/0"] for m in (waves.voltages, waves.currents))
        into += trapezoid(waves, volts, amperes)
        wave = ((volts + impedance * amperes) / 2)[-round(delay / waves.step) - 1 :]
        held += trapezoid(waves, wave, wave / impedance)
    assert into == pytest.approx(held, rel=1e-9)


def test_the_step_fits_the_shortest_delay(stiff: MakeNetwork, line: MakeLine) -> None:
    network = stiff(
        SMOOTH,
        line("start", "end", impedance=100.0, delay=1e-6, name="long"),
        line("end", "far", impedance=100.0, delay=0.3e-6, name="short"),
    )
    step = fitting_step(network, largest=70e-9)
    assert step == pytest.approx(60e-9, rel=1e-12)
    assert fitting_step(network, largest=1e-6) == pytest.approx(75e-9, rel=1e-12)
    assert fitting_step(stiff(SMOOTH, *ringing()), largest=70e-9) == 70e-9
