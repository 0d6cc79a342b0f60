"""Surge generators and the ring wave: published figures, and the circuits that must have them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np

from surgesim.build.generators import Ends, generator_elements
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Resistor, VoltageSource
from surgesim.network.waveforms import Waveforms
from surgesim.physics.generators import Generator, charge_for, open_circuit
from surgesim.physics.waveforms import RingWave, ShapeFigures, sampled_figures
from tests.verification.circuits import US, Claim


def _figures(
    node: str, kind: Literal["current", "voltage"], take: Callable[[ShapeFigures], float | None]
) -> Callable[[Waveforms], float]:
    def read(waves: Waveforms) -> float:
        value = take(sampled_figures(waves.time, waves.at(node), kind=kind))
        assert value is not None
        return value

    return read


def _generator(generator: Generator, *, load: float, peak: float = 1.0) -> Network:
    """A generator behind its coupling network with ``load`` ohm across it, at the node ``end``."""
    wave = open_circuit(generator, peak=peak)
    ends = Ends(label="surge/generator", into="end", returns=GROUND, group="")
    return Network(
        title="check",
        elements=(
            *generator_elements(ends, generator, wave, blocking=None),
            Resistor(name="load", a="end", b=GROUND, resistance=load),
        ),
        waveform=wave,
    )


def _combination_wave() -> list[Claim]:
    """The ideal circuit: at its open output, shorted by a milliohm, and through its couplings."""
    ideal = Generator(
        capacitance=5.93e-6, discharge_resistance=20.2, series_resistance=0.814,
        series_inductance=10.9e-6, load_resistance=26.1,
    )  # fmt: skip
    coupled = replace(ideal, coupling_capacitance=9e-6, coupling_resistance=10.0)
    lines = _generator(replace(ideal, coupling_capacitance=18e-6), load=1e-3)
    charged = 1.0 / charge_for(ideal, peak=1.0)
    opened, shorted = _generator(ideal, load=1e9, peak=charged), _generator(ideal, load=1e-3)
    through = _generator(coupled, load=1e-3)
    circuit = "Carobbi and Bonci, IEEE EMC Magazine 2013"
    limits = f"{circuit}; IEC 61000-4-5:2014"
    name, nominal = "Combination wave", "the published elements are rounded"
    effective = "10 ohm and 2 ohm; the capacitor makes 12.008 of it"

    def over(waves: Waveforms) -> float:
        return 1e-3 / float(np.max(waves.at("end")))

    return [
        Claim(
            name=f"{name}: open voltage of a charge of 1 V", source=circuit, published=0.943,
            unit="V", tolerance=0.005, reason=nominal, circuit=opened, stop=10 * US,
            read=lambda waves: float(np.max(waves.at("end"))),
        ),
        Claim(
            name=f"{name}: front of the open voltage", source=limits, published=1.2, unit="us",
            tolerance=0.03, reason=f"{nominal}; 30 % is allowed", circuit=opened, stop=80 * US,
            read=_figures("end", "voltage", lambda f: f.front / US),
        ),
        Claim(
            name=f"{name}: time to half of the open voltage", source=limits, published=50.0,
            unit="us", tolerance=0.03, reason=f"{nominal}; 20 % is allowed", circuit=opened,
            stop=80 * US, read=_figures("end", "voltage", lambda f: (f.tail or 0.0) / US),
        ),
        Claim(
            name=f"{name}: front of the shorted current", source=limits, published=8.0, unit="us",
            tolerance=0.03, reason=f"{nominal}; 20 % is allowed", circuit=shorted, stop=40 * US,
            read=_figures("end", "current", lambda f: f.front / US),
        ),
        Claim(
            name=f"{name}: time to half of the shorted current", source=limits, published=20.0,
            unit="us", tolerance=0.03, reason=f"{nominal}; 20 % is allowed", circuit=shorted,
            stop=40 * US, read=_figures("end", "current", lambda f: (f.tail or 0.0) / US),
        ),
        Claim(
            name=f"{name}: open voltage over shorted current", source=limits, published=2.0,
            unit="ohm", tolerance=0.02, reason=f"{nominal}; 10 % is allowed", circuit=shorted,
            stop=20 * US, read=over,
        ),
        Claim(
            name=f"{name} through 18 uF: open voltage over shorted current", source=limits,
            published=2.222, unit="ohm", tolerance=0.005, reason="four digits computed",
            circuit=lines, stop=20 * US, read=over,
        ),
        Claim(
            name=f"{name} through 18 uF: front of the shorted current", source=limits,
            published=8.0, unit="us", tolerance=0.2, reason="the standard's own", circuit=lines,
            stop=40 * US, read=_figures("end", "current", lambda f: f.front / US),
        ),
        Claim(
            name=f"{name} through 9 uF and 10 ohm: the same", source=limits, published=12.0,
            unit="ohm", tolerance=0.02, reason=effective, circuit=through, stop=20 * US, read=over,
        ),
        Claim(
            name=f"{name} through 9 uF and 10 ohm: front of the shorted current",
            source="IEC 61000-4-5:2014, from memory", published=2.5, unit="us", tolerance=0.3,
            reason="the standard's own", circuit=through, stop=40 * US,
            read=_figures("end", "current", lambda f: f.front / US),
        ),
    ]  # fmt: skip


def _telephone_generator() -> list[Claim]:
    generator = Generator(
        capacitance=20e-6, discharge_resistance=50.0, series_resistance=15.0,
        load_capacitance=0.2e-6, output_resistance=25.0,
    )  # fmt: skip
    opened, shorted = _generator(generator, load=1e9), _generator(generator, load=1e-3)
    source, allowed = "ITU-T K.44, IEC 61000-4-5:2014 Annex A, from memory", "the standard's own"
    return [
        Claim(
            name="10/700 generator: front of the open voltage", source=source, published=10.0,
            unit="us", tolerance=0.3, reason=allowed, circuit=opened, stop=1000 * US,
            read=_figures("end", "voltage", lambda f: f.front / US),
        ),
        Claim(
            name="10/700 generator: time to half of the open voltage", source=source,
            published=700.0, unit="us", tolerance=0.2, reason=allowed, circuit=opened,
            stop=1000 * US, read=_figures("end", "voltage", lambda f: (f.tail or 0.0) / US),
        ),
        Claim(
            name="10/700 generator: front of the shorted current", source=source, published=5.0,
            unit="us", tolerance=0.3, reason=allowed, circuit=shorted, stop=500 * US,
            read=_figures("end", "current", lambda f: f.front / US),
        ),
        Claim(
            name="10/700 generator: time to half of the shorted current", source=source,
            published=320.0, unit="us", tolerance=0.2, reason=allowed, circuit=shorted,
            stop=500 * US, read=_figures("end", "current", lambda f: (f.tail or 0.0) / US),
        ),
        Claim(
            name="10/700 generator: open voltage over shorted current", source=source,
            published=40.0, unit="ohm", tolerance=0.1, reason=allowed, circuit=shorted,
            stop=100 * US, read=lambda waves: 1e-3 / float(np.max(waves.at("end"))),
        ),
    ]  # fmt: skip


def _ring_wave() -> list[Claim]:
    """6 kV behind 12 ohm into a milliohm."""
    wave = RingWave(
        peak=6e3, scale=1.590, front=0.533e-6, tail=9.788e-6, angular_frequency=2e5 * np.pi
    )
    elements = (
        VoltageSource(name="E", a="source", b=GROUND, waveform=wave),
        Resistor(name="Zs", a="source", b="start", resistance=12.0),
        Resistor(name="load", a="start", b=GROUND, resistance=1e-3),
    )
    return [
        Claim(
            name="Ring wave 100 kHz, 6 kV behind 12 ohm: shorted current", unit="A",
            source="IEEE C62.41.2-2002, from memory", published=500.0, tolerance=0.005,
            reason="the formula's constants are rounded", stop=5 * US,
            circuit=Network(title="check", elements=elements, waveform=wave),
            read=lambda waves: float(np.max(waves.at("start"))) / 1e-3,
        )
    ]  # fmt: skip


def claims() -> list[Claim]:
    """Every claim about a generator."""
    return [*_combination_wave(), *_telephone_generator(), *_ring_wave()]
