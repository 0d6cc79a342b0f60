"""The surges of a study: each by its figures as measured, and what became of the wirings under it.

The figures are those of the waveform that was used, not of its name: two formulas for 8/20 with
the same T1 and T2 differ by half as much again in steepness.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import VERDICTS, Record, View, badness, severity

_HEADS = ["peak", "T1", "T2", "steepest", "charge", "W/R"]

Shape = tuple[Any, ...]


def table(view: View) -> Iterator[RenderableType]:
    """One group a surge: its figures, then its own result."""
    surges = _by_surge(view)
    if not surges:
        return
    yield heading("Surges", aside="as measured from the waveforms used")
    worst_for = Counter(str((entry.get("worst") or {}).get("surge")) for entry in view.entries)
    groups = [
        Rows(
            name=surge,
            aside=f": {_form(cases[0]['surge_figures'])}",
            cells=_figures(cases),
            notes=[_became(surge, worst_for, view)],
        )
        for surge, cases in surges.items()
    ]
    yield from grouped_table(_HEADS, groups)
    if any(case["surge_figures"]["unit"] == "V" for cases in surges.values() for case in cases):
        yield paragraph(
            "A voltage is the source's own, before anything draws current from it; its charge is "
            "what the installation makes it. A generator's 'short' is its current into a short "
            "behind its coupling network."
        )


def _by_surge(view: View) -> Mapping[str, list[Record]]:
    surges: dict[str, list[Record]] = {}
    for case in view.findings["cases"]:
        surges.setdefault(str(case["surge"]), []).append(case)
    return surges


def _figures(cases: Sequence[Record]) -> list[list[str]]:
    """A row for each set of figures a surge was run with, polarities apart from each other."""
    rows = {tuple(row): None for case in cases for row in _rows(case["surge_figures"])}
    return [list(row) for row in rows]


def _form(figures: Record) -> str:
    generator = figures.get("generator")
    return str(generator["name"] if generator else figures["formula"])


def _rows(figures: Record) -> Iterator[list[str]]:
    """The figures of the surge; of a generator those of its open output and into a short."""
    generator = figures.get("generator")
    peak, *rest = _cells(figures)
    if generator is None:
        yield [peak, *rest]
        return
    yield [f"open {peak}", *rest]
    yield [
        f"short {numbers.signed(generator['short_peak_a'], 'A')}",
        numbers.quantity(generator["short_t1_s"], "s"),
        numbers.quantity(generator["short_t2_s"], "s"),
        numbers.ABSENT,
        numbers.quantity(generator["short_charge_c"], "C"),
        numbers.quantity(generator["short_specific_energy_j_per_ohm"], "J/ohm"),
    ]


def _cells(figures: Record) -> list[str]:
    unit = str(figures["unit"])
    return [
        numbers.signed(figures["peak"], unit),
        numbers.quantity(figures["t1_s"], "s"),
        numbers.quantity(figures["t2_s"], "s"),
        numbers.steepness(figures["steepest_per_s"], unit),
        numbers.quantity(figures["charge_c"], "C"),
        numbers.quantity(figures["specific_energy_j_per_ohm"], "J/ohm"),
    ]


def _became(surge: str, worst_for: Counter[str], view: View) -> str:
    """How the wirings stand under this surge alone, and whether it is the one that decides."""
    if len(view.entries) == 1:
        return _only(surge, view)
    verdicts = [_verdict(entry, surge, view) for entry in view.entries]
    counts = Counter(verdict for verdict in verdicts if verdict)
    told = [f"{word} {counts[word]}" for word in sorted(counts, key=severity)]
    words = f"Of {len(view.entries)} alternatives under it: {', '.join(told)}"
    return f"{words}; it is the worst surge for {worst_for[surge]}."


def _only(surge: str, view: View) -> str:
    """The one wiring's worst terminal under this surge."""
    worst = _worst(view.entries[0], surge, view)
    if worst is None:
        return "No result."
    decides = (view.entries[0].get("worst") or {}).get("surge") == surge
    several = len({case["surge"] for case in view.findings["cases"]}) > 1
    last = "; it is the worst surge" if decides and several else ""
    what = worst["verdict"]
    if what in VERDICTS and what != "void" and worst["margin_percent"] is not None:
        what += f", margin {numbers.margin(worst['margin_percent'])}"
    return f"Worst under it: {worst['equipment']}, {worst['pair']}: {what}{last}."


def _verdict(entry: Record, surge: str, view: View) -> str | None:
    worst = _worst(entry, surge, view)
    return None if worst is None else str(worst["verdict"])


def _worst(entry: Record, surge: str, view: View) -> Record | None:
    """The worst terminal of an alternative under one surge; None where that has no result."""
    records = (
        record
        for case in view.cases_of(entry)
        if case["surge"] == surge
        for record in case["terminals"]
    )
    return max(records, key=badness, default=None)
