"""The tables of what arresters share, and of how long they last."""

from __future__ import annotations

import io
from typing import Any

from rich.console import Console, RenderableType

from surgesim.report import duty
from surgesim.report.numbers import unglued
from surgesim.report.view import View

LIFE = {
    "name": "array box", "element": "plus to pe", "surge": "struck", "events_per_year": 0.0014,
    "share": 0.45, "pulses": 16.4, "years": 412.0, "years_low": 110.0, "years_high": 3e4,
}  # fmt: skip


def text(blocks: list[RenderableType]) -> str:
    console = Console(width=100, record=True, file=io.StringIO())
    for block in blocks:
        console.print(block)
    return unglued(console.export_text())


def test_shares_of_the_energy_add_up(dairy: dict[str, Any]) -> None:
    printed = text(list(duty.shared(View(dairy))))
    assert "WHO CARRIES WHAT" in printed
    shares = [int(line.split("%")[0].split()[-1]) for line in printed.splitlines() if "%" in line]
    # two arresters under each surge
    assert shares
    assert all(a + b == 100 for a, b in zip(shares[::2], shares[1::2], strict=True))


def test_years_with_their_spread(dairy: dict[str, Any]) -> None:
    dairy["summary"][-1]["life"] = [LIFE, {**LIFE, "element": "minus to pe", "years": 900.0}]
    printed = text(list(duty.lasting(View(dairy))))
    assert "410 (110 to >1000)" in printed
    assert "45 %" in printed
    # the hardest worked of a slot alone
    assert "minus to pe" not in printed


def test_nothing_where_no_surge_says_how_often(dairy: dict[str, Any]) -> None:
    assert list(duty.lasting(View(dairy))) == []
