"""Electrodes of a scenario as circuits, against published resistances and impulse coefficients."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from surgesim.build.buried import bare_bond, buried
from surgesim.build.earths import earths
from surgesim.catalogue.cards import Cable, SurgeShape
from surgesim.catalogue.library import built_in
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Step, Waveform
from surgesim.scenario.bonds import Bond
from surgesim.scenario.electrodes import Earth
from surgesim.scenario.schema import Scenario, Site
from tests.verification.circuits import US, Claim, _at

FRONTS = {"10/350": 10 * US, "1/200": 1 * US, "0.25/100": 0.25 * US}
"""T1 of the shapes that coefficients are read at."""


def electrode(
    keys: Mapping[str, object], waveform: Waveform, *, soil: float, front: float
) -> Network:
    """``waveform`` ampere into one earth, at the node ``field/pe``; ``front`` T1 in s."""
    earth = Earth.model_validate({"at": "field", "bar": "pe", **keys})
    site = Scenario.model_construct(
        site=Site.model_validate({"soil": f"{soil:g} ohm m"}),
        earths={"earth": earth},
    )
    (parts,) = earths(site, 1 / (math.pi * front))
    source = CurrentSource(name="J", a=GROUND, b="field/pe", waveform=waveform)
    return Network(title="check", elements=(source, *parts.elements), waveform=waveform)


def wire(length: float, shape: str, *, soil: float) -> Network:
    """1 kA of a shipped shape into the end of a wire 10 mm thick, half a metre deep."""
    strip = {"length": f"{length:g} m", "depth": "0.5 m", "diameter": "10 mm", "joined": "end"}
    card = built_in()[shape]
    assert isinstance(card, SurgeShape)
    keys = {"strip": strip, "inductance": "from its shape"}
    return electrode(keys, card.waveform(1e3), soil=soil, front=FRONTS[shape])


def impulse_coefficient(waves: Waveforms, resistance: float) -> float:
    """Crest of the voltage over 1 kA, over the resistance at rest."""
    return float(np.max(waves.at("field/pe"))) / 1e3 / resistance


def claims() -> list[Claim]:
    """Every claim about an electrode."""
    return [*_resistances(), *_long_wires(), _tape(), *_ionising()]


def _ionising() -> list[Claim]:
    """Of 10 ohm in 100 ohm m, ionising at 400 kV/m."""
    keys = {"measured": "10 ohm", "inductance": "0 H", "ionises at": "400 kV/m"}

    def claim(amps: float, ohm: float) -> Claim:
        return Claim(
            name=f"Ionised soil, 10 ohm in 100 ohm m, at {amps / 1e3:g} kA",
            source="Weck in CIGRE TB 63, R0/sqrt(1 + I/Ig), E0 400 kV/m (from memory)",
            published=ohm, unit="ohm", tolerance=0.001, reason="three digits published",
            circuit=electrode(keys, Step(peak=amps, rise=US), soil=100.0, front=US), stop=4 * US,
            read=lambda waves: float(waves.at("field/pe")[-1]) / amps,
        )  # fmt: skip

    return [claim(5e3, 9.63), claim(30e3, 8.24), claim(100e3, 6.24)]


def _tape() -> Claim:
    """A bond 62 m long, bare 0.6 m deep in 170 ohm m, fed at one end."""
    card = built_in()["copper 50 mm2"]
    assert isinstance(card, Cable)
    bond = Bond.model_validate(
        {"from": "a pe", "to": "b pe", "length": "62 m", "type": "copper 50 mm2",
         "bare in soil": "0.6 m"}
    )  # fmt: skip
    found = buried("tape", bond, card, soil=170.0, front=1 / (math.pi * US))
    parts = bare_bond("tape", found, card, start="a/pe", end="b/pe", joint=0.0)
    shape = Step(peak=1.0, rise=US)
    source = CurrentSource(name="J", a=GROUND, b="a/pe", waveform=shape)
    network = Network(title="check", elements=(source, *parts.elements), waveform=shape)
    return Claim(
        name="Bare tape of 62 m in a trench in 170 ohm m", published=6.0, unit="ohm",
        source="common practice, no source", tolerance=0.1, reason="published as near 6 ohm",
        circuit=network, stop=200 * US, read=_at("a/pe", 200 * US),
    )  # fmt: skip


def _resistances() -> list[Claim]:
    def claim(name: str, source: str, ohm: float, tolerance: float, **keys: object) -> Claim:
        shape = Step(peak=1.0, rise=0.1 * US)
        circuit = electrode({"inductance": "0 H", **keys}, shape, soil=100.0, front=0.1 * US)
        return Claim(
            name=name, source=source, published=ohm, unit="ohm", tolerance=tolerance,
            reason="digits as published", circuit=circuit, stop=2 * US,
            read=_at("field/pe", 2 * US),
        )  # fmt: skip

    rod = {"length": "3 m", "diameter": "16 mm"}
    ieee = "Dwight 1936, IEEE Std 142 (from memory)"
    wire_of = {"depth": "0.5 m", "diameter": "10 mm", "joined": "end"}
    return [
        claim(
            "Rod 10 ft by 3/4 in in 100 ohm m", "MIL-HDBK-419A Vol. II sec. 1.2.2.2", 32.0, 0.01,
            rod={"length": "3.048 m", "diameter": "19.05 mm"},
        ),
        claim(
            "Two rods of 3 m, 6 m apart, in 100 ohm m", ieee, 17.995, 0.001,
            rod={**rod, "count": "2", "spacing": "6 m"},
        ),
        claim(
            "Rod of 1.5 m by 14 mm in 100 ohm m", ieee, 61.05, 0.001,
            rod={"length": "1.5 m", "diameter": "14 mm"},
        ),
        claim(
            "Wire of 10 m, 10 mm, 0.5 m deep, in 100 ohm m", ieee, 14.94, 0.001,
            strip={"length": "10 m", **wire_of},
        ),
        claim(
            "Wire of 20 m, 10 mm, 0.5 m deep, in 100 ohm m", ieee, 8.535, 0.001,
            strip={"length": "20 m", **wire_of},
        ),
        claim(
            "Wire of 50 m, 10 mm, 0.8 m deep, in 100 ohm m", ieee, 3.842, 0.001,
            strip={"length": "50 m", **wire_of, "depth": "0.8 m"},
        ),
    ]  # fmt: skip


def _grcev(length: float, soil: float, front: float) -> float:
    """A = alpha l + beta, at least 1, of a wire of ``length`` m and a front of ``front`` us."""
    product = soil * front
    alpha = 0.025 + math.exp(-0.82 * product**0.257)
    beta = 0.17 + math.exp(-0.22 * product**0.555)
    return max(1.0, alpha * length + beta)


def _long_wires() -> list[Claim]:
    return [
        Claim(
            name=f"Impulse over rest, wire of {length:g} m in {soil:g} ohm m, front {front} us",
            source="Grcev, IEEE Trans. Power Delivery 24(1), 2009 (from memory)",
            published=_grcev(length, soil, FRONTS[shape] / US), unit="", tolerance=0.15,
            reason="a fit to field solutions of wires of several depths and radii",
            circuit=wire(length, shape, soil=soil), stop=6 * FRONTS[shape],
            read=lambda waves, ohm=ohm: impulse_coefficient(waves, ohm),  # type: ignore[misc]
        )
        for length, soil, shape, front, ohm in (
            (20.0, 100.0, "0.25/100", "0.25", 8.535),
            (20.0, 100.0, "1/200", "1", 8.535),
            (20.0, 100.0, "10/350", "10", 8.535),
            (62.0, 1000.0, "0.25/100", "0.25", 33.26),
            (62.0, 1000.0, "1/200", "1", 33.26),
        )
    ]  # fmt: skip
