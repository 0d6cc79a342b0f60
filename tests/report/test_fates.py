"""The first table: every equipment by its worst terminal, what fires first comes first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from surgesim.report import comparison, console, fates, tables
from surgesim.report.view import View

Findings = dict[str, Any]


def reversed_order(findings: Findings, kit: SimpleNamespace) -> Findings:
    """The findings where the modules fire at 0.2 us and the inverter at 0.9 us or not at all."""
    for case in findings["cases"]:
        for terminal in case["terminals"]:
            if terminal["insulation"] and terminal["insulation"]["fired"]:
                at = 0.2e-6 if terminal["equipment"] == "modules" else 0.9e-6
                kit.fire(terminal, terminal["insulation"]["level_v"], at)
    return findings


def test_what_fires_first_stands_in_front(dairy: Findings, kit: SimpleNamespace) -> None:
    view = View(reversed_order(dairy, kit))
    first, second = fates.fates(view.entries[0], view)
    assert (first.equipment, first.fires, first.first, first.cases) == ("modules", 4, 4, 4)
    assert (second.equipment, second.fires, second.first) == ("inverter DC input", 4, 0)
    assert fates.sentence(view.entries[0], view) == (
        "modules: fires first in 4 of 4 cases; "
        "inverter DC input: fires in 4 of 4 cases, never first"
    )


def test_what_fires_in_some_cases_is_counted(dairy: Findings, kit: SimpleNamespace) -> None:
    view = View(reversed_order(dairy, kit))
    in_the_duct = next(e for e in view.entries if view.label(e) == "fitted none, bond in the duct")
    (modules, *_) = fates.fates(in_the_duct, view)
    assert fates.firing(modules) == "fires first in 2 of 4 cases"


def test_the_rest_goes_by_its_verdict(dairy: Findings) -> None:
    view = View(dairy)
    told = {view.label(entry): fates.sentence(entry, view) for entry in view.entries}
    holds = "holds: inverter DC input, modules"
    assert told["fitted both, card class II, bond in the duct"] == holds
    exceeded = "exceeded: inverter DC input; holds: modules"
    assert told["fitted array only, card class II, bond in the duct"] == exceeded


def test_it_is_the_first_table_of_a_comparison(dairy: Findings) -> None:
    text = console.text(comparison.render(dairy))
    assert text.index("ANSWER") < text.index("WHO FAILS, WHO HOLDS") < text.index("HOLDS: 3 OF 14")


def test_it_is_the_first_table_of_each_wiring_of_a_run(kit: SimpleNamespace) -> None:
    single = kit.build_single()
    text = console.text(tables.render(single))
    assert text.index("ANSWER") < text.index("WHO FAILS, WHO HOLDS") < text.index("TERMINALS")
    start = text.index("WHO FAILS, WHO HOLDS")
    rows = text[start : text.index("\n\n", start)].splitlines()
    assert rows[1].split() == [
        "worst", "terminal", "verdict", "peak", "limit", "margin", "first",
    ]  # fmt: skip
    assert [row.split(",")[0].strip() for row in rows[2:]] == ["inverter DC input", "modules"]
    kit.assert_fits(text)


def test_the_worst_sentence_says_whether_it_fires_first(
    dairy: Findings, kit: SimpleNamespace
) -> None:
    text = console.text(comparison.render(reversed_order(dairy, kit)))
    assert "In the same case modules flashed over at 0.20 us." in " ".join(text.split())
    for case in dairy["cases"]:
        for terminal in case["terminals"]:
            if terminal["equipment"] == "modules" and terminal["insulation"]["fired"]:
                kit.fire(terminal, terminal["insulation"]["level_v"], 1.5e-6)
    text = " ".join(console.text(comparison.render(dairy)).split())
    assert "It fires first; in the same case modules flashed over at 1.5 us." in text
