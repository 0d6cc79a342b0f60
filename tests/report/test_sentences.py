"""The sentences say what the findings' numbers say, and only that."""

from types import SimpleNamespace
from typing import Any

import pytest

from surgesim.report import sentences
from surgesim.report.view import View

Findings = dict[str, Any]


def find(findings: Findings, **axes: str | None) -> Findings:
    return next(entry for entry in findings["summary"] if entry["axes"] == axes)


@pytest.fixture
def view(dairy: Findings) -> View:
    return View(dairy)


def test_fired_insulation_gives_its_level_and_no_peak(dairy: Findings, view: View) -> None:
    entry = find(dairy, fitted="none", card=None, bond="none")
    assert sentences.alternative(entry, view) == (
        "Inverter DC input, plus to pe: insulation fires at 12 kV, against a withstand of "
        "6.0 kV. Worst in: frame struck, first stroke share; array earth wet. In the same case "
        "modules flashed over at 0.61 us. No other terminal holds either."
    )


def test_an_exceeded_limit_gives_peak_and_margin(dairy: Findings, view: View) -> None:
    entry = find(dairy, fitted="array only", card="class I", bond="in the duct")
    assert sentences.alternative(entry, view).startswith(
        "Inverter DC input, plus to pe: 6.4 kV against a withstand of 6.0 kV, margin -5.7 %."
    )


def test_a_void_voltage_says_which_arrester_it_stands_on(dairy: Findings, view: View) -> None:
    entry = find(dairy, fitted="both", card="class II", bond="none")
    assert (
        "826 V against a highest voltage of 1.1 kV, but arrester array box (plus to pe) carries "
        "0.83 C, 2.4 x its rating (3 more elements beyond rating too)."
    ) in sentences.alternative(entry, view)


def test_a_void_voltage_says_what_flashed_over(dairy: Findings, view: View) -> None:
    entry = find(dairy, fitted="barn only", card="class I", bond="none")
    record = next(t for t in entry["terminals"] if t["pair"] == "plus to pe")
    assert sentences.outcome(record, view, pole="plus") == (
        "2.9 kV (plus), but only after modules flashed over at 0.61 us"
    )


def test_another_pair_of_the_same_equipment_is_told_by_its_pair(dairy: Findings) -> None:
    entry = find(dairy, fitted="barn only", card="class I", bond="none")
    entry["worst"]["conditional_on"] = ["modules, minus to frame: flashed over at 0.61 us"]
    assert "In the same case modules, minus to frame flashed over at 0.61 us." in (
        sentences.alternative(entry, View(dairy))
    )


def test_a_condition_about_nothing_in_the_case_is_printed_as_it_is(dairy: Findings) -> None:
    entry = find(dairy, fitted="both", card="class I", bond="none")
    record = {**entry["worst"], "verdict": "void", "conditional_on": ["the fuse blew"]}
    assert sentences.outcome(record, View(dairy)).endswith(", but the fuse blew")
    record["conditional_on"] = ["array wiring: flashed over at 0.4 us"]
    assert sentences.outcome(record, View(dairy)).endswith(
        "but array wiring flashed over at 0.4 us"
    )
    record["conditional_on"] = []
    assert "but only after something else has failed" in sentences.outcome(record, View(dairy))


def test_the_charge_in_the_sentence_is_the_arresters(dairy: Findings) -> None:
    entry = find(dairy, fitted="both", card="class II", bond="none")
    case = next(case for case in dairy["cases"] if case["id"] == entry["worst"]["case"])
    case["arresters"][0] |= {"charge_c": 1.7, "share_of_rating": 4.857}
    assert "carries 1.7 C, 4.9 x its rating" in sentences.alternative(entry, View(dairy))


@pytest.mark.parametrize(
    ("by", "text"),
    [
        ("peak", "carries 12 kA, 1.5 x its rating"),
        ("charge", "carries 1.7 C, 1.5 x its rating"),
        ("specific_energy", "takes 44 kJ/ohm, 1.5 x its rating"),
        ("continuous", "stands at 1.1 kV before the surge, 1.5 x its continuous voltage"),
    ],
)
def test_an_arresters_duty_is_told_in_the_unit_it_is_rated_by(by: str, text: str) -> None:
    record = {
        "peak_a": -12e3, "charge_c": 1.7, "specific_energy_j_per_ohm": 44e3,
        "standing_v": 1100.0, "share_of_rating": 1.5, "rated_by": by,
    }  # fmt: skip
    assert sentences.duty(record) == text


ASKED = "with the margins asked (25 % to a withstand and none to a highest voltage). "


def test_the_answer_counts_and_names_the_best(view: View) -> None:
    assert sentences.answer(view) == (
        f"3 of 14 alternatives hold at every terminal described {ASKED}The most room has fitted "
        "both, card class II, bond in the duct: closest to its limit is inverter DC input, plus "
        "to pe, margin 36 % (25 % asked). Not assessed: AC port and parlour controller."
    )


def test_the_best_is_the_one_with_most_room_at_its_tightest_terminal(dairy: Findings) -> None:
    for record in dairy["summary"][-1]["terminals"]:
        record["ratio"] *= 1.2
        record["margin_percent"] = 100.0 * (record["ratio"] - 1.0)
    answer = sentences.answer(View(dairy))
    assert "The most room has fitted both, card class I, bond in the duct: " in answer
    assert "inverter DC input, plus to pe, margin 63 %" in answer


def test_a_terminal_of_which_no_margin_is_asked_says_so(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    entry = findings["summary"][0]
    across = next(r for r in entry["terminals"] if r["pair"] == "plus to minus")
    text = sentences.alternative({**entry, "worst": across}, View(findings))
    assert "margin 32 % (none asked)." in text


def test_one_margin_for_all_is_named_once(dairy: Findings) -> None:
    for case in dairy["cases"]:
        for record in case["terminals"]:
            record["asked_percent"] = 25.0
    for entry in dairy["summary"]:
        for record in entry["terminals"]:
            record["asked_percent"] = 25.0
    assert sentences.asked(View(dairy)) == "the 25 % margin asked"
    assert " asked)" not in sentences.answer(View(dairy))


def test_the_answer_when_one_holds(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][:12]
    answer = sentences.answer(View(dairy))
    assert answer.startswith("1 of 12 alternatives holds at every terminal described")
    assert "It is fitted both, card class II, bond in the duct: closest to its limit" in answer


def test_the_answer_when_nothing_holds_names_the_nearest(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][:11]
    answer = sentences.answer(View(dairy))
    assert answer.startswith("None of the 11 alternatives holds")
    assert "Nearest: fitted both, card class II, bond none: void at inverter DC input" in answer


def test_the_answer_for_one_wiring(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    answer = sentences.answer(View(findings))
    assert answer.startswith("The installation as described holds at every terminal described")
    tightest = "inverter DC input, plus to pe, margin 36 % (25 % asked)."
    assert f"Closest to its limit: {tightest}" in answer
    findings["summary"][0]["verdict"] = "thin"
    assert f"does not hold {ASKED.rstrip('. ')}: thin" in sentences.answer(View(findings))
    findings["summary"][0]["verdict"] = "not assessed"
    assert "could not be judged" in sentences.answer(View(findings))


def test_cases_without_a_result_are_in_the_answer_and_the_sentence(dairy: Findings) -> None:
    axes = {"fitted": "both", "array earth": "dry", "card": None}
    failure = {"id": "c0050", "axes": axes, "surge": "steep", "error": "timestep too small.",
               "try": "a longer lead"}  # fmt: skip
    dairy["failures"] = [failure]
    dairy["summary"][-1]["failed_cases"] = 1
    view = View(dairy)
    assert "1 case gave no result, so the worst may not be known." in sentences.answer(view)
    assert sentences.alternative(dairy["summary"][-1], view).endswith("1 case gave no result.")
    assert sentences.failure(failure) == (
        "c0050 (fitted both, array earth dry; steep): timestep too small. Try: a longer lead."
    )


def test_an_alternative_without_any_result_says_so(dairy: Findings) -> None:
    entry = dairy["summary"][0]
    entry.update(verdict=None, worst=None, terminals=[], arresters=[], failed_cases=4)
    view = View(dairy)
    assert sentences.rank(entry) == "not assessed"
    assert sentences.alternative(entry, view) == "4 of its cases gave no result."
    assert sentences.answer(view).startswith("3 of 14")


def test_an_alternative_with_missing_cases_says_so_first(dairy: Findings) -> None:
    entry = dairy["summary"][-1]
    entry.update(verdict="not assessed", failed_cases=2)
    text = sentences.alternative(entry, View(dairy))
    assert text.startswith(
        "2 of its cases gave no result. The worst of the rest: Inverter DC input, plus to minus"
    )
    assert sentences.answer(View(dairy)).startswith("2 of 14 alternatives hold")


def test_a_peak_just_short_of_the_limit_shows_the_digit(dairy: Findings, kit: Any) -> None:
    record = {**dairy["summary"][-1]["worst"], "peak_v": 1099.0, "conditional_on": []}
    assert sentences.outcome(kit.rate(record), View(dairy)) == "1.099 kV, margin 0.0 %"


def test_other_terminals_that_do_not_hold_are_named(dairy: Findings) -> None:
    entry = find(dairy, fitted="array only", card="class I", bond="none")
    text = sentences.alternative(entry, View(dairy))
    assert text.endswith("Not holding either: modules, pole to frame (void).")


@pytest.mark.parametrize(("one", "other"), [(0, 13), (2, 12), (6, 10), (3, 11)])
def test_swapped_numbers_swap_the_sentences(
    dairy: Findings, kit: SimpleNamespace, one: int, other: int
) -> None:
    view, swapped = View(dairy), View(kit.swap(dairy, one, other))
    before = [sentences.alternative(entry, view) for entry in dairy["summary"]]
    after = [sentences.alternative(entry, swapped) for entry in swapped.entries]
    assert before[one] != before[other]
    assert after[one] == before[other]
    assert after[other] == before[one]


def test_a_changed_number_changes_the_sentence(dairy: Findings, kit: SimpleNamespace) -> None:
    entry = find(dairy, fitted="both", card="class I", bond="none")
    entry["worst"] = kit.rate({**entry["worst"], "peak_v": -1234.0})
    entry["verdict"] = entry["worst"]["verdict"]
    text = sentences.alternative(entry, View(dairy))
    assert text.startswith(
        "Inverter DC input, plus to minus: 1.2 kV against a highest voltage of 1.1 kV, "
        "margin -11 %."
    )


def test_claims() -> None:
    claim = {"name": "inverter", "axes": {}, "equipment": "inverter DC input",
             "pair": "plus to pe", "asked_percent": 25.0, "found_percent": 24.99,
             "met": False}  # fmt: skip
    assert sentences.claim(claim) == (
        "inverter: NOT met; inverter DC input, plus to pe, margin 24 % found, 25 % claimed"
    )
    assert "no margin found" in sentences.claim({**claim, "found_percent": None})
    assert "a void voltage found" in sentences.claim({**claim, "verdict": "void"})
    assert ": met;" in sentences.claim({**claim, "met": True})


def test_a_surge_is_told_by_its_measured_figures(dairy: Findings) -> None:
    assert sentences.surge(dairy["cases"][0]) == (
        "Heidler, 5.0 kA, T1 10 us, T2 350 us, charge 2.5 C, W/R 6.2 kJ/ohm, steepest 810 A/us"
    )
    figures = {**dairy["cases"][0]["surge_figures"], "t2_s": None, "charge_c": None}
    text = sentences.surge({"surge_figures": figures})
    assert "T2" not in text
    assert "charge" not in text
