"""What the arresters of an alternative share between them, and how long they last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import Record, View

SHARED = "Who carries what"
SHARED_ASIDE = "energy of each arrester, in the case of each surge in which they take most"
LASTS = "Do the arresters last"
LASTS_ASIDE = "the hardest worked element of each arrester"
LASTS_NOTE = (
    "Every event counts as large as its surge, in the worst case. N pulses of a share s of"
    " the rating use an arrester up, N = s^-m, m 3.5; the spread is m from 2.5 to 4 and a flash"
    " density within a factor of two (from memory; no source). Beyond its rating one does."
)
LONG = 1000.0
"""Years beyond which the number says no more."""


def shared(view: View) -> Iterator[RenderableType]:
    """Energies of the slots side by side, of every alternative that has two or more."""
    groups = []
    for entry in view.entries:
        rows = list(_rows(view.cases_of(entry)))
        if rows:
            groups.append(Rows(name=_label(entry, view), cells=rows))
    if groups:
        yield heading(SHARED, aside=SHARED_ASIDE)
        yield from grouped_table(["arrester", "energy", "of all", "current"], groups)


def _rows(cases: Sequence[Record]) -> Iterator[list[str]]:
    most: dict[str, tuple[float, Record]] = {}
    for case in cases:
        total = sum(_energies(case).values())
        if len(_energies(case)) > 1 and total > most.get(case["surge"], (0.0, case))[0]:
            most[case["surge"]] = total, case
    for surge, (total, case) in most.items():
        for slot, energy in _energies(case).items():
            amps = max(
                abs(record["peak_a"]) for record in case["arresters"] if record["name"] == slot
            )
            yield [
                f"{slot}; {surge}", numbers.quantity(energy, "J"),
                f"{100.0 * energy / total:.0f} %", numbers.quantity(amps, "A"),
            ]  # fmt: skip


def _energies(case: Record) -> dict[str, float]:
    """Of each slot what its elements took; one that only lent and got back took nothing."""
    found: dict[str, float] = {}
    for record in case["arresters"]:
        found[record["name"]] = found.get(record["name"], 0.0) + max(record["energy_j"], 0.0)
    return found


def lasting(view: View) -> Iterator[RenderableType]:
    """How many years each arrester of each alternative stands; nothing where no surge says how
    often it happens."""
    groups = []
    for entry in view.entries:
        hardest: dict[str, Record] = {}
        for record in entry.get("life") or ():
            hardest.setdefault(record["name"], record)
        if hardest:
            cells = [_life_cells(record) for record in hardest.values()]
            groups.append(Rows(name=_label(entry, view), cells=cells))
    if groups:
        yield heading(LASTS, aside=LASTS_ASIDE)
        heads = ["element; what uses it up", "per year", "takes", "pulses", "years"]
        yield from grouped_table(heads, groups)
        yield paragraph(LASTS_NOTE)


def _life_cells(record: Record) -> list[str]:
    pulses = record["pulses"]
    return [
        f"{record['name']}, {record['element']}; {record['surge']}",
        f"{record['events_per_year']:.2g}",
        numbers.share(record["share"]),
        numbers.ABSENT if pulses is None else _count(pulses),
        _years(record),
    ]


def _count(number: float) -> str:
    return ">10000" if number > 1e4 else f"{float(f'{number:.2g}'):.15g}"


def _years(record: Record) -> str:
    low, high = record["years_low"], record["years_high"]
    if low is None or low > LONG:
        return f">{LONG:g}"
    top = f">{LONG:g}" if high is None or high > LONG else _figure(high)
    return f"{_figure(record['years'])} ({_figure(low)} to {top})"


def _figure(years: float | None) -> str:
    return f">{LONG:g}" if years is None or years > LONG else f"{float(f'{years:.2g}'):.15g}"


def _label(entry: Record, view: View) -> str:
    return "" if len(view.entries) == 1 else view.label(entry)
