"""Arrester devices of several elements, mode by mode: what stands between their terminals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import CaseKey, Record, View


def worst_modes(cases: Iterable[Record], view: View) -> list[Record]:
    """Each mode in the case where most stands across it."""
    worst_of = [name for name, axis in view.findings["axes"].items() if axis["role"] == "worst of"]
    found: dict[tuple[str, str], Record] = {}
    for case in cases:
        for mode in case["modes"]:
            key = (mode["name"], mode["mode"])
            known = found.get(key)
            if known is None or abs(mode["residual_v"]) > abs(known["residual_v"]):
                levels = {name: case["axes"].get(name) for name in worst_of}
                found[key] = {**mode, "surge": case["surge"], "worst_of": levels}
    return list(found.values())


def housed(records: Sequence[Record], key: CaseKey | None) -> Iterator[RenderableType]:
    """A table of all modes; nothing where no device has several elements."""
    if not records:
        return
    yield heading("The same arresters, between their own terminals")
    groups = [
        Rows(name=slot, aside=f": {members[0]['card']}", cells=[_cells(m, key) for m in members])
        for slot, found in groupby(records, key=lambda record: str(record["name"]))
        for members in [list(found)]
    ]
    letters = [] if key is None else ["in"]
    heads = ["mode", "residual", "at", "before the surge", "printed Up", *letters]
    yield from grouped_table(heads, groups)
    yield paragraph("Printed Up is at the nominal current, and no limit of what more current does.")


def _cells(record: Record, key: CaseKey | None) -> list[str]:
    level = record["level_v"]
    return [
        record["mode"],
        numbers.signed(record["residual_v"], "V"),
        numbers.quantity(record["time_s"], "s"),
        numbers.signed(record["standing_v"], "V"),
        numbers.ABSENT if level is None else numbers.stated(level, "V"),
        *([] if key is None else [key.letter(record)]),
    ]
