"""What stands before and behind an arrester: its fuse, and another arrester."""

from __future__ import annotations

import numpy as np

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    CurrentSource,
    Inductor,
    Resistor,
    Varistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers
from surgesim.physics.waveforms import CubicExponential, Heidler, Waveform
from tests.verification.circuits import US, Claim

COMPUTED = "computed independently of both, no publication"


def claims() -> list[Claim]:
    """A fuse's I2t, and the shares of two varistors 10 uH apart."""
    return [_fuse(), *_cascade()]


def _injected(waveform: Waveform, *elements: AnyElement) -> Network:
    source = CurrentSource(name="J", a=GROUND, b="top", waveform=waveform)
    return Network(title="check", elements=(source, *elements), waveform=waveform)


def _fuse() -> Claim:
    circuit = _injected(
        CubicExponential(peak=1e3, scale=0.01243e18, time_constant=3.911 * US),
        Ammeter(name="fuse", a="top", b="cold"),
        Resistor(name="element", a="cold", b="middle", resistance=1.1e-3),
        Inductor(name="base", a="middle", b=GROUND, inductance=100e-9),
    )
    return Claim(
        name="I2t that 8/20 drives through a fuse", source="720 A^2 (tau/2)^7, closed form",
        published=12.164, unit="A2s/kA2", tolerance=0.001, circuit=circuit, stop=100 * US,
        reason="rounding of the formula's constants",
        read=lambda waves: float(np.trapezoid(waves.currents["fuse"] ** 2, waves.time)),
    )  # fmt: skip


def _varistor(share: float, amps: float, level: float) -> VaristorLaw:
    return fit_three_numbers(
        reference_voltage=430.0 * share, nominal_current=amps, level=level * share
    )


def _pair(waveform: Waveform, share: float) -> Network:
    """An upstream varistor of ``share`` times the downstream one's 430 V at 1 mA."""
    return _injected(
        waveform,
        # a path for direct current, which the varistors' own leakage is not
        Resistor(name="leak", a="top", b=GROUND, resistance=1e6),
        Ammeter(name="upstream", a="top", b="first"),
        Varistor(name="U", a="first", b=GROUND, law=_varistor(share, 20e3, 1350.0)),
        Resistor(name="R", a="top", b="middle", resistance=10e-3),
        Inductor(name="L", a="middle", b="end", inductance=10e-6),
        Ammeter(name="downstream", a="end", b="second"),
        Varistor(name="D", a="second", b=GROUND, law=_varistor(1.0, 3e3, 2.3 * 430.0)),
    )


def _share_of_energy(waves: Waveforms) -> float:
    """What the downstream varistor takes of the energy of both, percent."""
    up, down = (
        float(np.trapezoid(waves.at(node) * waves.currents[meter], waves.time))
        for node, meter in (("top", "upstream"), ("end", "downstream"))
    )
    return 100.0 * down / (up + down)


def _let_through(waves: Waveforms) -> float:
    return float(np.max(waves.at("end")) / np.max(waves.at("top")))


def _cascade() -> list[Claim]:
    short = CubicExponential(peak=5e3, scale=0.01243e18, time_constant=3.911 * US)
    long = Heidler(peak=2.5e3, correction=0.93, front=19 * US, tail=485 * US, exponent=10.0)
    made = []
    for waveform, shape, stop, share, energy in (
        (short, "8/20", 100 * US, 0.85, 5.2),
        (short, "8/20", 100 * US, 1.0, 10.5),
        (short, "8/20", 100 * US, 1.2, 14.8),
        (long, "10/350", 2500 * US, 0.85, 6.0),
        (long, "10/350", 2500 * US, 1.0, 31.4),
        (long, "10/350", 2500 * US, 1.2, 69.8),
    ):
        made.append(
            Claim(
                name=f"Two varistors 10 uH apart, {shape}, upstream {share:g} of downstream: "
                "energy downstream",
                source=COMPUTED, published=energy, unit="%", tolerance=1.0 / energy,
                circuit=_pair(waveform, share), stop=stop, read=_share_of_energy,
                reason="one in a hundred of the energy: the downstream level is rounded",
            )
        )  # fmt: skip
    for share, ratio in ((0.85, 0.850), (1.0, 0.775), (1.2, 0.698)):
        made.append(
            Claim(
                name=f"The same, 8/20, upstream {share:g} of downstream: voltage over upstream",
                source=COMPUTED, published=ratio, unit="", tolerance=0.02,
                circuit=_pair(short, share), stop=100 * US, read=_let_through,
                reason="the downstream level is rounded",
            )
        )  # fmt: skip
    return made
