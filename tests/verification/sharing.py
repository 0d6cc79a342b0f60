"""How a stroke divides between the earth of what it strikes and the services that leave it."""

from __future__ import annotations

from collections.abc import Callable

from surgesim.build import build
from surgesim.findings.record import Record
from surgesim.findings.split import measure_split
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


def claims() -> list[Claim]:
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
