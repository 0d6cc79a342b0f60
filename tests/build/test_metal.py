"""The metal at an end of a route against a round wire by Bessel functions.

Z = R z I0(z) / (2 I1(z)), z = sqrt(j omega mu0/(pi R)), of a solid round wire of R ohm/m at direct
current: S. A. Schelkunoff, Bell System Technical Journal 13, 1934.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ive

from surgesim.build.metal import Metal
from surgesim.build.routes import Band
from surgesim.engine import simulate
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource, Inductor, Resistor
from surgesim.network.impedance import impedance
from surgesim.oracle import fitting_step, solve
from surgesim.physics.constants import MU_0
from surgesim.physics.waveforms import Heidler

BAND = Band(front=1.27e6, tail=1591.0)
SIX, FIFTY = 3.39e-3, 0.387e-3
"""Ohm per metre of 6 and 50 mm2 of copper, IEC 60228:2004, from memory."""

STEEP = Heidler(peak=1e3, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0)


def wire(resistance: float, frequency: NDArray[Any]) -> NDArray[np.complex128]:
    z = np.sqrt(2j * frequency * MU_0 / resistance)
    return np.asarray(resistance * z * ive(0, z) / (2 * ive(1, z)))


def metal(resistance: float, *, round_wire: bool = True) -> Metal:
    """31 m of it."""
    return Metal(
        label="cable/bond/pe at a", outer="a/pe", ohm=31 * resistance,
        wire=resistance if round_wire else None, group="cable bond",
    )  # fmt: skip


@pytest.mark.parametrize("resistance", [SIX, FIFTY])
def test_resistance_and_inductance_from_1_khz_to_10_mhz(resistance: float) -> None:
    node, elements = metal(resistance).chain(BAND)
    frequency = np.geomspace(1e3, 1e7, 81)
    end = Resistor(name="end", a=node, b=GROUND, resistance=1e-9)
    found = impedance([*elements, end], "a/pe", frequency) / 31
    exact = wire(resistance, frequency)
    # 7 % of its impedance, what five sections leave; each of the two parts within 11 %
    assert np.max(np.abs(found / exact - 1)) < 0.07
    assert np.max(np.abs(found.real / exact.real - 1)) < 0.11
    assert np.max(np.abs(found.imag / exact.imag - 1)) < 0.11


def test_at_rest_it_is_its_resistance_and_no_short_is_small() -> None:
    """What made the reference of an array go wrong: nothing here has less than it, or 1 ohm."""
    _, elements = metal(FIFTY).chain(BAND)
    ohms = [e.resistance for e in elements if isinstance(e, Resistor)]
    assert min(ohms) == pytest.approx(31 * FIFTY)
    loops = [e for e in elements if isinstance(e, Inductor) and e.b == GROUND]
    closed = {e.a: e.resistance for e in elements if isinstance(e, Resistor) and e.b == GROUND}
    assert [closed[loop.a] for loop in loops] == [1.0] * len(loops)
    assert len(loops) >= 3


def test_metal_of_another_shape_holds_its_resistance() -> None:
    node, elements = metal(SIX, round_wire=False).chain(BAND)
    assert node == "cable/bond/pe at a"
    assert [type(element) for element in elements] == [Resistor]


def test_a_conductor_without_resistance_has_no_metal() -> None:
    assert metal(0.0).chain(BAND) == ("a/pe", [])


def test_a_steep_surge_in_both_solvers() -> None:
    """What 1 kA of 0.25/100 drops along 31 m of 50 mm2, against the sum over its frequencies."""
    node, elements = metal(FIFTY).chain(BAND)
    surge = CurrentSource(name="surge", a=GROUND, b="a/pe", waveform=STEEP)
    end = Resistor(name="end", a=node, b=GROUND, resistance=1e-6)
    network = Network(title="metal", elements=(surge, *elements, end), waveform=STEEP)
    waves = simulate(network, window="front")
    count, period = 2**18, 1e-3
    time = np.arange(count) * period / count
    frequency = np.fft.rfftfreq(count, period / count)
    exact = np.full(len(frequency), 31 * FIFTY, dtype=complex)
    exact[1:] = 31 * wire(FIFTY, frequency[1:])
    drop = np.fft.irfft(np.fft.rfft(STEEP.value(time)) * exact, count)
    crest = float(np.max(drop[time < 2e-6]))
    second = solve(network, step=fitting_step(network, largest=5e-9), stop=2e-6)
    # 5 %, the chain; a hundredth of the drop stands there from the period before
    for found in (waves.across("a/pe", GROUND), second.across("a/pe", GROUND)):
        assert float(np.max(found)) == pytest.approx(crest, rel=0.05)
    assert crest > 20 * 1e3 * 31 * FIFTY  # mostly inductive, and far above its resistance
    assert float(np.max(second.across("a/pe", GROUND))) == pytest.approx(
        float(np.max(waves.across("a/pe", GROUND))), rel=5e-3
    )
    assert math.isfinite(crest)
