from __future__ import annotations

from typing import Any

import pytest

from surgesim.studies.compare import compose
from surgesim.studies.info import ClaimInfo


def claim(**axes: str) -> ClaimInfo:
    return ClaimInfo(
        name="both will do", axes=axes, equipment="inverter", pair="plus to pe", asked_percent=50.0
    )


def checked(made: Any, told: ClaimInfo, *rows: tuple[str, dict[str, Any]]) -> dict[str, Any]:
    """The claim held against rows of (array earth, terminal), all with both fitted."""
    study = made.study(
        alternatives={"fitted": ["none", "both"], "card": ["II", "I"]},
        worst_of={"array earth": ["wet", "dry"]},
        claims=[told],
    )
    cases = [
        made.case(
            n, {"fitted": "both", "card": None, "array earth": rods}, made.terminal(**terminal)
        )
        for n, (rods, terminal) in enumerate(rows, start=1)
    ]
    (found,) = compose(study, cases)["claims"]
    return dict(found)


def test_met_at_the_worst_case(made: Any) -> None:
    found = checked(made, claim(fitted="both"), ("wet", {"peak": 2e3}), ("dry", {"peak": 4e3}))
    assert found["found_percent"] == pytest.approx(50.0)
    assert (found["met"], found["case"], found["verdict"]) == (True, "c0002", "holds")
    assert (found["name"], found["asked_percent"]) == ("both will do", 50.0)
    assert found["axes"] == {"fitted": "both"}


def test_swapping_the_numbers_moves_the_case(made: Any) -> None:
    found = checked(made, claim(fitted="both"), ("wet", {"peak": 4e3}), ("dry", {"peak": 2e3}))
    assert found["case"] == "c0001"


@pytest.mark.parametrize(
    ("terminal", "margin"),
    [
        ({"peak": 4.01e3}, 49.6),
        ({"peak": 9e3}, -33.3),
        ({"peak": 1e3, "conditions": ["x, y: flashed over at 1 us"]}, 500.0),
    ],
)
def test_not_met(made: Any, terminal: dict[str, Any], margin: float) -> None:
    found = checked(made, claim(), ("wet", terminal))
    assert not found["met"]
    assert found["found_percent"] == pytest.approx(margin, rel=1e-2)


def test_not_met_when_the_insulation_fired(made: Any) -> None:
    found = checked(made, claim(), ("wet", {"peak": None}), ("dry", {"peak": 1e3}))
    assert (found["met"], found["found_percent"], found["verdict"]) == (False, None, "exceeded")


def test_a_level_that_makes_no_difference_is_claimed_all_the_same(made: Any) -> None:
    assert checked(made, claim(fitted="both", card="I"), ("wet", {"peak": 1e3}))["met"]


def test_an_axis_of_the_worst_can_be_named(made: Any) -> None:
    told = claim(fitted="both", **{"array earth": "wet"})
    assert checked(made, told, ("wet", {"peak": 1e3}), ("dry", {"peak": 9e3}))["met"]


def test_a_pair_nobody_measured_is_not_met(made: Any) -> None:
    found = checked(made, claim(), ("wet", {"peak": 1e3, "pair": "minus to pe"}))
    assert (found["met"], found["verdict"], found["case"]) == (False, "not assessed", None)


def test_a_pair_without_any_voltage_meets_every_margin(made: Any) -> None:
    assert checked(made, claim(), ("wet", {"peak": 0.0}))["met"]


def test_a_case_without_a_result_is_not_met(made: Any) -> None:
    study = made.study(alternatives={"fitted": ["none", "both"]}, claims=[claim(fitted="both")])
    both, none = {"fitted": "both"}, {"fitted": "none"}
    cases = [made.case(1, both, made.terminal(1e3))]
    assert not compose(study, cases, failures=[made.failure(2, both)])["claims"][0]["met"]
    assert not compose(study, [], failures=[made.failure(2, both)])["claims"][0]["met"]
    assert compose(study, cases, failures=[made.failure(2, none)])["claims"][0]["met"]


def test_a_claim_of_what_was_not_run_is_said_to_be_unchecked(made: Any) -> None:
    study = made.study(alternatives={"fitted": ["none", "both"]}, claims=[claim(fitted="both")])
    found = compose(study, [made.case(1, {"fitted": "none"}, made.terminal(1e3))])
    assert found["claims"] == []
    assert "Claim 'both will do' was not checked: its case was not run." in found["cautions"]
