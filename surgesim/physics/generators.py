"""Surge generators as circuits: a charged capacitor that discharges through a shaping network.

::

    +---Cc---+----R series---L series---+---R out---C coupling---R coupling---o
    |        |                          |
    Uc    R discharge          R load or C load
    |        |                          |
    +--------+--------------------------+-------------------------------------o

The combination-wave generator has the inductance and a load resistance, the 10/700 generator a
load capacitance instead. Either way the open output is the difference of two exponentials, and
peak and shape of what it drives are whatever the circuit at its output makes of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.waveforms import DoubleExponential, ShapeFigures, sampled_figures

SHORT = 1e-6
"""ohm. A short circuit counts as this much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Generator:
    """A generator's elements, SI units; those it lacks are zero.

    One of ``series_inductance`` and ``load_capacitance`` shapes the front: with the inductance
    goes ``load_resistance``. ``output_resistance`` is the generator's own, ``coupling_capacitance``
    and ``coupling_resistance`` those of the network by which it is coupled to a line.
    """

    capacitance: float
    discharge_resistance: float
    series_resistance: float
    series_inductance: float = 0.0
    load_resistance: float = 0.0
    load_capacitance: float = 0.0
    output_resistance: float = 0.0
    coupling_capacitance: float = 0.0
    coupling_resistance: float = 0.0

    def __post_init__(self) -> None:
        inductive = self.series_inductance > 0.0 and self.load_resistance > 0.0
        capacitive = self.load_capacitance > 0.0
        neither = self.series_inductance == self.load_resistance == 0.0
        if not (inductive and not capacitive) and not (capacitive and neither):
            raise ValueError("expected an inductance with a load resistance, or a load capacitance")


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratorFigures:
    """What a generator is set to and what it gives at most.

    ``charge`` in V is what its capacitor is charged to. ``short_circuit`` are the figures of the
    current into a short at the far end of its coupling network.
    """

    name: str
    charge: float
    short_circuit: ShapeFigures


def open_circuit(generator: Generator, *, peak: float) -> DoubleExponential:
    """Voltage of the open output, V, at the charge that gives ``peak``.

    With both poles -a and -b of the open circuit real, and nothing at the output at first:
    u = K (exp(-a t) - exp(-b t)), K = slope at t = 0 over b - a.
    """
    poles = np.sort(-np.linalg.eigvals(_open_matrix(generator)))
    if np.any(np.abs(poles.imag) > 1e-9 * np.abs(poles)) or not poles[0].real < poles[1].real:
        raise ValueError("its open output swings instead of rising and falling")
    decay, rise = (float(pole.real) for pole in poles)
    crest = np.log(rise / decay) / (rise - decay)
    height = float(np.exp(-decay * crest) - np.exp(-rise * crest))
    return DoubleExponential(peak=peak, scale=1.0 / height, decay=decay, rise=rise)


def charge_for(generator: Generator, *, peak: float) -> float:
    """What the capacitor must be charged to, V, for an open-circuit voltage of ``peak`` V.

    At the first instant the whole charge stands across what shapes the front, which gives the
    slope there: R load / L, or 1 / (R series C load).
    """
    wave = open_circuit(generator, peak=1.0)
    slope = wave.scale * (wave.rise - wave.decay)
    if generator.series_inductance > 0.0:
        return peak * slope * generator.series_inductance / generator.load_resistance
    return peak * slope * generator.series_resistance * generator.load_capacitance


@lru_cache(maxsize=64)
def short_circuit(generator: Generator, *, peak: float) -> ShapeFigures:
    """Figures of the current into a short behind the coupling network, at that open voltage."""
    matrix, output = _short_circuit(generator)
    rates, vectors = np.linalg.eig(matrix)
    start = np.zeros(len(matrix))
    start[0] = charge_for(generator, peak=peak)
    weights = (output @ vectors) * np.linalg.solve(vectors, start.astype(complex))
    slow = rates[np.abs(weights) > 1e-12 * np.max(np.abs(weights))]
    t = np.concatenate(([0.0], np.geomspace(1e-9, 40.0 / float(np.min(np.abs(slow.real))), 40_000)))
    y = np.real(np.exp(np.outer(t, rates)) @ weights)
    return sampled_figures(t, y, kind="current")


def _open_matrix(generator: Generator) -> NDArray[np.float64]:
    """Rates of the capacitor's voltage and of the current or voltage that shapes the front."""
    g = generator
    if g.series_inductance > 0.0:
        through = g.series_resistance + g.load_resistance
        return np.array(
            [
                [-1.0 / (g.discharge_resistance * g.capacitance), -1.0 / g.capacitance],
                [1.0 / g.series_inductance, -through / g.series_inductance],
            ]
        )
    series = 1.0 / g.series_resistance
    return np.array(
        [
            [-(1.0 / g.discharge_resistance + series) / g.capacitance, series / g.capacitance],
            [series / g.load_capacitance, -series / g.load_capacitance],
        ]
    )


def _short_circuit(generator: Generator) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The same with a short behind the coupling network; and the current there from the state.

    The third state is the coupling capacitor's voltage; without one it stays at zero.
    """
    g, ohm = generator, max(generator.output_resistance + generator.coupling_resistance, SHORT)
    matrix = np.zeros((3, 3))
    matrix[:2, :2] = _open_matrix(g)
    if g.series_inductance > 0.0:
        # the load resistance and the way out share the inductor's current
        beside = g.load_resistance / (g.load_resistance + ohm)
        output = np.array([0.0, beside, -1.0 / (g.load_resistance + ohm)])
        # L di/dt lacks R load times what went out of it
        matrix[1] += g.load_resistance / g.series_inductance * output
    else:
        output = np.array([0.0, 1.0 / ohm, -1.0 / ohm])
        matrix[1] -= output / g.load_capacitance
    if g.coupling_capacitance > 0.0:
        matrix[2] = output / g.coupling_capacitance
    else:
        matrix[2, 2], output[2] = -1.0, 0.0
    return matrix, output
