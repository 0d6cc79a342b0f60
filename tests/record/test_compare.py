"""Tolerances and thresholds of a comparison, on the numbers of a real case."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from surgesim.studies import record_compare as compare
from surgesim.studies.record_compare import SAME_ENGINE, SECOND_SOLVER, compare_case, same_data
from tests.record.records import parts_of

Case = dict[str, Any]


@pytest.fixture
def cases(recorded: Any) -> list[Case]:
    """Without an arrester, and with one at its low and its declared level."""
    found: list[Case] = json.loads(parts_of(recorded)["findings.json"])["cases"]
    return found


def changed(case: Case, section: str, key: str, value: Any, *, position: int = 0) -> Case:
    other = copy.deepcopy(case)
    other[section][position][key] = value
    return other


def with_peak(case: Case, peak: float, *, verdict: str) -> Case:
    other = copy.deepcopy(case)
    one = other["terminals"][0]
    ratio = one["withstand_v"] / abs(peak)
    one.update(peak_v=peak, ratio=ratio, margin_percent=100.0 * (ratio - 1.0), verdict=verdict)
    return other


def status(claimed: Case, found: Case) -> str:
    return str(compare_case(claimed, found, SAME_ENGINE)["status"])


def test_a_case_is_reproduced_by_itself(cases: list[Case]) -> None:
    for case in cases:
        found = compare_case(case, case, SAME_ENGINE)
        assert found["status"] == compare.REPRODUCED
        assert found["numbers"] == found["verdicts"] == found["edges"] == found["given"] == []
        assert found["largest_difference"]["difference_percent"] == 0.0


@pytest.mark.parametrize(
    ("section", "key", "within", "beyond"),
    [
        ("terminals", "to_bar_v", 1.004, 1.006),
        ("terminals", "to_remote_earth_v", 0.996, 0.994),
        ("arresters", "peak_a", 1.004, 1.006),
        ("arresters", "residual_v", 1.004, 1.006),
        ("arresters", "energy_j", 1.009, 1.011),
        ("arresters", "specific_energy_j_per_ohm", 1.009, 1.011),
        ("earths", "charge_c", 1.004, 1.006),
        ("earths", "rise_v", 0.996, 0.994),
    ],
)
def test_each_number_has_its_tolerance(
    section: str, key: str, within: float, beyond: float, cases: list[Case]
) -> None:
    case = cases[2]
    value = case[section][0][key]
    assert status(case, changed(case, section, key, value * within)) == compare.REPRODUCED
    assert status(case, changed(case, section, key, value * beyond)) == compare.DIFFERS


def test_the_second_solver_has_twice_the_tolerance(cases: list[Case]) -> None:
    case = cases[2]
    other = changed(case, "arresters", "peak_a", case["arresters"][0]["peak_a"] * 1.009)
    assert compare_case(case, other, SAME_ENGINE)["status"] == compare.DIFFERS
    assert compare_case(case, other, SECOND_SOLVER)["status"] == compare.REPRODUCED


def test_what_is_left_of_large_numbers_is_held_beside_these(cases: list[Case]) -> None:
    """A residue of a ten-thousandth of the case's voltages is noise; a hundredth is not."""
    case = cases[2]
    largest = max(abs(earth["rise_v"]) for earth in case["earths"])
    small = changed(case, "terminals", "bias_v", 1e-4 * largest)
    assert status(small, changed(small, "terminals", "bias_v", 1.4e-4 * largest)) == (
        compare.REPRODUCED
    )
    assert status(small, changed(small, "terminals", "bias_v", 2e-4 * largest)) == compare.DIFFERS


def test_one_large_false_number_does_not_hide_the_others(cases: list[Case]) -> None:
    case = cases[2]
    claimed = changed(case, "arresters", "charge_c", 1e12)
    claimed["arresters"][1]["charge_c"] *= 2.0
    found = compare_case(claimed, case, SAME_ENGINE)
    assert found["status"] == compare.DIFFERS


def test_a_number_that_is_missing_on_one_side_differs(cases: list[Case]) -> None:
    case = cases[2]
    without = changed(case, "terminals", "to_bar_v", None)
    assert status(case, without) == compare.DIFFERS
    assert status(without, case) == compare.DIFFERS


# --- verdicts ---------------------------------------------------------------------------------


def test_another_verdict_differs(cases: list[Case]) -> None:
    case = cases[2]
    found = compare_case(case, changed(case, "terminals", "verdict", "thin"), SAME_ENGINE)
    assert found["status"] == compare.DIFFERS
    (verdict,) = found["verdicts"]
    assert (verdict["claimed"], verdict["reproduced"]) == ("holds", "thin")
    assert verdict["edge"] is False


@pytest.mark.parametrize(
    ("claimed", "found", "expected"),
    [
        # withstand 6 kV, margin asked 25 %: thresholds at 6.0 kV and 4.8 kV
        ((5999.0, "thin"), (6001.0, "exceeded"), compare.EDGE),
        ((4799.0, "holds"), (4801.0, "thin"), compare.EDGE),
        ((4700.0, "holds"), (4710.0, "thin"), compare.DIFFERS),
        ((4799.0, "holds"), (4900.0, "thin"), compare.DIFFERS),
    ],
)
def test_at_a_threshold_either_verdict_is_right(
    claimed: tuple[float, str], found: tuple[float, str], expected: str, cases: list[Case]
) -> None:
    mine = with_peak(cases[2], claimed[0], verdict=claimed[1])
    theirs = with_peak(cases[2], found[0], verdict=found[1])
    assert status(mine, theirs) == expected


@pytest.mark.parametrize(
    ("shares", "expected"), [((0.997, 1.003), compare.EDGE), ((0.9, 1.003), compare.DIFFERS)]
)
def test_at_a_rating_either_verdict_is_right(
    shares: tuple[float, float], expected: str, cases: list[Case]
) -> None:
    """And what stands on that arrester may be void or not."""
    sides = []
    for share in shares:
        case = copy.deepcopy(cases[2])
        one = case["arresters"][0]
        one["shares"]["charge"] = one["share_of_rating"] = share
        one["rated_by"] = "charge"
        if share > 1.0:
            one["verdict"] = "exceeded"
            for terminal in case["terminals"]:
                terminal.update(verdict="void", conditional_on=["inverter box: charge 1.0 x"])
        sides.append(case)
    assert status(*sides) == expected


def fired(case: Case) -> Case:
    """The first pair's insulation fired, and everything else halved by it."""
    other = copy.deepcopy(case)
    one = other["terminals"][0]
    one.update(peak_v=None, ratio=None, margin_percent=None, verdict="exceeded")
    one["insulation"].update(fired=True, fired_v=one["insulation"]["level_v"], fired_at_s=1e-6)
    for earth in other["earths"]:
        earth["rise_v"] /= 2.0
    return other


def test_insulation_that_only_just_holds_here_is_at_its_level(cases: list[Case]) -> None:
    level = cases[2]["terminals"][0]["insulation"]["level_v"]
    sound = with_peak(cases[2], 0.99 * level, verdict="exceeded")
    found = compare_case(fired(sound), sound, SAME_ENGINE)
    assert found["status"] == compare.EDGE
    assert found["edges"] == ["inverter, plus to pe: insulation at its level"]


def test_insulation_far_from_its_level_is_not(cases: list[Case]) -> None:
    level = cases[2]["terminals"][0]["insulation"]["level_v"]
    sound = with_peak(cases[2], 0.9 * level, verdict="exceeded")
    assert status(fired(sound), sound) == compare.DIFFERS


def test_a_claim_to_have_stayed_just_below_the_level_excuses_nothing(cases: list[Case]) -> None:
    level = cases[2]["terminals"][0]["insulation"]["level_v"]
    sound = with_peak(cases[2], 0.99 * level, verdict="exceeded")
    found = compare_case(sound, fired(sound), SAME_ENGINE)
    assert found["status"] == compare.DIFFERS
    assert found["verdicts"][0]["reproduced"] == "exceeded, insulation fired"


# --- alternatives and claims ------------------------------------------------------------------


def entry(verdict: str, case: str = "c0001") -> dict[str, Any]:
    worst = {
        "equipment": "inverter", "pair": "plus to pe", "peak_v": 4800.0, "withstand_v": 6000.0,
        "margin_percent": 25.0, "surge": "induced", "case": case,
    }  # fmt: skip
    return {"axes": {"fitted": "both", "card": None}, "verdict": verdict, "worst": worst}


@pytest.mark.parametrize(
    ("claimed", "found", "case_status", "expected"),
    [
        ("holds", "holds", compare.REPRODUCED, compare.REPRODUCED),
        ("holds", "thin", compare.EDGE, compare.EDGE),
        ("holds", "thin", compare.REPRODUCED, compare.DIFFERS),
    ],
)
def test_an_alternative_rests_on_its_worst_case(
    claimed: str, found: str, case_status: str, expected: str
) -> None:
    cases = [{"id": "c0001", "status": case_status}]
    (compared,) = compare.compare_alternatives([entry(claimed)], [entry(found)], cases)
    assert compared["status"] == expected


def test_an_alternative_on_one_side_only_differs() -> None:
    (mine,) = compare.compare_alternatives([entry("holds")], [], [])
    (theirs,) = compare.compare_alternatives([], [entry("holds")], [])
    assert mine["status"] == theirs["status"] == compare.DIFFERS


def claim(found_percent: float) -> dict[str, Any]:
    return {
        "name": "both", "axes": {"fitted": "both"}, "equipment": "inverter",
        "pair": "plus to pe", "asked_percent": 25.0, "found_percent": found_percent,
        "met": found_percent >= 25.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("claimed", "found", "expected"),
    [
        (30.0, 30.0, compare.MET),
        (30.0, 20.0, compare.NOT_MET),
        (20.0, 20.0, compare.NOT_MET),
        (20.0, 30.0, compare.MET),
        # half a percent of 125 % is 0.6 %
        (25.1, 24.9, compare.EDGE),
        (25.1, 24.0, compare.NOT_MET),
    ],
)
def test_a_claim_is_what_it_is_here(claimed: float, found: float, expected: str) -> None:
    (compared,) = compare.compare_claims([claim(claimed)], [claim(found)], SAME_ENGINE)
    assert compared["status"] == expected


def test_same_data_tells_numbers_from_truth_and_kind() -> None:
    assert same_data({"a": [1.0, None]}, {"a": [1.0 + 1e-12, None]}, within=1e-9)
    assert not same_data({"a": [1.0]}, {"a": [1.1]}, within=1e-9)
    assert not same_data(True, 1.0, within=1e-9)
    assert not same_data({"a": 1}, {"b": 1}, within=1e-9)
    assert not same_data([1], [1, 2], within=1e-9)
    assert not same_data("1", 1, within=1e-9)
