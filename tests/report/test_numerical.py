"""Numerical errors in print: the mark, its legend, the one line, what they leave open."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from surgesim.report import comparison, tables
from surgesim.report.console import text
from surgesim.report.numerical import percentage

Findings = dict[str, Any]
LEGEND = "~ before a value: its numerical error is above 1 %."


def printed(findings: Findings, page: Callable[[Findings], Any]) -> str:
    return " ".join(text(page(findings)).split())


def everywhere(findings: Findings, section: str, **changed: Any) -> None:
    """Change the records of a section in the cases and in the summary."""
    for place in (*findings["cases"], *findings["summary"]):
        for record in place.get(section, ()):
            percent = {**record["numerical_error"]["percent"], **changed}
            record["numerical_error"] = {**record["numerical_error"], "percent": percent}


@pytest.mark.parametrize("page", [tables.render, comparison.render])
def test_small_errors_are_told_in_one_line_and_not_marked(
    kit: SimpleNamespace, page: Callable[[Findings], Any]
) -> None:
    told = printed(kit.build_single(), page)
    assert "NUMERICAL ERROR At terminals at most 0.31 % (estimated): inverter DC input" in told
    assert "Of everything at most 0.4 % (estimated): array box, plus to pe, current" in told
    assert "~" not in told


@pytest.mark.parametrize("page", [tables.render, comparison.render])
def test_an_error_above_one_percent_is_marked_and_the_mark_explained(
    kit: SimpleNamespace, page: Callable[[Findings], Any]
) -> None:
    findings = kit.build_single()
    everywhere(findings, "terminals", peak_v=1.3)
    told = printed(findings, page)
    assert LEGEND in told
    assert "At most 1.3 % (estimated)" in told
    assert "~+4.4 kV" in told or "~4.4 kV" in told


def test_the_mark_is_explained_only_where_it_can_stand(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    everywhere(findings, "terminals", to_remote_earth_v=2.0)
    assert LEGEND in printed(findings, tables.render)
    told = printed(findings, comparison.render)
    assert LEGEND not in told
    assert "Of everything at most 2 % (estimated)" in told


def test_each_column_with_an_error_is_marked(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    everywhere(findings, "terminals", to_bar_v=2.0, to_remote_earth_v=2.0)
    everywhere(findings, "arresters", peak_a=2.0, residual_v=2.0, charge_c=2.0)
    everywhere(findings, "earths", rise_v=2.0, peak_a=2.0, charge_c=2.0)
    lines = text(tables.render(findings)).splitlines()
    (rods,) = [line for line in lines if line.strip().startswith("array rods")]
    assert rods.count("~") == 3
    elements = [line for line in lines if line.strip().startswith("plus to pe") and "C" in line]
    assert any(line.count("~") == 3 for line in elements)
    assert all(len(line) <= 80 for line in lines)


def test_an_unknown_error_is_marked_and_said(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    everywhere(findings, "terminals", peak_v=None)
    told = printed(findings, tables.render)
    assert LEGEND in told
    assert "At most not known (estimated)" in told


def test_what_the_error_could_turn_is_said_in_words(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    for place in (*findings["cases"], *findings["summary"]):
        place["terminals"][0]["could_be"] = ["thin"]
    told = printed(findings, comparison.render)
    record = findings["summary"][0]["terminals"][0]
    verdict = record["verdict"]
    assert f"case {record['case']}: {verdict}, but thin is within the numerical error" in told
    assert "25 % asked, error of the voltage 0.31 %" in told


def test_runs_again_that_turned_or_failed_are_said(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    common = {"largest_percent": None, "where": ""}
    findings["cases"][0]["certification"] = [
        {"name": "half the step", "outcome": "turned", **common,
         "reason": "modules, plus to frame flashes over only there"},
        {"name": "doubled line detail", "outcome": "no result", **common, "reason": "timed out"},
    ]  # fmt: skip
    told = printed(findings, comparison.render)
    assert "c0001: with half the step the outcome turns: modules, plus to frame flashes" in told
    assert "c0001: with doubled line detail there is no result: timed out." in told


@pytest.mark.parametrize(
    ("percent", "words"),
    [
        (None, "not known"),
        (0.0, "below 0.01 %"),
        (0.123, "0.12 %"),
        (12.3, "12 %"),
        (253.0, "250 %"),
    ],
)
def test_percentages(percent: float | None, words: str) -> None:
    assert percentage(percent) == words
