"""What each terminal pair sees, held against its limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from surgesim.findings.edge import peak_reached
from surgesim.findings.insulation import Flashover
from surgesim.findings.measured import Measured
from surgesim.findings.numerical import NOT_ESTIMATED, NumericalError
from surgesim.findings.record import Record, crest, signed_extreme, time_above_half
from surgesim.findings.verdicts import Verdict, margin_percent, terminal_verdict
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.network.waveforms import Window

NEGLIGIBLE = 0.01
"""Share of the limit below which a voltage still rising at the end is not worth refusing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulationFinding:
    """The pair's own insulation: its level in V, and when (s) and from which voltage it fired."""

    level_v: float
    fired: bool
    fired_at_s: float | None
    fired_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalFinding:
    """One terminal pair in one case; voltages in V, signed, times in s.

    ``peak_v`` and everything read at it are None when the pair's own insulation fired: what
    the voltage would have been is then nobody's knowledge. ``ratio`` is limit over peak;
    ``asked_percent`` the margin asked of this pair. ``could_be`` are the other verdicts that the
    numerical error of the peak allows.
    """

    equipment: str
    pair: str
    place: str
    peak_v: float | None
    time_s: float | None
    window: Window | None
    above_half_s: float | None
    bias_v: float
    withstand_v: float
    limit: Limit
    ratio: float | None
    margin_percent: float | None
    asked_percent: float
    to_bar_v: float | None
    to_remote_earth_v: float | None
    insulation: InsulationFinding | None
    conditional_on: tuple[str, ...] = ()
    verdict: Verdict
    numerical_error: NumericalError = NOT_ESTIMATED
    could_be: tuple[Verdict, ...] = ()


def measure_terminal(
    probe: TerminalProbe, record: Record, *, flashover: Flashover | None, asked_percent: float
) -> TerminalFinding:
    """The finding on a pair by itself, before anything else of the case is considered."""
    asked_percent = asked_of(probe.limit, asked_percent)
    volts = record.across(probe.a, probe.b)
    fired = flashover is not None
    peak_index = None if fired else crest(volts)
    peak = None if peak_index is None else float(volts[peak_index])
    ratio = _ratio(probe.limit.volts, peak)
    return TerminalFinding(
        equipment=probe.equipment,
        pair=probe.pair,
        place=probe.place,
        peak_v=peak,
        time_s=None if peak_index is None else float(record.time[peak_index]),
        window=None if peak_index is None else record.window_at(peak_index),
        above_half_s=(
            None if peak_index is None else time_above_half(volts, record.time, peak_index)
        ),
        bias_v=float(volts[0]),
        withstand_v=probe.limit.volts,
        limit=probe.limit,
        ratio=ratio,
        margin_percent=margin_percent(ratio),
        asked_percent=asked_percent,
        to_bar_v=(
            None
            if fired or probe.bar is None
            else signed_extreme(record.across(probe.a, probe.bar))
        ),
        to_remote_earth_v=None if fired else signed_extreme(record.at(probe.a)),
        insulation=_insulation(probe, flashover),
        verdict=terminal_verdict(
            fired=fired, ratio=ratio, asked_percent=asked_percent, conditional=False
        ),
    )


def reached(probe: TerminalProbe, record: Record) -> Measured:
    """Whether the pair's voltage has seen its peak within the record."""
    return peak_reached(
        record.time,
        record.across(probe.a, probe.b),
        negligible=NEGLIGIBLE * probe.limit.volts,
        unit="V",
        where=f"{probe.equipment}, {probe.pair}",
    )


def asked_of(limit: Limit, asked_percent: float) -> float:
    """The margin asked of a pair, percent: that of the study for an impulse withstand.

    The 0.8 Uw rule speaks of rated impulse voltages. A highest voltage has no impulse rating
    to keep away from, and a standing voltage near it is what the equipment is made for: it is
    asked only not to be exceeded.
    """
    return asked_percent if limit.kind == "withstand" else 0.0


def conditioned(finding: TerminalFinding, conditions: Sequence[str]) -> TerminalFinding:
    """The same finding with what it stands on: everything else that failed in the case."""
    verdict = terminal_verdict(
        fired=finding.insulation is not None and finding.insulation.fired,
        ratio=finding.ratio,
        asked_percent=finding.asked_percent,
        conditional=bool(conditions),
    )
    return replace(finding, conditional_on=tuple(conditions), verdict=verdict)


def within_its_error(finding: TerminalFinding) -> TerminalFinding:
    """The same finding with the other verdicts that a peak off by its error would have.

    With the larger peak the pair's own insulation may fire, and that counts as exceeded.
    """
    percent = finding.numerical_error.percent.get("peak_v")
    if finding.peak_v is None or percent is None:
        return finding
    sizes = [abs(finding.peak_v) * (1.0 + sign * percent / 100.0) for sign in (-1.0, 1.0)]
    verdicts = dict.fromkeys(_verdict_at(max(size, 0.0), finding) for size in sizes)
    return replace(finding, could_be=tuple(v for v in verdicts if v != finding.verdict))


def _verdict_at(size: float, finding: TerminalFinding) -> Verdict:
    insulation = finding.insulation
    return terminal_verdict(
        fired=insulation is not None and size > insulation.level_v,
        ratio=_ratio(finding.withstand_v, size),
        asked_percent=finding.asked_percent,
        conditional=bool(finding.conditional_on),
    )


def _ratio(limit: float, peak: float | None) -> float | None:
    """Limit over peak; None without a peak, and for one so small that the ratio has no number."""
    if peak is None or peak == 0.0:
        return None
    ratio = limit / abs(peak)
    return ratio if math.isfinite(ratio) else None


def _insulation(probe: TerminalProbe, flashover: Flashover | None) -> InsulationFinding | None:
    if probe.flashover is None:
        return None
    return InsulationFinding(
        level_v=probe.flashover,
        fired=flashover is not None,
        fired_at_s=flashover.at if flashover else None,
        fired_v=flashover.volts if flashover else None,
    )
