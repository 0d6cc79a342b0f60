"""Devices of several elements: what stands between their own terminals, mode by mode."""

from __future__ import annotations

from dataclasses import dataclass

from surgesim.findings.record import Record, crest
from surgesim.network.probes import ModeProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeFinding:
    """One mode of a device in one case: the extreme between two of its terminals, signed, V.

    Its leads are not in it. ``level_v`` is the printed Up of every mode, None where its card has
    none: a level at the nominal current, not a limit.
    """

    name: str
    mode: str
    card: str
    place: str
    residual_v: float
    time_s: float
    standing_v: float
    level_v: float | None


def measure_mode(probe: ModeProbe, record: Record) -> ModeFinding:
    """The largest voltage of a mode over the whole record."""
    volts = record.across(probe.a, probe.b)
    at = crest(volts)
    return ModeFinding(
        name=probe.slot, mode=probe.mode, card=probe.card, place=probe.place,
        residual_v=float(volts[at]), time_s=float(record.time[at]),
        standing_v=float(volts[0]), level_v=probe.level,
    )  # fmt: skip
