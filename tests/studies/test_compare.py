from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from surgesim.findings.schema import schema
from surgesim.findings.verdicts import severity
from surgesim.studies.compare import compose
from surgesim.studies.info import StudyInfo

Dairy = Callable[[], tuple[StudyInfo, list[dict[str, Any]]]]

PROMISES = ("safe", "protected", "compliant", "guarantee")


@pytest.fixture
def findings(dairy_study: Dairy) -> dict[str, Any]:
    return compose(*dairy_study())


def entry(findings: dict[str, Any], **axes: str | None) -> dict[str, Any]:
    entries: list[dict[str, Any]] = findings["summary"]
    found = [e for e in entries if all(e["axes"][k] == v for k, v in axes.items())]
    assert len(found) == 1
    return found[0]


def test_obeys_its_schema(findings: dict[str, Any]) -> None:
    Draft202012Validator(schema()).validate(json.loads(json.dumps(findings, allow_nan=False)))


def test_schema_holds_with_failures_and_claims_too(made: Any) -> None:
    from surgesim.studies.info import ClaimInfo

    claim = ClaimInfo(name="n", axes={}, equipment="x", pair="y", asked_percent=1.0)
    study = made.study(alternatives={"fitted": ["none", "both"]}, claims=[claim])
    found = compose(
        study,
        [made.case(1, {"fitted": "none"}, made.terminal(0.0), made.terminal(None))],
        failures=[made.failure(2, {"fitted": "both"})],
    )
    Draft202012Validator(schema()).validate(json.loads(json.dumps(found, allow_nan=False)))


def test_the_worst_terminal_is_the_one_with_the_least_room_beside_what_is_asked(made: Any) -> None:
    # 28 % where 25 % is asked leaves 3 points; 16 % where none is asked leaves 16
    asked = made.terminal(6e3 / 1.28, pair="plus to pe")
    unasked = {**made.terminal(6e3 / 1.16, pair="plus to minus"), "asked_percent": 0.0}
    unasked["verdict"] = "holds"
    case = made.case(1, {"fitted": "both"}, asked, unasked)
    found = compose(made.study(alternatives={"fitted": ["both"]}), [case])
    assert found["summary"][0]["worst"]["pair"] == "plus to pe"


def test_beyond_their_limits_the_worst_terminal_is_the_one_furthest_beyond(made: Any) -> None:
    asked = made.terminal(6e3 * 1.11, pair="plus to pe")
    unasked = {**made.terminal(6e3 * 1.25, pair="plus to minus"), "asked_percent": 0.0}
    case = made.case(1, {"fitted": "both"}, asked, unasked)
    found = compose(made.study(alternatives={"fitted": ["both"]}), [case])
    assert found["summary"][0]["worst"]["pair"] == "plus to minus"


def test_one_entry_an_alternative_nothing_fitted_once(findings: dict[str, Any]) -> None:
    assert [e["axes"] for e in findings["summary"]] == [
        {"fitted": "none", "card": None},
        {"fitted": "array only", "card": "class II"},
        {"fitted": "array only", "card": "class I"},
        {"fitted": "both", "card": "class II"},
        {"fitted": "both", "card": "class I"},
    ]


def test_verdicts(findings: dict[str, Any]) -> None:
    assert [e["verdict"] for e in findings["summary"]] == [
        "exceeded", "exceeded", "exceeded", "void", "holds",
    ]  # fmt: skip


def test_the_worst_is_named_with_where_it_came_from(findings: dict[str, Any]) -> None:
    worst = entry(findings, fitted="both", card="class I")["worst"]
    assert worst["peak_v"] == pytest.approx(2.3e3 * 1.5)
    assert worst["worst_of"] == {"array earth": "dry"}
    assert worst["case"] == "c0010"
    assert worst["surge"] == "frame struck"


def test_worst_of_every_pair_and_every_element(findings: dict[str, Any]) -> None:
    both = entry(findings, fitted="both", card="class II")
    assert [(t["equipment"], t["pair"]) for t in both["terminals"]] == [
        ("inverter", "plus to pe"), ("modules", "plus to frame"),
    ]  # fmt: skip
    (arrester,) = both["arresters"]
    assert arrester["share_of_rating"] == pytest.approx(3.6)
    assert arrester["worst_of"] == {"array earth": "dry"}
    assert entry(findings, fitted="none")["arresters"] == []


def test_cases_come_in_the_order_of_their_numbers(dairy_study: Dairy) -> None:
    study, cases = dairy_study()
    shuffled = compose(study, cases[::-1])
    assert shuffled == compose(study, cases)
    assert [case["id"] for case in shuffled["cases"]][:2] == ["c0001", "c0002"]


def test_numbers_beyond_four_digits_still_come_in_order(made: Any) -> None:
    cases = [made.case(n, {}) for n in (10000, 9999)]
    found = compose(made.study(), cases)
    assert [case["id"] for case in found["cases"]] == ["c9999", "c10000"]


def two(made: Any, first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    """The worst of two terminals of one alternative."""
    study = made.study(worst_of={"rods": ["wet", "dry"]})
    cases = [made.case(1, {"rods": "wet"}, first), made.case(2, {"rods": "dry"}, second)]
    worst: dict[str, Any] = compose(study, cases)["summary"][0]["worst"]
    return worst


GONE = ["x, y: flashed over at 1 us"]


@pytest.mark.parametrize(
    ("milder", "worse"),
    [
        ({"peak": 2e3}, {"peak": 3e3}),
        ({"peak": 2e3}, {"peak": -3e3}),
        ({"peak": 2e3}, {"peak": 5e3}),
        ({"peak": 5e3}, {"peak": 1e3, "conditions": GONE}),
        ({"peak": 1e3, "conditions": GONE}, {"peak": 7e3}),
        ({"peak": 99e3}, {"peak": None}),
        ({"peak": 0.0}, {"peak": 0.1}),
    ],
)
@pytest.mark.parametrize("swapped", [False, True])
def test_which_of_two_is_worse(
    made: Any, milder: dict[str, Any], worse: dict[str, Any], swapped: bool
) -> None:
    pair = [made.terminal(**milder), made.terminal(**worse)]
    worst = two(made, *(pair[::-1] if swapped else pair))
    assert worst["peak_v"] == worse["peak"]
    assert worst["worst_of"] == {"rods": "wet" if swapped else "dry"}


def test_the_first_of_equals_is_named(made: Any) -> None:
    assert two(made, made.terminal(3e3), made.terminal(-3e3))["case"] == "c0001"


peaks = st.none() | st.floats(-2e4, 2e4)


@given(peaks, peaks, st.booleans(), st.booleans())
def test_swapping_the_numbers_swaps_the_worst(
    made: Any, one: float | None, other: float | None, first: bool, second: bool
) -> None:
    a = made.terminal(one, conditions=GONE if first else [])
    b = made.terminal(other, conditions=GONE if second else [])
    straight, crossed = two(made, a, b), two(made, b, a)
    assert straight["verdict"] == crossed["verdict"]
    assert straight["ratio"] == crossed["ratio"]
    if a["verdict"] != b["verdict"] or a["ratio"] != b["ratio"]:
        assert {straight["case"], crossed["case"]} == {"c0001", "c0002"}
    assert severity(straight["verdict"]) == max(severity(a["verdict"]), severity(b["verdict"]))


def test_the_worst_element_by_verdict_then_share(made: Any) -> None:
    study = made.study(worst_of={"rods": ["wet", "dry", "ice"]})
    cases = [
        made.case(n, {"rods": rods}, made.terminal(1e3), arresters=[made.arrester(share)])
        for n, (rods, share) in enumerate((("wet", 0.2), ("dry", 0.9), ("ice", None)), start=1)
    ]
    (arrester,) = compose(study, cases)["summary"][0]["arresters"]
    assert (arrester["case"], arrester["verdict"]) == ("c0002", "holds")


def test_a_failed_case_takes_the_verdict_away(made: Any) -> None:
    study = made.study(alternatives={"fitted": ["none", "both"]}, worst_of={"rods": ["wet", "dry"]})
    wet, dry = ({"fitted": "both", "rods": rods} for rods in ("wet", "dry"))
    found = compose(study, [made.case(1, wet, made.terminal(1e3))], failures=[made.failure(2, dry)])
    (both,) = found["summary"]
    # the case that failed could have been the worst
    assert (both["verdict"], both["failed_cases"]) == ("not assessed", 1)
    assert both["worst"]["verdict"] == "holds"
    assert found["failures"] == [
        {
            "id": "c0002", "axes": {"fitted": "both", "rods": "dry"}, "surge": "frame struck",
            "error": "timestep too small", "try": "a finer step",
        }
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("terminal", "verdict"),
    [({"peak": 9e3}, "exceeded"), ({"peak": 1.0, "conditions": GONE}, "void")],
)
def test_a_failed_case_makes_nothing_better(
    made: Any, terminal: dict[str, Any], verdict: str
) -> None:
    study = made.study(worst_of={"rods": ["wet", "dry"]})
    case = made.case(1, {"rods": "wet"}, made.terminal(**terminal))
    found = compose(study, [case], failures=[made.failure(2, {"rods": "dry"})])
    assert found["summary"][0]["verdict"] == verdict


def test_an_alternative_all_of_whose_cases_failed_is_still_listed(made: Any) -> None:
    study = made.study(alternatives={"fitted": ["none", "both"]})
    found = compose(
        study,
        [made.case(1, {"fitted": "none"}, made.terminal(1e3))],
        failures=[made.failure(2, {"fitted": "both"})],
    )
    both = found["summary"][1]
    assert (both["verdict"], both["worst"], both["failed_cases"]) == ("not assessed", None, 1)
    assert found["summary"][0]["verdict"] == "holds"


def test_a_failed_case_without_a_level_counts_for_each(made: Any) -> None:
    study = made.study(alternatives={"card": ["II", "I"]}, worst_of={"state": ["sound", "open"]})
    cases = [
        made.case(n, {"card": card, "state": "sound"}, made.terminal(1e3))
        for n, card in ((1, "II"), (2, "I"))
    ]
    found = compose(study, cases, failures=[made.failure(3, {"card": None, "state": "open"})])
    assert [e["failed_cases"] for e in found["summary"]] == [1, 1]


def test_no_terminals_no_verdict(made: Any) -> None:
    assert compose(made.study(), [made.case(1, {})])["summary"][0]["verdict"] == "not assessed"


def test_a_failures_own_number_is_not_said_twice(made: Any) -> None:
    from dataclasses import replace

    failed = replace(made.failure(3, {}), error="c0003: energy closure of the tail window: 2 %")
    found = compose(made.study(), [], failures=[failed])
    assert found["failures"][0]["error"] == "energy closure of the tail window: 2 %"


def test_what_the_study_says_of_itself_is_kept(findings: dict[str, Any]) -> None:
    assert findings["schema"] == "surgesim.findings/1"
    assert findings["scenario"]["title"] == "Dairy"
    assert findings["engine"]["options"] == "trtol=1000"
    assert findings["asked_margin_percent"] == 25.0
    assert findings["axes"]["array earth"] == {"role": "worst of", "levels": ["wet", "dry"]}
    assert findings["not_assessed"] == [
        {"equipment": "AC port", "place": "barn", "reason": "no AC side"}
    ]
    assert findings["assumptions"] == ["arrester leads: 1 uH/m (common practice, no source)"]


def test_cautions_name_the_guesses_and_the_rule_for_duty(findings: dict[str, Any]) -> None:
    text = "\n".join(findings["cautions"])
    assert text.startswith("A simulation, not a design approval")
    assert "Limits that are guesses: modules (plus to frame)." in text
    assert "a rule of this program" in text


def test_cautions_stand_only_where_there_is_reason(made: Any) -> None:
    case = made.case(1, {}, made.terminal(1e3), arresters=[made.arrester(0.1, test_class="I")])
    text = "\n".join(compose(made.study(), [case])["cautions"])
    assert "guesses" not in text
    assert "a rule of this program" not in text


def test_a_pair_beyond_its_limit_before_any_surge_is_named(made: Any) -> None:
    """Such as the cold voltage of an array on an inverter that takes less."""
    terminal = made.terminal(1e3)
    case = made.case(1, {}, terminal)
    assert not any(
        "Before any surge" in words for words in compose(made.study(), [case])["cautions"]
    )
    terminal["bias_v"] = -1.25 * terminal["withstand_v"]
    (told,) = (w for w in compose(made.study(), [case])["cautions"] if "Before any surge" in w)
    assert f"{terminal['equipment']}, {terminal['pair']} stands at" in told
    assert f"above its {terminal['limit']['kind']}" in told


def test_nothing_is_promised(findings: dict[str, Any]) -> None:
    text = json.dumps(findings).casefold()
    assert not [word for word in PROMISES if word in text]


def test_a_surge_faster_than_the_model_resolves_is_told_with_the_limit(made: Any) -> None:
    study = made.study(alternatives={"fitted": ["none"]})
    case = made.case(1, {"fitted": "none"}, made.terminal(0.5))
    assert not any("faster" in words for words in compose(study, [case])["cautions"])
    case["surge_figures"]["t1_s"] = 20e-9
    (told,) = (words for words in compose(study, [case])["cautions"] if "faster" in words)
    assert told.startswith("Surge 'frame struck' is faster than the model resolves")
    assert "its front is 20 ns" in told
    assert "from 100 ns on" in told
