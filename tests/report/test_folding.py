"""Alternatives with one outcome share a row, and none is lost or counted twice."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from surgesim.report.folding import cell_text, fold, ranges


def test_a_factor_that_changes_nothing_is_joined() -> None:
    rows = [(("array", "II"), "x"), (("array", "I"), "x"), (("barn", "II"), "x")]
    assert [(row.cells, row.members) for row in fold(rows)] == [
        ((("array",), ("II", "I")), (0, 1)),
        ((("barn",), ("II",)), (2,)),
    ]


def test_different_outcomes_stay_apart() -> None:
    rows = [(("a",), "holds"), (("b",), "void"), (("c",), "holds")]
    assert [row.cells for row in fold(rows)] == [(("a", "c"),), (("b",),)]


def test_nothing_folds_to_nothing() -> None:
    assert fold([]) == []


@given(outcomes=st.lists(st.sampled_from("xyz"), min_size=12, max_size=12))
def test_every_alternative_is_in_exactly_one_row(outcomes: list[str]) -> None:
    levels = list(itertools.product("ab", "cde", "fg"))
    expected = dict(zip(levels, outcomes, strict=True))
    found = {}
    for row in fold(list(expected.items())):
        for combination in itertools.product(*row.cells):
            assert combination not in found
            found[combination] = row.outcome
        assert [outcomes[i] for i in row.members] == [row.outcome] * len(row.members)
    assert found == expected


def test_cells() -> None:
    assert cell_text((None,), ["a", "b"]) == "-"
    assert cell_text(("a",), ["a", "b"]) == "a"
    assert cell_text(("b", "a"), ["a", "b"]) == "either"
    assert cell_text(("a", "b", "c"), ["a", "b", "c"]) == "any"
    assert cell_text(("a", "b"), ["a", "b", "c"]) == "a / b"
    assert cell_text(("a",), ["a"]) == "a"


def test_ranges() -> None:
    assert ranges([1, 2, 3, 4, 9]) == "1-4, 9"
    assert ranges([2]) == "2"
    assert ranges([]) == ""
