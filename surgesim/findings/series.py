"""What a fuse or breaker in front of an arrester does under a surge: carry it, or open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from surgesim.findings.record import Record, integral
from surgesim.network.probes import SeriesProbe

State = Literal["stays", "may open", "opens"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesFinding:
    """One fuse or breaker in one case.

    ``specific_energy_j_per_ohm`` is the integral of its current squared, which it may not stand
    from ``opens_from`` and does not stand from ``opens_by`` on, A2s; ``share`` is of the former.
    ``from_s`` is when that is reached, None where it is not.
    """

    conductor: str
    what: str
    specific_energy_j_per_ohm: float
    opens_from_a2s: float
    opens_by_a2s: float
    share: float
    state: State
    from_s: float | None


def measure_series(probe: SeriesProbe, record: Record) -> SeriesFinding:
    """The specific energy of its current over the whole record, held against what opens it."""
    time, amps = record.time, record.current(probe.ammeter)
    specific = integral(amps * amps, time)
    share = specific / probe.opens_from
    state: State = "stays"
    if share > 1.0:
        state = "opens" if specific > probe.opens_by else "may open"
    return SeriesFinding(
        conductor=probe.conductor,
        what=probe.what,
        specific_energy_j_per_ohm=specific,
        opens_from_a2s=probe.opens_from,
        opens_by_a2s=probe.opens_by,
        share=share,
        state=state,
        from_s=None if share <= 1.0 else _reached(probe, record),
    )


def _reached(probe: SeriesProbe, record: Record) -> float:
    """When the integral of i squared comes to ``opens_from``, s."""
    time, amps = record.time, record.current(probe.ammeter)
    square = amps * amps
    grown = np.concatenate(([0.0], np.cumsum(np.diff(time) * (square[1:] + square[:-1]) / 2)))
    return float(np.interp(probe.opens_from, grown, time))
