"""A route over lossy soil, in time, against the same route in the frequency domain.

The reference has no modes, no pieces and no chain: at every complex frequency the line's series
impedance is the closed form itself (Saad, Gaba, Giroux 1996 in soil, Deri et al. 1981 in air),
spread evenly over the length, and the nodal equations of the line and what stands at its ends
are solved directly (Paul, Analysis of Multiconductor Transmission Lines, ch. 7). Back to time
by the numerical Laplace transform (Wilcox, Int. J. Electr. Eng. Educ. 15, 1978).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ive, kv

from surgesim.build.cables import cables, route_constants
from surgesim.build.whole import band_of
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, Capacitor, CurrentSource, Resistor
from surgesim.oracle import fitting_step, solve
from surgesim.physics.constants import MU_0
from surgesim.physics.waveforms import DoubleExponential, shape_figures
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

Matrix = NDArray[np.complex128]
Array = NDArray[np.float64]
Waves = tuple[Array, Array]
"""Times, and a row for each voltage."""

SOIL = 170.0
LAYINGS = {"duct": "plastic duct 90 mm wide 0.7 m deep", "air": "in air 1 m high"}
DUCT_RADIUS, DEPTH = 0.09 * 0.56, 0.7  # with a wall of 6 % of the width


def scenario(laying: str, length: float) -> Scenario:
    laid = LAYINGS[laying]
    text = f"""
surgesim: 1
title: Soil
site: {{soil: {SOIL:g} ohm m}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair:
    {{from: roof, to: house, length: {length:g} m, type: pv pair 6 mm2, laying: {laid}}}
  bond: {{from: roof, to: house, length: {length:g} m, type: copper 6 mm2, laid with: pair}}
earths:
  rod:  {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof pe, returns: remote earth}}
"""
    (case,) = loads(text).all_cases
    return case.scenario


@dataclass(frozen=True)
class Shape:
    """A double exponential with its transform."""

    slow: float
    fast: float

    @property
    def wave(self) -> DoubleExponential:
        peak_at = math.log(self.fast / self.slow) / (self.fast - self.slow)
        peak = math.exp(-self.slow * peak_at) - math.exp(-self.fast * peak_at)
        return DoubleExponential(peak=peak, scale=1 / peak, decay=self.slow, rise=self.fast)

    def transform(self, s: complex) -> complex:
        return 1 / (s + self.slow) - 1 / (s + self.fast)


SHAPES = {
    "10/350": Shape(slow=2e3, fast=260e3),
    "1/200": Shape(slow=3.5e3, fast=2.6e6),
    "0.25/100": Shape(slow=7e3, fast=10e6),
}

PLUS, MINUS, BAR, EARTH = 0, 1, 2, -1
HELD, OPEN = 0.5, 1e6
"""Ohm from a pole to the bar, as an arrester that conducts and as an inverter's input."""
INPUT = 20e-9
"""Farad from each pole to the bar at the far end."""


def shunts(far_ohm: float) -> dict[str, list[tuple[int, int, float]]]:
    """What stands at the two ends: from, to, ohm."""
    return {
        "roof": [(BAR, EARTH, 30.0), (PLUS, BAR, HELD), (MINUS, BAR, HELD)],
        "house": [(BAR, EARTH, 10.0), (PLUS, BAR, far_ohm), (MINUS, BAR, far_ohm)],
    }


def soil_impedance(laying: str, s: complex) -> complex:
    """Of the soil alone, ohm/m, at the complex frequency s."""
    m = np.sqrt(s * MU_0 / SOIL)
    if laying == "air":
        return s * MU_0 / (2 * math.pi) * complex(np.log1p(1.0 / m))  # 2 p over 2 h, h = 1 m
    surface = 2 * np.exp(-2 * DEPTH * m) / (4 + (m * DUCT_RADIUS) ** 2)
    return s * MU_0 / (2 * math.pi) * complex(kv(0, m * DUCT_RADIUS) + surface)


def reference(laying: str, length: float, shape: Shape, far: float, stop: float) -> Waves:
    """Far plus to bar, far bar, and near plus to remote earth, by the Laplace transform."""
    of = scenario(laying, length)
    of = of.model_copy(update={"site": of.site.model_copy(update={"soil": 1e-9})})
    band = band_of(shape.wave, "current")
    metal, kept = route_constants(dict(of.cables), of, band)  # as if the soil were a metal
    assert [core.name for core in kept] == ["plus", "minus", "pe"]

    def wanted(s: complex) -> Array:
        wires = np.diag(metal.resistance * skin(metal.resistance, s))
        series = s * metal.inductance + soil_impedance(laying, s) + wires
        volts = nodal(line_admittance(series, s * metal.capacitance, length), far, s, shape)
        return np.array([volts[3] - volts[5], volts[5], volts[0]])

    return inverted(wanted, stop)


def skin(resistance: Array, s: complex) -> Matrix:
    """A round wire's internal impedance over its resistance, z I0(z)/(2 I1(z)) (Schelkunoff
    1934), z = sqrt(s mu0 / (pi R)) from its section and conductivity."""
    z = np.sqrt(s * MU_0 / (math.pi * resistance))
    return np.asarray(z * ive(0, z) / (2 * ive(1, z)))


def line_admittance(series: NDArray[Any], shunt: NDArray[Any], length: float) -> Matrix:
    """Nodal admittance of a uniform line, near ends first."""
    squared, vectors = np.linalg.eig(series @ shunt)
    rate = np.sqrt(squared) * length
    back = np.linalg.solve(series * length, vectors)
    own = back @ np.diag(rate / np.tanh(rate)) @ np.linalg.inv(vectors)
    across = -back @ np.diag(rate / np.sinh(rate)) @ np.linalg.inv(vectors)
    return np.block([[own, across], [across, own]])


def nodal(line: Matrix, far: float, s: complex, shape: Shape) -> Matrix:
    matrix = line.copy()
    for first, (place, parts) in zip((0, 3), shunts(far).items(), strict=True):
        inputs = [(pole, BAR, INPUT * s) for pole in (PLUS, MINUS)] if place == "house" else []
        for a, b, siemens in [*((a, b, 1 / ohm) for a, b, ohm in parts), *inputs]:
            matrix[first + a, first + a] += siemens
            if b != EARTH:
                matrix[first + b, first + b] += siemens
                matrix[first + a, first + b] -= siemens
                matrix[first + b, first + a] -= siemens
    injected = np.zeros(6, dtype=np.complex128)
    injected[BAR] = shape.transform(s)
    return np.asarray(np.linalg.solve(matrix, injected))


def inverted(transform: Callable[[complex], Array], stop: float) -> Waves:
    """Back to time; aliases are down to 1e-5 and the upper edge is a Lanczos window."""
    points, damping = 4096, -math.log(1e-5) / stop
    count = points // 2 + 1
    spectrum = np.array([transform(damping + 2j * math.pi * k / stop) for k in range(count)])
    spectrum *= np.sinc(np.arange(count) / (count - 1))[:, None]
    time = stop / points * np.arange(points)
    waves = np.fft.irfft(spectrum, n=points, axis=0) * points / stop
    shown = time < 0.9 * stop  # the last tenth is where the aliases are
    decaying = np.asarray(waves * np.exp(damping * time)[:, None], dtype=np.float64)
    return np.asarray(time[shown], dtype=np.float64), decaying[shown].T


def computed(laying: str, length: float, shape: Shape, far: float, stop: float) -> Waves:
    """The same by the network that is built of it."""
    of, wave = scenario(laying, length), shape.wave
    elements: list[AnyElement] = [
        CurrentSource(name="surge", a=GROUND, b="roof/pe", waveform=wave),
        *(e for part in cables(of, band_of(wave, "current"), {}) for e in part.elements),
    ]
    names = ("plus", "minus", "pe")
    for place, parts in shunts(far).items():
        for a, b, ohm in parts:
            end = GROUND if b == EARTH else f"{place}/{names[b]}"
            name = f"{place} {names[a]}"
            elements.append(Resistor(name=name, a=f"{place}/{names[a]}", b=end, resistance=ohm))
    for pole in names[:2]:
        ends = {"a": f"house/{pole}", "b": "house/pe"}
        elements.append(Capacitor(name=f"input {pole}", capacitance=INPUT, **ends))
    network = Network(title="soil", elements=tuple(elements), waveform=wave)
    front = shape_figures(wave, kind="current").front
    waves = solve(network, step=fitting_step(network, largest=front / 200), stop=stop)
    volts = [waves.across("house/plus", "house/pe"), waves.at("house/pe"), waves.at("roof/plus")]
    return waves.time, np.array(volts)


SLOW = pytest.mark.slow
CASES = [
    *(("duct", length, far) for length in (62.0, 300.0) for far in (HELD, OPEN)),
    ("air", 300.0, OPEN),
]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    ("laying", "length", "far"), [CASES[0], *(pytest.param(*c, marks=SLOW) for c in CASES[1:])]
)
def test_peaks_are_those_of_the_frequency_domain(
    laying: str, length: float, shape: str, far: float
) -> None:
    # 0.8 %: the chains follow the soil within 2 % and the skin of the wires within 7 %, of which a
    # few tenths arrive in a peak, most on 300 m; the joints, by Simpson's rule, leave less
    stop = {"10/350": 240e-6, "1/200": 40e-6, "0.25/100": 40e-6}[shape]
    _, wanted = reference(laying, length, SHAPES[shape], far, stop)
    time, found = computed(laying, length, SHAPES[shape], far, 0.9 * stop)
    for name, there, here in zip(("pole to bar", "bar", "pole"), wanted, found, strict=True):
        peak, reached = np.max(np.abs(there)), np.max(np.abs(here))
        assert reached == pytest.approx(peak, rel=0.008), name
    assert time[-1] >= 0.9 * stop
