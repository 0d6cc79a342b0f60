"""How a stroke divides between the earth of what it strikes and the services that leave it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from surgesim.build import build
from surgesim.catalogue.cards import SurgeShape
from surgesim.catalogue.library import built_in
from surgesim.findings.record import Record
from surgesim.findings.split import measure_split
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource, Resistor
from surgesim.network.waveforms import Waveforms
from surgesim.scenario.file import loads
from tests.verification.circuits import US, Claim

MAST = """
surgesim: 1
title: Mast
site: {soil: 100 ohm m}
places: {mast: {}, shed: {}, house: {}}
cables:
  to the shed:  {from: mast, to: shed,  length: 20 m, type: copper 16 mm2, laying: in air 3 m high}
  to the house: {from: mast, to: house, length: 20 m, type: copper 16 mm2, laying: in air 3 m high}
earths:
  ring:  {at: mast,  bar: pe, measured: 4 ohm, inductance: 2 uH}
  shed:  {at: shed,  bar: pe, measured: 8 ohm, inductance: 2 uH}
  house: {at: house, bar: pe, measured: 8 ohm, inductance: 2 uH}
equipment: {radio: {at: mast, not assessed: no ports described}}
surges: {struck: {shape: LPL I first positive, into: mast pe, returns: remote earth}}
"""


SERVICE = """
surgesim: 1
title: House
site: {{soil: 100 ohm m}}
places: {{house: {{}}, street: {{}}}}
cables:
  l1: {{from: house, to: street, length: 20 m, type: copper 16 mm2, laying: in air 3 m high}}
  l2: {{from: house, to: street, length: 20 m, type: copper 16 mm2, laid with: l1}}
  l3: {{from: house, to: street, length: 20 m, type: copper 16 mm2, laid with: l1}}
  n:  {{from: house, to: street, length: 20 m, type: copper 16 mm2, laid with: l1}}
earths:
  foundation:  {{at: house,  bar: pe, measured: 10 ohm, inductance: 5 uH}}
  transformer: {{at: street, bar: pe, measured: 10 ohm, inductance: 2 uH}}
equipment: {{board: {{at: house, not assessed: no ports described}}}}
surges: {{struck: {{shape: {level} first positive, into: house pe, returns: remote earth}}}}
"""


def _conductors() -> list[Claim]:
    """Half of a stroke leaves by a service of four conductors, each tied to the bar."""

    def claim(level: str, peak: float, published: float) -> Claim:
        (case,) = loads(SERVICE.format(level=level)).all_cases
        circuit = build(case.scenario)

        def read(waves: Waveforms) -> float:
            found = measure_split(circuit, Record(waves, waves))
            assert found is not None
            shares = {way.name: way.share[2] for way in found.ways}
            late = [shares[name] for name in ("l1", "l2", "l3", "n")]
            return peak * sum(share for share in late if share is not None) / len(late)

        return Claim(
            name=f"{level}, half of it into a service of four conductors: mean of each",
            published=published, unit="kA", tolerance=0.03, reason="some inductance left",
            source="IEC 62305-1:2010 Annex E, from memory", circuit=circuit, stop=130 * US,
            read=read,
        )  # fmt: skip

    return [
        claim("LPL I", 200.0, 25.0), claim("LPL II", 150.0, 18.75), claim("LPL III", 100.0, 12.5)
    ]  # fmt: skip


def _levels() -> list[Claim]:
    """The strokes of the protection levels through 1 ohm: charge and specific energy."""

    def circuit(level: str) -> Network:
        card = built_in()[f"{level} first positive"]
        assert isinstance(card, SurgeShape)
        assert card.peak is not None
        shape = card.waveform(card.peak.value)
        source = CurrentSource(name="J", a=GROUND, b="top", waveform=shape)
        ohm = Resistor(name="R", a="top", b=GROUND, resistance=1.0)
        return Network(title="check", elements=(source, ohm), waveform=shape)

    def charge(waves: Waveforms) -> float:
        return float(np.trapezoid(waves.at("top"), waves.time))

    def energy(waves: Waveforms) -> float:
        return float(np.trapezoid(waves.at("top") ** 2, waves.time)) / 1e6

    source = "IEC 62305-1:2010 Table 3"
    why = "Annex B's constants come out 2.75 % above 10 MJ; 5.625 is printed as 5.6"
    return [
        Claim(
            name=f"{level} first positive through 1 ohm: {quantity}", source=source,
            published=published, unit=unit, tolerance=0.04, reason=why, circuit=circuit(level),
            stop=3500 * US, read=read,
        )
        for level, coulomb, joule in (
            ("LPL I", 100.0, 10.0), ("LPL II", 75.0, 5.6), ("LPL III", 50.0, 2.5)
        )
        for quantity, published, unit, read in (
            ("charge", coulomb, "C", charge), ("energy", joule, "MJ", energy)
        )
    ]  # fmt: skip


def claims() -> list[Claim]:
    """Every claim about how a stroke divides, and of the strokes themselves."""
    return [*_earth_and_services(), *_conductors(), *_levels()]


def _earth_and_services() -> list[Claim]:
    """Z = 4 ohm of the mast, Z1 = 8 ohm of either service, 100 us after a 10/350 began."""
    (case,) = loads(MAST).all_cases
    circuit = build(case.scenario)

    def share(name: str) -> Callable[[Waveforms], float]:
        def read(waves: Waveforms) -> float:
            found = measure_split(circuit, Record(waves, waves))
            assert found is not None
            late = {way.name: way.share[2] for way in found.ways}[name]
            assert late is not None
            return 100.0 * late

        return read

    source, why = (
        "ke = Z/(Z1 + Z n1), IEC 62305-1:2010 Annex E, from memory",
        "some inductance left",
    )
    return [
        Claim(
            name="Stroke on 4 ohm with two services to 8 ohm: into the earth", published=50.0,
            unit="%", source=source, tolerance=0.03, reason=why, circuit=circuit, stop=130 * US,
            read=share("ring"),
        ),
        Claim(
            name="the same: along one service", published=25.0, unit="%", source=source,
            tolerance=0.03, reason=why, circuit=circuit, stop=130 * US, read=share("to the shed"),
        ),
    ]  # fmt: skip
