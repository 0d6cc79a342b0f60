"""What becomes of each alternative once one of its arresters has failed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import Record, View, severity

TITLE = "What if an arrester has failed"
ASIDE = "one element at a time, in the case on which the verdict rests"
NOTE = (
    "Open: taken off by its disconnector at the end of its life. Shorted: punctured, on its bar. Of"
    " each the element whose failure is worst, and the terminal then nearest to its limit. The"
    " verdicts above are those with every element sound. By the second solver."
)


def table(view: View) -> Iterator[RenderableType]:
    """A group an alternative: as it is, the worst element open, the worst element shorted."""
    told = view.findings["failed_arresters"]
    if not told["alternatives"]:
        return
    yield heading(TITLE, aside=ASIDE)
    heads = ["element", "verdict", "peak", "limit", "margin", "at"]
    groups = [
        Rows(
            name=_label(entry, view),
            cells=[
                _cells("all sound", entry["sound"]),
                *(_cells(_name(one), one) for one in _worst(entry["failed"])),
            ],
        )
        for entry in told["alternatives"]
    ]
    yield from grouped_table(heads, groups)
    yield from (paragraph(text) for text in _without_result(told))
    yield paragraph(NOTE)


def _label(entry: Record, view: View) -> str:
    levels = [level for level in entry["axes"].values() if level is not None]
    return ", ".join(levels) or str(view.findings["scenario"]["title"])


def _worst(failed: Sequence[Record]) -> Iterator[Record]:
    for how in ("open", "shorted"):
        mine = [one for one in failed if one["how"] == how and one["reason"] is None]
        if mine:
            yield max(mine, key=_badness)


def _badness(one: Record) -> tuple[int, float]:
    margin = one["margin_percent"]
    return severity(one["verdict"]), -(-100.0 if margin is None else float(margin))


def _name(one: Record) -> str:
    return f"{one['slot']}, {one['element']}: {one['how']}"


def _cells(name: str, one: Record) -> list[str]:
    if one["reason"] is not None:
        return [name, "no result", *[numbers.ABSENT] * 4]
    fires = one["peak_v"] is None
    void = one["verdict"] == "void"
    return [
        name,
        str(one["verdict"]),
        "fires" if fires else numbers.apart(abs(one["peak_v"]), one["withstand_v"], "V"),
        numbers.stated(one["withstand_v"], "V"),
        numbers.ABSENT if fires or void else numbers.margin(one["margin_percent"]),
        f"{one['equipment']}, {one['pair']}",
    ]


def _without_result(told: Record) -> list[str]:
    lines = [
        f"{_name(one)} ({entry['case']}): no result: {one['reason']}"
        for entry in told["alternatives"]
        for one in entry["failed"]
        if one["reason"] is not None
    ]
    return list(dict.fromkeys(lines))
