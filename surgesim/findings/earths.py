"""How far each electrode's bar rises over remote earth, and what the electrode carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from surgesim.findings.numerical import NOT_ESTIMATED, NumericalError
from surgesim.findings.record import Record, integral, signed_extreme
from surgesim.network.probes import EarthProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthFinding:
    """One electrode in one case: rise in V and peak in A, signed; charge as integral of \\|i\\|.

    ``resistance_ohm`` counts; ``from_shape_ohm`` is what shape and soil give, None where no
    shape is known.
    """

    name: str
    place: str
    resistance_ohm: float
    from_shape_ohm: float | None
    rise_v: float
    peak_a: float
    charge_c: float
    numerical_error: NumericalError = NOT_ESTIMATED


def measure_earth(probe: EarthProbe, record: Record) -> EarthFinding:
    """Extremes and charge of one electrode over the whole record."""
    amps = record.current(probe.ammeter)
    return EarthFinding(
        name=probe.name,
        place=probe.place,
        resistance_ohm=probe.resistance,
        from_shape_ohm=probe.from_shape,
        rise_v=signed_extreme(record.at(probe.node)),
        peak_a=signed_extreme(amps),
        charge_c=integral(np.abs(amps), record.time),
    )
