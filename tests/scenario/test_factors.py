"""What varies: cases, levels that make no difference, overlays, and choosing among them."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from surgesim.errors import InputError
from surgesim.scenario.factors import ALTERNATIVES, WORST_OF
from surgesim.scenario.file import Case, ScenarioFile, load, loads

ROOT = Path(__file__).resolve().parents[2]
FACTORS = ROOT / "tests" / "scenarios" / "valid" / "factors.yaml"
DAIRY = ROOT / "scenarios" / "brackenmoss-dairy.yaml"


@pytest.fixture(scope="module")
def file() -> ScenarioFile:
    return load(FACTORS)


def case_of(file: ScenarioFile, surge: str, **levels: str | None) -> Case:
    axes = {name.replace("_", " "): level for name, level in levels.items()}
    (case,) = [case for case in file.all_cases if case.axes == axes and case.surge == surge]
    return case


def test_factors_stand_in_file_order_with_their_role(file: ScenarioFile) -> None:
    roles = {factor.name: factor.role for factor in file.factors}
    assert roles == {
        "fitted": ALTERNATIVES, "card": ALTERNATIVES, "spare": ALTERNATIVES,
        "arrester tolerance": WORST_OF, "rods": WORST_OF,
    }  # fmt: skip
    assert [level.name for level in file.factors[2].levels] == ["left", "taken out", "doubled"]


def test_nothing_fitted_is_one_case_whatever_the_card(file: ScenarioFile) -> None:
    fitted = Counter(case.axes["fitted"] for case in file.all_cases)
    # none: 3 spares, 2 rods, 2 surges; the others: times 2 cards and 2 tolerances
    assert fitted == {"none": 12, "room": 48, "both": 48}
    for case in file.all_cases:
        free = case.axes["fitted"] == "none"
        assert (case.axes["card"] is None) == free
        assert (case.axes["arrester tolerance"] is None) == free


def test_equal_cases_are_run_once(file: ScenarioFile) -> None:
    texts = [repr(case.scenario) for case in file.all_cases]
    assert len(set(texts)) == len(texts) == 108


def test_cases_are_numbered_in_order_and_found_by_id(file: ScenarioFile) -> None:
    assert [case.id for case in file.all_cases[:2]] == ["c0001", "c0002"]
    assert file.case("c0108") == file.all_cases[-1]


def test_a_case_that_is_not_there(file: ScenarioFile) -> None:
    with pytest.raises(InputError) as caught:
        file.case("c0109")
    words = "no case 'c0109'; there are c0001 to c0108"
    assert str(caught.value) == f"{FACTORS}: {words}"


def test_slots_and_card(file: ScenarioFile) -> None:
    levels = {"spare": "left", "arrester_tolerance": "low", "rods": "wet"}
    both = case_of(file, "struck", fitted="both", card="class I", **levels).scenario
    assert list(both.arresters) == ["array box", "room box"]
    assert {slot.card for slot in both.arresters.values()} == {"pv 1000 class I"}
    assert set(both.cards) >= {"pv 1000 class I"}
    assert "pv 1000 class II" not in both.cards
    assert both.arrester_tolerance == "low"
    room = case_of(file, "struck", fitted="room", card="class II", **levels).scenario
    assert list(room.arresters) == ["room box"]


def test_an_overlay_changes_adds_and_removes(file: ScenarioFile) -> None:
    def cables(spare: str) -> list[str]:
        case = case_of(
            file, "grazed", fitted="none", card=None, spare=spare, arrester_tolerance=None,
            rods="dry",
        )  # fmt: skip
        assert case.scenario.earths["rods"].measured == 70.0
        return list(case.scenario.cables)

    assert cables("left") == ["field run", "spare run"]
    assert cables("taken out") == ["field run"]
    assert cables("doubled") == ["field run", "spare run", "second spare"]


def test_a_level_keeps_what_it_does_not_name(file: ScenarioFile) -> None:
    (case,) = [c for c in file.cases(chosen={"rods": ["wet"]}) if c.id == file.all_cases[0].id]
    earth = case.scenario.earths["rods"]
    assert (earth.measured, earth.inductance, earth.bar) == (30.0, 2e-6, "pe")


def test_choosing_levels_keeps_the_cases_they_make_no_difference_to(file: ScenarioFile) -> None:
    chosen = file.cases(chosen={"fitted": ["none", "room"], "card": ["class I"]})
    assert Counter(case.axes["fitted"] for case in chosen) == {"none": 12, "room": 24}
    assert {case.axes["card"] for case in chosen} == {None, "class I"}
    assert file.cases() == file.all_cases


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"fited": ["none"]}, "no factor 'fited'; did you mean 'fitted'?"),
        (
            {"fitted": ["all"]},
            "factor 'fitted' has no level 'all'; known: 'none', 'room', 'both'",
        ),
    ],
)
def test_choosing_what_is_not_there(
    file: ScenarioFile, chosen: dict[str, list[str]], words: str
) -> None:
    with pytest.raises(InputError) as caught:
        file.cases(chosen=chosen)
    (problem,) = caught.value.problems
    assert f"{problem.message}; {problem.hint}" == words


def test_claims(file: ScenarioFile) -> None:
    (claim,) = file.claims.values()
    assert claim.alternative == {"fitted": "both", "card": "class I"}
    assert (claim.equipment, claim.pair, claim.margin) == ("inverter", "plus to pe", 0.25)


def test_two_levels_that_come_to_the_same_are_one_case() -> None:
    text = FACTORS.read_text(encoding="utf-8")
    spare = text.replace("taken out: {cables: {spare run: removed}}", "taken out: {}")
    assert len(loads(spare).all_cases) == 108  # of three levels two are equal: both stay named
    two = spare.replace(text[text.index("    doubled") : text.index("worst of")], "")
    cases = loads(two).all_cases
    assert {case.axes["spare"] for case in cases} == {None}
    assert len(cases) == 36


def test_a_thing_may_be_removed_by_two_levels() -> None:
    text = FACTORS.read_text(encoding="utf-8").replace(
        "worst of:\n", "worst of:\n  thief: {away: {}, at work: {cables: {spare run: removed}}}\n"
    )
    cables = {
        (case.axes["spare"], case.axes["thief"]): list(case.scenario.cables)
        for case in loads(text).all_cases
    }
    assert cables["left", "at work"] == ["field run"]
    assert cables["doubled", "at work"] == ["field run", "second spare"]
    assert cables["taken out", None] == ["field run"]


def test_the_dairy() -> None:
    dairy = load(DAIRY)
    surges = {case.surge for case in dairy.all_cases}
    fitted = Counter(case.axes["fitted"] for case in dairy.all_cases)
    # none: 2 bonds, 2 earths, 2 surges; the others: times 2 cards and 3 tolerances
    assert fitted == {"none": 8, "array only": 48, "barn only": 48, "both": 48}
    assert len(surges) == 2
    assert dairy.title == "Brackenmoss dairy barn"
    assert dairy.question.startswith("One arrester at the array")
