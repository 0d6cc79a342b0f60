"""The table of guesses: what moves, what flips, what was not varied; numbers made up."""

from __future__ import annotations

from typing import Any

from surgesim.report.blocks import Page
from surgesim.report.console import text
from surgesim.report.influence import ranges, table


def outcome(
    margin: float | None, verdict: str = "holds", pair: str = "plus to pe"
) -> dict[str, Any]:
    return {
        "equipment": "charger", "pair": pair, "peak_v": None if margin is None else 2e3,
        "withstand_v": 6e3, "margin_percent": margin, "asked_percent": 25.0, "verdict": verdict,
    }  # fmt: skip


def guess(what: str, change: float | None, *ends: dict[str, Any], flips: bool = False) -> Any:
    return {
        "what": what, "kind": "guess", "used": "8 kV", "ends": list(ends), "flips": flips,
        "change_points": change, "range": f"range of {what}",
    }  # fmt: skip


INFLUENCE = {
    "solver": "second solver",
    "axes": {"fitted": "both", "card": None},
    "case": "c0007",
    "surge": "induced",
    "base": outcome(40.0),
    "varied": [
        guess("first", -30.0, {"value": "6 kV", **outcome(10.0, "thin")}, flips=True),
        guess("second", 12.34, {"value": "9 kV", **outcome(52.34, pair="minus to pe")},
              {"value": "1 kV", "reason": "does not fit"}),
        guess("third", None, {"value": "5 kV", **outcome(None, "exceeded")}, flips=True),
        guess("fourth", 0.04, {"value": "7 kV", **outcome(40.04)}),
    ],
    "not_varied": [
        {"what": "tail of card 8/20", "kind": "from memory", "reason": "a formula's constant"},
        {"what": "rate of card 8/20", "kind": "from memory", "reason": "a formula's constant"},
    ],
}  # fmt: skip


def lines() -> list[str]:
    return text(Page([*table(INFLUENCE), *ranges(INFLUENCE)])).splitlines()


def test_each_guess_that_counts_has_a_row() -> None:
    whole = " ".join(" ".join(lines()).split())
    assert "c0007 (both), induced: charger, plus to pe, margin 40.0 % (25 % asked), " in whole
    rows = {row.split()[1]: row.split()[0] for row in lines() if "(guess)" in row}
    assert rows == {"first": "-30.0", "second": "+12.3", "third": "-"}


def test_a_flip_says_the_verdict_and_another_terminal_is_named() -> None:
    whole = " ".join(" ".join(lines()).split())
    assert "6 kV: 10.0 %, thin" in whole
    assert "5 kV: fires, exceeded" in whole
    assert "minus to pe" in whole
    assert "1 kV: no result" in whole


def test_what_does_not_count_and_what_was_not_varied_is_told_after() -> None:
    whole = " ".join(" ".join(lines()).split())
    assert "moved by less than 0.1 points by: fourth" in whole
    assert "not varied: tail of card 8/20; rate of card 8/20: a formula's constant" in whole
    assert "two together may move it further" in whole
    assert "range of second" in whole


def test_it_fits_eighty_columns() -> None:
    assert max(map(len, lines())) <= 80
