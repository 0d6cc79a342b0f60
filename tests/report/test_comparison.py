"""The comparison as a reader gets it: plain text, 80 columns."""

import re
from types import SimpleNamespace
from typing import Any

import pytest

from surgesim.report import comparison, console, tables

Findings = dict[str, Any]


def printed(findings: Findings) -> str:
    return console.text(comparison.render(findings))


def section(text: str, title: str) -> str:
    """What stands under a heading or a terminal's line, up to the next blank line."""
    start = text.index(title)
    return text[start : text.index("\n\n", start)]


def test_it_begins_with_the_question_and_the_answer(dairy: Findings) -> None:
    lines = printed(dairy).splitlines()
    assert lines[0] == "Brackenmoss dairy barn"
    assert lines[1].startswith("One arrester at the array")
    assert lines[4] == "ANSWER"
    assert lines[5].startswith("3 of 14 alternatives hold")


def test_the_alternatives_that_hold_come_first(dairy: Findings) -> None:
    text = printed(dairy)
    heads = [text.index(head) for head in ("HOLDS: 3 OF 14", "VOID: 1 OF 14", "EXCEEDED: 10")]
    assert heads == sorted(heads)


def test_a_terminal_has_one_row_per_outcome_and_names_the_worse_pole(dairy: Findings) -> None:
    rows = section(printed(dairy), "inverter DC input, pole to pe, withstand 6.0 kV (table)")
    found = [re.split(r"\s{2,}", line.strip()) for line in rows.splitlines()]
    assert ["none", "-", "none", "exceeded", "insulation fires at 12 kV", "a"] in found
    assert ["barn only", "either", "either", "void", "2.9 kV (plus), but only after", "b"] in found
    assert ["both", "class I", "either", "holds", "4.4 kV (plus), margin 36 %", "b"] in found
    assert "  b: frame struck, steep share; array earth wet" in rows


def test_the_worse_of_two_poles_counts(dairy: Findings, kit: SimpleNamespace) -> None:
    entry = dairy["summary"][-1]
    minus = next(t for t in entry["terminals"] if t["pair"] == "minus to pe")
    minus["peak_v"] = -5990.0
    kit.rate(minus)
    assert "thin      5.99 kV (minus), margin 0.1 %" in printed(dairy)


def test_poles_with_different_limits_stay_apart(dairy: Findings) -> None:
    for entry in dairy["summary"]:
        for terminal in entry["terminals"]:
            if terminal["pair"] == "minus to pe":
                terminal["withstand_v"] = 4000.0
    text = printed(dairy)
    assert "inverter DC input, plus to pe, withstand 6.0 kV (table)" in text
    assert "inverter DC input, minus to pe, withstand 4.0 kV (table)" in text


def test_one_worst_case_for_all_stands_in_the_heading(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    text = printed(findings)
    assert "  worst: frame struck, steep share; array earth wet\n" in text
    for terminal in findings["summary"][0]["terminals"]:
        terminal["surge"], terminal["worst_of"] = "induced", {}
    assert "withstand 6.0 kV (table)   worst: induced\n" in printed(findings)


def test_a_terminal_that_always_holds_takes_one_line(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][-3:]
    rows = section(printed(dairy), "modules, pole to frame")
    assert rows.splitlines()[1:] == ["  holds in all 3 alternatives, margin 135 % or more"]


def test_equal_alternatives_are_folded(dairy: Findings) -> None:
    text = printed(dairy)
    assert "  fitted both, card class I, bond none or in the duct\n" in text
    assert "  fitted both, card class I, bond none\n" not in text


def test_who_else_is_named(dairy: Findings) -> None:
    text = printed(dairy)
    assert "NOT ASSESSED: 2\n  - AC port: no AC side described" in text
    assert "ASSUMPTIONS: 2\n  - arrester leads: 1 uH/m" in text
    flowing = re.sub(r"\s+", " ", text)
    assert "2.4 x its rating; arrester inverter (plus to pe) carries" in flowing
    assert "Hardest worked: arrester array box (plus to pe), pv 1000 class I, at 14 %" in flowing
    assert text.rstrip().endswith("bonds during thunderstorms.")


def test_failures_and_claims_are_listed(dairy: Findings) -> None:
    dairy["failures"] = [{"id": "c0003", "axes": {"fitted": "none"}, "surge": "steep",
                          "error": "timestep too small", "try": ""}]  # fmt: skip
    dairy["claims"] = [{"name": "inverter", "axes": {}, "equipment": "inverter DC input",
                        "pair": "plus to pe", "asked_percent": 25.0, "found_percent": 10.0,
                        "met": False}]  # fmt: skip
    text = printed(dairy)
    assert "CASES WITHOUT A RESULT: 1\n  - c0003 (fitted none; steep): timestep too small." in text
    assert "CLAIMS: 1\n  - inverter: NOT met" in text


def test_an_arrester_without_a_rating_is_not_assessed(dairy: Findings, kit: Any) -> None:
    for entry in dairy["summary"]:
        for record in entry["arresters"]:
            if record["name"] == "inverter":
                record.update(share_of_rating=None, rated_by=None, verdict="not assessed")
    text = printed(dairy)
    assert "NOT ASSESSED: 6\n" in text
    assert "- arrester inverter (plus to pe): its card, pv 1000 class I, gives no rating" in text
    kit.assert_fits(console.text(tables.render(dairy)))


def test_missing_cases_are_told_at_every_terminal(dairy: Findings) -> None:
    dairy["summary"][-1].update(verdict="not assessed", failed_cases=2)
    text = printed(dairy)
    assert "NOT ASSESSED: 1 OF 14" in text
    rows = re.sub(r"\s+", " ", section(text, "modules, pole to frame, withstand"))
    assert "margin 135 %. 2 b of its cases gave no result." in rows


def test_no_section_without_content(dairy: Findings) -> None:
    dairy["not_assessed"], dairy["assumptions"] = [], []
    text = printed(dairy)
    for absent in ("NOT ASSESSED", "ASSUMPTIONS", "CLAIMS", "CASES WITHOUT", "Not assessed"):
        assert absent not in text


@pytest.mark.parametrize(("one", "other"), [(0, 13), (2, 12), (6, 10), (3, 11)])
def test_swapped_numbers_swap_the_printed_rows(
    dairy: Findings, kit: SimpleNamespace, one: int, other: int
) -> None:
    swapped = kit.swap(dairy, one, other)
    before, after = comparison.plain_sentences(dairy), comparison.plain_sentences(swapped)

    def said(sentence: str) -> str:
        return sentence.partition(": ")[2]

    assert said(before[one]) != said(before[other])
    assert said(after[one]) == said(before[other])
    assert said(after[other]) == said(before[one])
    assert printed(dairy) != printed(swapped)


def test_one_plain_sentence_an_alternative(dairy: Findings) -> None:
    said = comparison.plain_sentences(dairy)
    assert len(said) == 14
    assert said[0].startswith("fitted none, bond none: exceeded. Inverter DC input, plus to pe: ")


def test_many_alternatives_with_long_names_are_called_by_number(kit: SimpleNamespace) -> None:
    findings = kit.build_many(40)
    text = printed(findings)
    kit.assert_fits(text)
    rows = section(text, "inverter DC input, plus to minus, highest voltage")
    assert "\n  no.\n" in rows
    numbers = {int(n) for line in rows.splitlines() for n in re.findall(r"^  (\d+)\b", line)}
    assert numbers <= set(range(1, 41))
    for number in range(1, 41):
        assert re.search(rf"(?m)^  (?:[\d, -]+, |)(?:{number}|\d+-\d+)\b[\d, -]*: ", text)


@pytest.mark.parametrize("count", [2, 14, 40])
def test_it_fits_the_page(kit: SimpleNamespace, count: int) -> None:
    kit.assert_fits(printed(kit.build_many(count)))


def test_a_number_keeps_its_unit(dairy: Findings) -> None:
    assert not re.search(r"\d\n *(?:kV|V|C|us|%|x)(?:\W|$)", printed(dairy))


def test_names_with_markup_are_printed_as_written(dairy: Findings) -> None:
    dairy["scenario"]["title"] = "Barn [bold]north[/bold] :smile: [1]"
    assert printed(dairy).startswith("Barn [bold]north[/bold] :smile: [1]\n")


def test_an_empty_summary_is_still_an_answer(kit: SimpleNamespace) -> None:
    findings = kit.assemble({}, [])
    text = printed(findings)
    assert "None of the 0 alternatives could be judged." in text
    assert "TERMINAL BY TERMINAL" not in text
