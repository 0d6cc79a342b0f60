"""Spark gaps: whether, when and at which voltage they fire, and whether they go out again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from surgesim.findings.record import Array, Record, integral, signed_extreme
from surgesim.network.elements import SparkGap

DYING = 0.05
"""Share of its current that a gap must lose over the last tenth of a record to count as dying
down. An impulse's tail loses a third; what a supply drives through an arc loses nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DischargeFinding:
    """What a gap did in one case; voltages in V, signed where they are readings, times in s.

    ``static_v`` is the level it was taken at. ``sparkover_v`` is the extreme across it until it
    ``fired_at_s``, ``arc_v`` its voltage after that, weighed by its current; all None for one that
    did not fire. ``out_at_s`` is when it last carried what keeps a glow, None while it
    ``conducts_a`` at the record's end, where ``follows`` says that this current does not die
    down: the supply feeds it.
    """

    static_v: float
    fired: bool
    fired_at_s: float | None = None
    sparkover_v: float | None = None
    arc_v: float | None = None
    out_at_s: float | None = None
    conducts_a: float | None = None
    follows: bool = False


def measure_discharge(gap: SparkGap, record: Record, *, endless: bool) -> DischargeFinding:
    """What a gap did over the whole record. Of an ``endless`` surge no current is the supply's."""
    volts, grown = record.across(gap.a, gap.b), record.at(f"{gap.name}/state")
    lit = np.flatnonzero(grown > gap.law.lit)
    if not lit.size:
        return DischargeFinding(static_v=gap.law.sparkover, fired=False)
    amps = np.asarray(gap.law.current(volts, grown))
    first, end = int(lit[0]), len(grown) - 1
    burns = np.flatnonzero((grown > gap.law.lit) & (np.abs(amps) > gap.law.glow_current))
    last = int(burns[-1]) if burns.size else first
    after = slice(first, last + 1)
    charge = integral(np.abs(amps[after]), record.time[after])
    spent = integral(np.abs(volts[after] * amps[after]), record.time[after])
    burning = last == end
    return DischargeFinding(
        static_v=gap.law.sparkover,
        fired=True,
        fired_at_s=float(record.time[first]),
        sparkover_v=signed_extreme(volts[: first + 1]),
        arc_v=spent / charge if charge > 0.0 else None,
        out_at_s=None if burning else float(record.time[last]),
        conducts_a=float(amps[end]) if burning else None,
        follows=burning and not endless and _lasts(record.time, amps),
    )


def _lasts(time: Array, amps: Array) -> bool:
    before = float(np.interp(0.9 * time[-1], time, np.abs(amps)))
    return bool(abs(amps[-1]) > (1.0 - DYING) * before)


def gap_notes(label: str, found: DischargeFinding | None) -> Iterator[str]:
    """What a case says of a gap that does not go out."""
    if found is not None and found.follows and found.conducts_a is not None:
        yield (
            f"{label}: still conducts {abs(found.conducts_a):.3g} A at the end of the window, and"
            " no less as time goes on: the supply feeds its arc, which it does not put out"
        )
