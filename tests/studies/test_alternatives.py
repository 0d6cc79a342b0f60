from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.studies.alternatives import covers, group
from surgesim.studies.info import AxisInfo


def alternative(*levels: str) -> AxisInfo:
    return AxisInfo(role="alternative", levels=levels)


def worst_of(*levels: str) -> AxisInfo:
    return AxisInfo(role="worst of", levels=levels)


FITTED, CARD = alternative("none", "array", "both"), alternative("II", "I")


def test_one_alternative_where_nothing_is_to_choose() -> None:
    axes = {"rods": worst_of("wet", "dry")}
    assert group(axes, [{"rods": "wet"}, {"rods": "dry"}]) == {(): [0, 1]}


def test_a_level_that_makes_no_difference_appears_once() -> None:
    axes = {"fitted": FITTED, "card": CARD}
    cases: list[dict[str, str | None]] = [
        {"fitted": "none", "card": None},
        {"fitted": "both", "card": "II"},
        {"fitted": "both", "card": "I"},
    ]
    assert group(axes, cases) == {("none", None): [0], ("both", "II"): [1], ("both", "I"): [2]}


def test_a_case_without_a_level_belongs_to_each() -> None:
    # an element of the arrester open: then the card makes no difference, whatever is chosen
    axes = {"card": CARD, "state": worst_of("sound", "open")}
    cases: list[dict[str, str | None]] = [
        {"card": "II", "state": "sound"},
        {"card": "I", "state": "sound"},
        {"card": None, "state": "open"},
    ]
    assert group(axes, cases) == {("II",): [0, 2], ("I",): [1, 2]}


def test_cases_that_each_know_one_axis_meet_in_the_choices() -> None:
    axes = {"card": CARD, "bond": alternative("no", "yes"), "state": worst_of("open", "broken")}
    cases: list[dict[str, str | None]] = [
        {"card": None, "bond": "no", "state": "open"},
        {"card": None, "bond": "yes", "state": "open"},
        {"card": "II", "bond": None, "state": "broken"},
        {"card": "I", "bond": None, "state": "broken"},
    ]
    assert group(axes, cases) == {
        ("II", "no"): [0, 2], ("II", "yes"): [1, 2], ("I", "no"): [0, 3], ("I", "yes"): [1, 3],
    }  # fmt: skip


def test_a_worst_of_level_does_not_make_alternatives() -> None:
    axes = {"fitted": FITTED, "rods": worst_of("wet", "dry")}
    cases: list[dict[str, str | None]] = [
        {"fitted": f, "rods": r} for f, r in itertools.product(("none", "both"), ("wet", "dry"))
    ]
    assert group(axes, cases) == {("none",): [0, 1], ("both",): [2, 3]}


def test_order_is_that_of_the_levels_not_of_the_cases() -> None:
    cases = [{"fitted": level} for level in ("both", "none", "array")]
    assert list(group({"fitted": FITTED}, cases)) == [("none",), ("array",), ("both",)]


def test_what_a_choice_that_was_not_run_shares_is_not_an_alternative() -> None:
    axes = {"card": CARD, "state": worst_of("sound", "open")}
    cases: list[dict[str, str | None]] = [
        {"card": "II", "state": "sound"},
        {"card": None, "state": "open"},
    ]
    assert group(axes, cases) == {("II",): [0, 1]}


def test_levels_that_were_not_run_are_left_out() -> None:
    assert group({"fitted": FITTED}, [{"fitted": "both"}]) == {("both",): [0]}


@pytest.mark.parametrize("case", [{"fitted": "some"}, {"fited": "none"}])
def test_a_case_on_no_level_is_an_error(case: dict[str, str | None]) -> None:
    with pytest.raises(ValueError, match="expected a level of the study's axes but got"):
        group({"fitted": FITTED}, [case])


def test_covers() -> None:
    case = {"fitted": "none", "card": None}
    assert covers(case, {})
    assert covers(case, {"card": "II"})
    assert covers(case, {"fitted": "none", "card": "I"})
    assert not covers(case, {"fitted": "both"})


levels = st.sampled_from(["a", "b", None])


@given(st.lists(st.tuples(levels, levels, levels), min_size=1, max_size=12))
def test_every_case_belongs_somewhere_and_nowhere_it_should_not(
    rows: list[tuple[str | None, str | None, str | None]],
) -> None:
    axes = {"x": alternative("a", "b"), "y": alternative("a", "b"), "z": alternative("a", "b")}
    cases = [dict(zip(axes, row, strict=True)) for row in rows]
    groups = group(axes, cases)
    assert {index for members in groups.values() for index in members} == set(range(len(cases)))
    for chosen, members in groups.items():
        assert members == sorted(set(members))
        for index in members:
            assert all(own in (level, None) for own, level in zip(rows[index], chosen, strict=True))
