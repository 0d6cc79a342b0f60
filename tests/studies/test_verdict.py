from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from surgesim.errors import InputError
from surgesim.studies.compare import compose
from surgesim.studies.info import ClaimInfo, StudyInfo
from surgesim.studies.verdict import HELD, NO_RESULT, NOT_MET, alternative_text, exit_code, named

Dairy = Callable[[], tuple[StudyInfo, list[dict[str, Any]]]]


@pytest.fixture
def findings(dairy_study: Dairy) -> dict[str, Any]:
    """Only both with class I holds."""
    return compose(*dairy_study())


def texts(findings: dict[str, Any], name: str) -> list[str]:
    return [alternative_text(entry) for entry in named(findings, name)]


def test_compare_is_content_with_one_that_holds(findings: dict[str, Any]) -> None:
    assert exit_code(findings, command="compare") == HELD


def test_run_wants_all(findings: dict[str, Any]) -> None:
    assert exit_code(findings, command="run") == NOT_MET


def test_run_held(made: Any) -> None:
    found = compose(made.study(), [made.case(1, {}, made.terminal(1e3))])
    assert exit_code(found, command="run") == HELD


@pytest.mark.parametrize("command", ["run", "compare"])
@pytest.mark.parametrize("peak", [5e3, 7e3, None])
def test_none_holds(made: Any, command: Any, peak: float | None) -> None:
    found = compose(made.study(), [made.case(1, {}, made.terminal(peak))])
    assert exit_code(found, command=command) == NOT_MET


@pytest.mark.parametrize(
    ("require", "code"),
    [
        (["both + class I"], HELD),
        (["both + class II"], NOT_MET),
        (["both"], NOT_MET),  # one of the two does not
        (["class I"], NOT_MET),  # at the array only it does not
        (["both + class I", "none"], NOT_MET),
    ],
)
def test_required(findings: dict[str, Any], require: list[str], code: int) -> None:
    assert exit_code(findings, command="compare", require=require) == code


@pytest.mark.parametrize("command", ["run", "compare"])
def test_a_case_without_a_result_wins(dairy_study: Dairy, made: Any, command: Any) -> None:
    study, cases = dairy_study()
    failed = made.failure(99, {"fitted": "none", "card": None, "array earth": "wet"})
    assert exit_code(compose(study, cases, failures=[failed]), command=command) == NO_RESULT


def test_nothing_run_is_no_result(made: Any) -> None:
    assert exit_code(compose(made.study(), []), command="compare") == NO_RESULT


@pytest.mark.parametrize("command", ["run", "compare"])
@pytest.mark.parametrize(("asked", "code"), [(400.0, HELD), (600.0, NOT_MET)])
def test_claims_count(made: Any, command: Any, asked: float, code: int) -> None:
    claim = ClaimInfo(
        name="n", axes={}, equipment="inverter", pair="plus to pe", asked_percent=asked
    )
    found = compose(made.study(claims=[claim]), [made.case(1, {}, made.terminal(1e3))])
    assert exit_code(found, command=command) == code


def test_it_follows_the_object_and_nothing_else(findings: dict[str, Any]) -> None:
    swapped = copy.deepcopy(findings)
    (held,) = (entry for entry in swapped["summary"] if entry["verdict"] == "holds")
    held["verdict"] = "thin"
    assert exit_code(swapped, command="compare") == NOT_MET


def test_what_a_name_stands_for(findings: dict[str, Any]) -> None:
    assert texts(findings, "none") == ["none"]
    assert texts(findings, "both") == ["both + class II", "both + class I"]
    assert texts(findings, "class I") == ["array only + class I", "both + class I"]
    assert texts(findings, "both + class I") == ["both + class I"]
    assert texts(findings, "class I + both") == ["both + class I"]


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("bothh", "did you mean 'both'?"),
        ("both + clas I", "did you mean 'both + class I'?"),
        ("none + class I", ""),  # both are levels, but no alternative has them together
        ("dry", ""),  # a level the worst is taken over, not a choice
        ("", ""),
    ],
)
def test_an_unknown_name_is_bad_input(findings: dict[str, Any], name: str, hint: str) -> None:
    with pytest.raises(InputError, match="no alternative is named") as caught:
        exit_code(findings, command="compare", require=[name])
    assert hint in caught.value.hint
    assert caught.value.hint
    assert caught.value.exit_code == 2


def with_bond(made: Any) -> dict[str, Any]:
    study = made.study(alternatives={"fitted": ["none", "a + b"], "bond": ["none", "in the duct"]})
    cases = [
        made.case(n, {"fitted": fitted, "bond": bond}, made.terminal(1e3))
        for n, (fitted, bond) in enumerate(
            (f, b) for f in ("none", "a + b") for b in ("none", "in the duct")
        )
    ]
    return compose(study, cases)


def test_a_level_of_two_axes_names_neither(made: Any) -> None:
    with pytest.raises(InputError, match="'none' is a level of 'fitted' and of 'bond'") as caught:
        named(with_bond(made), "none")
    assert "write the alternative out" in caught.value.hint


def test_written_out_it_names_one(made: Any) -> None:
    assert texts(with_bond(made), "none + none") == ["none + none"]
    assert texts(with_bond(made), "none + in the duct") == ["none + in the duct"]


def test_a_level_may_itself_hold_the_joint(made: Any) -> None:
    assert texts(with_bond(made), "a + b") == ["a + b + none", "a + b + in the duct"]
    assert texts(with_bond(made), "a + b + none") == ["a + b + none"]


def test_one_wiring_without_choices_has_no_name(made: Any) -> None:
    found = compose(made.study(), [made.case(1, {}, made.terminal(1e3))])
    with pytest.raises(InputError, match="no alternative is named 'both'"):
        named(found, "both")
