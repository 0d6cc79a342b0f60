"""What spark gaps did, one line each: fired or not, from which voltage, and when they went out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from surgesim.report import numbers
from surgesim.report.view import Record


def discharges(records: Sequence[Record]) -> Iterator[str]:
    """One sentence for each arrester element that is a gap."""
    for record in records:
        found = record.get("discharge")
        if found:
            yield f"{record['name']}, {record['element']}: {_did(found)}."


def _did(found: Record) -> str:
    if not found["fired"]:
        return f"did not fire (static level {numbers.quantity(found['static_v'], 'V')})"
    at = numbers.quantity(found["fired_at_s"], "s")
    told = f"fired at {at} from {numbers.quantity(abs(found['sparkover_v']), 'V')}"
    if found["arc_v"] is not None:
        told += f", {numbers.quantity(found['arc_v'], 'V')} across it after that"
    return f"{told}; {_end(found)}"


def _end(found: Record) -> str:
    if found["conducts_a"] is None:
        return f"out after {numbers.quantity(found['out_at_s'], 's')}"
    still = f"still conducts {numbers.quantity(abs(found['conducts_a']), 'A')} at the end"
    if found["follows"]:
        return f"{still}, fed by the supply: it stays alight"
    return f"{still}, falling"
