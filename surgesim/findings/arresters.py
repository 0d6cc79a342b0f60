"""What each arrester element carries, held against what it may bear."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from surgesim.findings.discharges import DischargeFinding, measure_discharge
from surgesim.findings.edge import peak_reached
from surgesim.findings.measured import Measured
from surgesim.findings.numerical import NOT_ESTIMATED, NumericalError
from surgesim.findings.record import Array, Record, crest, integral, signed_extreme
from surgesim.findings.series import SeriesFinding, measure_series
from surgesim.findings.verdicts import Verdict, arrester_verdict
from surgesim.findings.words import moment, percent
from surgesim.network.elements import SparkGap
from surgesim.network.probes import ArresterProbe, Rating

IN_SERIES = "in_series"
"""The share of what a fuse or breaker in front of an element carries without opening."""

PULSE_SHARES = ("peak", "charge", "specific_energy", IN_SERIES)
CONTINUOUS = "continuous"
FOLLOW = "follow_current"
"""Of a gap that the supply keeps alight: its current over the least that keeps an arc."""


UNFINISHED = 0.02
"""Share of the charge still to flow after the record's end beyond which the pulse is not over."""

NEGLIGIBLE = 0.01
"""Share of a rating below which nothing is worth refusing or noting: of the peak, a current
still rising; of the charge, what is still to come."""

LEAST_CURRENT, LEAST_CHARGE = 1.0, 1e-3
"""A and C: as much is negligible whatever the rating."""

LONGEST = 10.0
"""Tenths of the record for which a current that does not die down counts as flowing on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArresterFinding:
    """One element of a fitted arrester in one case; SI units, peaks signed.

    ``charge_c`` integrates \\|i\\|, ``net_charge_c`` i; ``energy_j`` is what went into the
    element, the integral of v i; ``residual_v`` the extreme across it, ``standing_v`` the
    voltage before the surge. ``shares`` are shares of the rating, None where the card gives
    none; ``share_of_rating`` is the largest of the pulse's (see :func:`decisive`). ``could_be``
    are the other verdicts that the numerical errors of peak and charge allow. ``series`` is what
    the fuses or breakers in front of it do, ``discharge`` what a spark gap did, None for anything
    else.
    """

    name: str
    element: str
    card: str
    place: str
    device_class: str
    peak_a: float
    time_s: float
    charge_c: float
    net_charge_c: float
    energy_j: float
    specific_energy_j_per_ohm: float
    residual_v: float
    standing_v: float
    shares: dict[str, float | None]
    share_of_rating: float | None
    rated_by: str | None
    basis: str
    verdict: Verdict
    numerical_error: NumericalError = NOT_ESTIMATED
    could_be: tuple[Verdict, ...] = ()
    series: tuple[SeriesFinding, ...] = ()
    discharge: DischargeFinding | None = None


def measure_arrester(
    probe: ArresterProbe, record: Record, *, gap: SparkGap | None = None, endless: bool = False
) -> ArresterFinding:
    """Peak, charge, energy and shares of one element over the whole record.

    ``gap`` is the element itself where it is one, ``endless`` whether the surge has no end.
    """
    time, amps = record.time, record.current(probe.ammeter)
    volts = record.across(probe.a, probe.b)
    at = crest(amps)
    charge, specific = integral(np.abs(amps), time), integral(amps * amps, time)
    peak, standing = float(amps[at]), float(volts[0])
    shares = _shares(probe.rating, peak, charge, specific, standing)
    series = tuple(measure_series(device, record) for device in probe.series)
    if series:
        shares[IN_SERIES] = max(device.share for device in series)
    discharge = None if gap is None else measure_discharge(gap, record, endless=endless)
    if gap is not None and discharge is not None and discharge.follows:
        shares[FOLLOW] = abs(discharge.conducts_a or 0.0) / gap.law.transition_current
    rated_by = decisive(shares)
    return ArresterFinding(
        name=probe.slot,
        element=probe.element,
        card=probe.card,
        place=probe.place,
        device_class=probe.rating.device_class,
        peak_a=peak,
        time_s=float(time[at]),
        charge_c=charge,
        net_charge_c=integral(amps, time),
        energy_j=integral(volts * amps, time),
        specific_energy_j_per_ohm=specific,
        residual_v=signed_extreme(volts),
        standing_v=standing,
        shares=shares,
        share_of_rating=shares[rated_by] if rated_by else None,
        rated_by=rated_by,
        basis=probe.rating.basis,
        verdict=arrester_verdict(shares),
        series=series,
        discharge=discharge,
    )


def decisive(shares: dict[str, float | None]) -> str | None:
    """Which share stands for the element: the largest of the pulse's shares.

    A gap that does not go out has failed, whatever the pulse was. A correctly chosen arrester
    stands at most of its continuous voltage all its life. That share would drown every pulse, so
    it counts only once it is above 1.
    """
    known = {name: share for name, share in shares.items() if share is not None}
    if known.get(FOLLOW, 0.0) > 1.0:
        return FOLLOW
    pulse = {name: known[name] for name in PULSE_SHARES if name in known}
    if known.get(CONTINUOUS, 0.0) > 1.0 or not pulse:
        pulse = known
    return max(pulse, key=pulse.__getitem__, default=None)


def reached(probe: ArresterProbe, record: Record) -> Measured:
    """Whether the element's current has seen its peak within the record."""
    return peak_reached(
        record.time,
        record.current(probe.ammeter),
        negligible=max(NEGLIGIBLE * (probe.rating.peak or 0.0), LEAST_CURRENT),
        unit="A",
        where=_label(probe),
    )


def charge_over(probe: ArresterProbe, record: Record) -> Measured:
    """What would still flow after the record's end, as a share of the element's charge."""
    time, amps = record.time, record.current(probe.ammeter)
    least = max(NEGLIGIBLE * (probe.rating.charge or 0.0), LEAST_CHARGE)
    whole = max(integral(np.abs(amps), time), least)
    share = _still_to_come(time, np.abs(amps)) / whole
    return Measured(
        name="charge within the window",
        worst=share,
        limit=UNFINISHED,
        unit="share",
        where=_label(probe),
        told=f"{percent(share)} of its charge would still flow after the end of the window "
        f"({moment(time[-1])}), more than {percent(UNFINISHED)}, and decides whether it bears it",
        hint="lengthen the tail window",
    )


def within_its_error(finding: ArresterFinding) -> ArresterFinding:
    """The same finding with the other verdicts that shares off by their errors would have.

    Specific energy, the integral of i squared, is off by at most what peak and charge are
    together. The standing voltage is a state at rest and has no such error.
    """
    percent = finding.numerical_error.percent
    peak, charge = percent.get("peak_a"), percent.get("charge_c")
    if peak is None or charge is None:
        return finding
    off = {"peak": peak, "charge": charge, "specific_energy": peak + charge}
    off[IN_SERIES] = peak + charge
    verdicts = dict.fromkeys(
        arrester_verdict(
            {
                name: None if share is None else share * (1.0 + sign * off.get(name, 0.0) / 100.0)
                for name, share in finding.shares.items()
            }
        )
        for sign in (-1.0, 1.0)
    )
    return replace(finding, could_be=tuple(v for v in verdicts if v != finding.verdict))


def undecided(finding: ArresterFinding, still: float) -> bool:
    """Whether a share of charge still to come, and at most as much of W/R, changes the verdict."""
    borne = [finding.shares[name] or 0.0 for name in ("charge", "specific_energy")]
    borne.append(finding.shares.get(IN_SERIES) or 0.0)
    return finding.verdict == "holds" and max(borne) * (1.0 + still) > 1.0


def _still_to_come(time: Array, size: Array) -> float:
    """Integral of what follows the record.

    The last two tenths extrapolated as a geometric series, which an exponential tail is; a
    current that does not die down counts as flowing on for as long as the record lasted.
    """
    before, last = (
        integral(size[part], time[part])
        for part in (
            (time >= 0.8 * time[-1]) & (time <= 0.9 * time[-1]),
            time >= 0.9 * time[-1],
        )
    )
    if last == 0.0:
        return 0.0
    tenths = min(last / (before - last), LONGEST) if before > last else LONGEST
    return last * tenths


def _label(probe: ArresterProbe) -> str:
    return f"{probe.slot}, {probe.element}"


def _shares(
    rating: Rating, peak: float, charge: float, specific: float, standing: float
) -> dict[str, float | None]:
    return {
        "peak": _share(peak, rating.peak),
        "charge": _share(charge, rating.charge),
        "specific_energy": _share(specific, rating.specific_energy),
        CONTINUOUS: _share(standing, rating.continuous),
        IN_SERIES: None,
        FOLLOW: None,
    }


def _share(value: float, rated: float | None) -> float | None:
    return None if rated is None else abs(value) / rated
