"""A spark gap on ramps, on an impulse, and on alternating current: its law against integrations
of it by other means.

Of a law that is this project's own there is no published number. What is held here is that both
solvers follow it: the values are those of scipy's LSODA and Radau on the same equations, 2026.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    CurrentSource,
    Inductor,
    Resistor,
    SparkGap,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.spark_gap import GapLaw, calibrated
from surgesim.physics.waveforms import (
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Ramp,
    RingWave,
    Waveform,
)
from tests.verification.circuits import US, Claim

LAW = calibrated(GapLaw(sparkover=600.0, collapse=1e-8), impulse=1100.0, slope=1e9)
IMPULSE = DoubleExponential(peak=6e3, scale=1.03725, decay=14659.1, rise=2.46893e6)
SOURCE = "the gap's law, own; integrated by scipy"


def behind(waveform: Waveform, *, ohm: float, henry: float = 0.0) -> Network:
    """The gap at the node ``gap`` behind a resistance, and an inductance where there is one."""
    elements = [
        VoltageSource(name="E", a="start", b=GROUND, waveform=waveform),
        Resistor(name="Zs", a="start", b="middle" if henry else "gap", resistance=ohm),
        SparkGap(name="tube", a="gap", b=GROUND, law=LAW),
    ]
    if henry:
        elements.append(Inductor(name="L", a="middle", b="gap", inductance=henry))
    return Network(title="check", elements=tuple(elements), waveform=waveform)


def _crest(waves: Waveforms) -> float:
    return float(np.max(waves.at("gap")))


def _at_ten(waves: Waveforms) -> float:
    return float(np.interp(10 * US, waves.time, waves.at("gap")))


def claims() -> list[Claim]:
    """Static level 600 V, 1100 V at 1 kV/us: at other slopes, and on 6 kV of 1.2/50."""
    ramps = [
        Claim(
            name=f"Gap of 600 V, 1100 V at 1 kV/us: on {slope / 1e9:g} kV/us behind 50 ohm",
            source=SOURCE, published=volts, unit="V", tolerance=0.005, stop=3e3 / slope,
            reason="a crest as good as the step", read=_crest,
            circuit=behind(Ramp(peak=3e3, rise=3e3 / slope), ohm=50.0),
        )
        for slope, volts in ((1e8, 840.5), (1e9, 1100.0), (5e9, 1513.6))
    ]  # fmt: skip
    impulse = behind(IMPULSE, ohm=2.0, henry=8e-6)
    on_impulse: list[tuple[str, float, str, Callable[[Waveforms], float]]] = [
        ("sparkover", 1830.3, "V", _crest),
        ("its arc at 10 us", 33.80, "V", _at_ten),
        ("its largest current", 2573.7, "A", lambda w: float(np.max(w.currents["L"]))),
    ]
    return ramps + [
        Claim(
            name=f"the same on 6 kV of 1.2/50 behind 2 ohm and 8 uH: {what}", source=SOURCE,
            published=value, unit=unit, tolerance=0.005, reason="a crest as good as the step",
            circuit=impulse, stop=15 * US, read=read,
        )
        for what, value, unit, read in on_impulse
    ]  # fmt: skip


def on_mains(recovery: float) -> Network:
    """230 V of 50 Hz behind 100 A at a power factor of 0.5; 5 kA of 8/20 into the gap 3 ms after
    a zero of the voltage, at t = 0. Beside the gap 500 ohm, and 47 nF behind 20 ohm.
    """
    law = calibrated(replace(LAW, collapse=1e-8, recovery=recovery), impulse=1100.0, slope=1e9)
    pulse = CubicExponential(peak=5e3, scale=0.01243e18, time_constant=3.911e-6)
    omega, peak, ohm = 2 * np.pi * 50.0, 230.0 * np.sqrt(2.0), 1.15
    henry = float(np.sqrt(2.3**2 - ohm**2) / omega)
    angle = omega * 3e-3
    sine = DampedSine(
        peak=float(peak * np.cos(angle)), correction=1.0, time_constant=1e3,
        angular_frequency=omega,
    )  # fmt: skip
    cosine = RingWave(
        peak=float(peak * np.sin(angle)), scale=1.0, front=10e-6, tail=1e3,
        angular_frequency=omega,
    )  # fmt: skip
    return Network(
        title="mains",
        waveform=pulse,
        elements=(
            CurrentSource(name="J", a=GROUND, b="gap", waveform=pulse),
            VoltageSource(name="sine", a="half", b=GROUND, waveform=sine),
            VoltageSource(name="cosine", a="mains", b="half", waveform=cosine),
            Resistor(name="R", a="mains", b="middle", resistance=ohm),
            Inductor(name="L", a="middle", b="gap", inductance=henry),
            Resistor(name="damping", a="middle", b="gap", resistance=1e5),
            Resistor(name="load", a="gap", b=GROUND, resistance=500.0),
            Resistor(name="input", a="gap", b="body", resistance=20.0),
            Capacitor(name="C", a="body", b=GROUND, capacitance=47e-9),
            SparkGap(name="tube", a="gap", b=GROUND, law=law),
        ),
    )
