"""The numerical error of each peak and charge: how large, and how it was got.

An error is in percent of its own value. A value below a hundredth of the largest of its kind in
the case (voltages, currents, charges) is held to that hundredth instead: what is left of two
cancelling kilovolts is no number to have an error of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeVar

from surgesim.engine.writer import LESS_CLOSE, OPTIONS, OTHER_WAY
from surgesim.findings.estimates import (
    COLLAPSE,
    LESS_CLOSELY,
    NOT_CLOSELY,
    TABLE,
    TABLE_CURRENT,
    Series,
    charge_error,
    peak_error,
)
from surgesim.findings.record import Array, Record
from surgesim.network.circuit import Network
from surgesim.network.probes import ArresterProbe, EarthProbe, TerminalProbe
from surgesim.network.waveforms import Waveforms

How = Literal["estimated", "certified"]

TERMINAL_FIELDS = ("peak_v", "to_bar_v", "to_remote_earth_v")
ARRESTER_FIELDS = ("peak_a", "residual_v", "charge_c")
EARTH_FIELDS = ("rise_v", "peak_a", "charge_c")
FIELDS: Mapping[str, tuple[str, ...]] = {
    "terminals": TERMINAL_FIELDS,
    "arresters": ARRESTER_FIELDS,
    "earths": EARTH_FIELDS,
}
"""What of each section of a case has a numerical error, by the name of its field."""

FLOOR = 0.01
"""Share of the largest of its kind that a small value is held to."""

Finding = TypeVar("Finding")


@dataclass(frozen=True, slots=True, kw_only=True)
class NumericalError:
    """Errors in percent by field; None for a value that is none, or whose error is unknown.

    ``estimated`` from the one run's own waveforms (:mod:`surgesim.findings.estimates`), or
    ``certified`` by running the case again (:mod:`surgesim.findings.certified`).
    """

    how: How
    percent: Mapping[str, float | None]


NOT_ESTIMATED = NumericalError(how="estimated", percent={})
"""Of a finding by itself: what a value is small beside only the whole case tells."""


def estimates(network: Network, record: Record) -> Mapping[str, list[dict[str, float]]]:
    """For each section of a case, and each probe there, the error bound of each field, SI units."""
    return {
        "terminals": [_of_terminal(probe, record) for probe in network.terminals],
        "arresters": [_of_arrester(probe, record) for probe in network.arresters],
        "earths": [_of_earth(probe, record) for probe in network.earths],
    }


def estimated(
    sections: Mapping[str, Sequence[Any]],
    bounds: Mapping[str, list[dict[str, float]]],
    *,
    collapse: float = 0.0,
) -> Mapping[str, list[NumericalError]]:
    """The errors of a case's findings from the bounds of :func:`estimates`.

    ``collapse`` is the share of everything that a flashover leaves open: :func:`after_collapse`.
    """
    scales = floors(sections)
    return {
        section: [
            NumericalError(
                how="estimated",
                percent={
                    field: _percent(
                        finding, field, bounds[section][k][field], scales, collapse=collapse
                    )
                    for field in FIELDS[section]
                },
            )
            for k, finding in enumerate(findings)
        ]
        for section, findings in sections.items()
    }


def after_collapse(front: Waveforms) -> float:
    """Share of everything that may be off once insulation has fired, by how the front was run."""
    known = {LESS_CLOSE: LESS_CLOSELY, OPTIONS["front"]: NOT_CLOSELY}
    return known.get(front.options.removesuffix(OTHER_WAY), COLLAPSE)


def floors(sections: Mapping[str, Sequence[Any]]) -> Mapping[str, float]:
    """For V, A and C the size below which a value is held to it."""
    largest: dict[str, float] = {"v": 0.0, "a": 0.0, "c": 0.0}
    for section, findings in sections.items():
        for finding in findings:
            for field in FIELDS[section]:
                value = getattr(finding, field)
                if value is not None:
                    kind = field[-1]
                    largest[kind] = max(largest[kind], abs(value))
    return {kind: FLOOR * size for kind, size in largest.items()}


def in_percent(error: float, value: float, field: str, scales: Mapping[str, float]) -> float:
    """An error in the value's unit as percent of it, or of what it is held to."""
    scale = max(abs(value), scales[field[-1]])
    return 100.0 * error / scale if scale > 0.0 else 0.0


def of_the_tables(value: float, field: str, scales: Mapping[str, float]) -> float:
    """What the engine's table of a varistor may put a value off, percent; no step changes it."""
    share = TABLE if field[-1] == "v" else TABLE_CURRENT
    return in_percent(share * abs(value), value, field, scales)


def with_errors(
    findings: Iterable[Finding], errors: Iterable[NumericalError]
) -> tuple[Finding, ...]:
    """The findings, each with its error."""
    pairs = zip(findings, errors, strict=True)
    return tuple(replace(finding, numerical_error=error) for finding, error in pairs)  # type: ignore[type-var]


def _percent(
    finding: Any, field: str, bound: float, scales: Mapping[str, float], *, collapse: float
) -> float | None:
    value = getattr(finding, field)
    if value is None:
        return None
    tables = of_the_tables(value, field, scales)
    return tables + in_percent(bound + collapse * abs(value), value, field, scales)


def _of_terminal(probe: TerminalProbe, record: Record) -> dict[str, float]:
    front, tail = record.front, record.tail
    pair = peak_error(
        _series(record, front.across(probe.a, probe.b), tail.across(probe.a, probe.b))
    )
    bar = 0.0
    if probe.bar is not None:
        to_bar = front.across(probe.a, probe.bar), tail.across(probe.a, probe.bar)
        bar = pair if probe.bar == probe.b else peak_error(_series(record, *to_bar))
    earth = peak_error(_series(record, front.at(probe.a), tail.at(probe.a)))
    return {"peak_v": pair, "to_bar_v": bar, "to_remote_earth_v": earth}


def _of_arrester(probe: ArresterProbe, record: Record) -> dict[str, float]:
    front, tail = record.front, record.tail
    amps = _series(record, front.currents[probe.ammeter], tail.currents[probe.ammeter])
    volts = _series(record, front.across(probe.a, probe.b), tail.across(probe.a, probe.b))
    errors = peak_error(amps), peak_error(volts), charge_error(amps)
    return dict(zip(ARRESTER_FIELDS, errors, strict=True))


def _of_earth(probe: EarthProbe, record: Record) -> dict[str, float]:
    front, tail = record.front, record.tail
    amps = _series(record, front.currents[probe.ammeter], tail.currents[probe.ammeter])
    volts = _series(record, front.at(probe.node), tail.at(probe.node))
    errors = peak_error(volts), peak_error(amps), charge_error(amps)
    return dict(zip(EARTH_FIELDS, errors, strict=True))


def _series(record: Record, front: Array, tail: Array) -> Series:
    return Series(record.front.time, front, record.tail.time, tail)
