"""Axes of a sweep: what their words mean, and which are refused."""

from __future__ import annotations

import itertools
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.errors import InputError
from surgesim.reading.tree import parse_tree, plain
from surgesim.scenario.axes import EXAMPLE, asked, axes_of, axis, laid, number_of


@pytest.mark.parametrize(
    ("words", "levels"),
    [
        ("10 m, 20 m, 40 m", ("10 m", "20 m", "40 m")),
        ("10 m to 40 m in 4 values", ("10 m", "20 m", "30 m", "40 m")),
        ("1 ohm to 100 ohm in 3 log values", ("1 ohm", "10 ohm", "100 ohm")),
        ("1 to 3 ohm in 3 values", ("1 ohm", "2 ohm", "3 ohm")),
        ("-20 degC to 20 degC in 2 values", ("-20 degC", "20 degC")),
        ("pv 1000 class I, pv 1000 class II", ("pv 1000 class I", "pv 1000 class II")),
        (["one, with a comma", "another"], ("one, with a comma", "another")),
    ],
)
def test_levels(words: str | list[str], levels: tuple[str, ...]) -> None:
    assert axis("cables.a.length", words).levels == levels


def test_numbers_are_known_where_all_levels_are() -> None:
    lengths = axis("cables.a.length", "10 m, 20.5 m")
    assert (lengths.unit, lengths.numbers) == ("m", (10.0, 20.5))
    assert axis("arresters.a.card", "pv 1000 class I, pv 600 class II").unit is None
    assert axis("earths.a.measured", "1 kohm, 20 ohm").unit is None


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("", f"has no values; {EXAMPLE}"),
        ("10 m,, 20 m", f"has no values; {EXAMPLE}"),
        ([], f"has no values; {EXAMPLE}"),
        ("10 m, 10 m", "names the value '10 m' twice"),
        ("20 m to 10 m in 5 values", f"'20 m to 10 m in 5 values' does not rise; {EXAMPLE}"),
        (
            "10 m to 9 ohm in 5 values",
            "'10 m to 9 ohm in 5 values' begins and ends in different units",
        ),
        ("0 m to 9 m log", "'0 m to 9 m log' is spread by ratio and must begin above zero"),
        ("1 m to 2 m in 1 values", "expected a number of values from 2 to 100000 but got '1'"),
        ("1 m to 2 m in 9999999999 values", "from 2 to 100000 but got '9999999999'"),
        ("near to far in 3 values", f"'near to far in 3 values' is no range; {EXAMPLE}"),
    ],
)
def test_refused(words: str | list[str], told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(told)):
        axis("cables.a.length", words)


def test_a_path_needs_its_steps() -> None:
    words = "expected a path such as 'cables.field run.length'"
    with pytest.raises(ValueError, match=re.escape(words)):
        axis("cables..length", "1 m, 2 m")


def test_a_level_that_is_no_number_has_none() -> None:
    with pytest.raises(ValueError, match="expected a number and a unit but got 'pv 600'"):
        number_of("pv 600")


def test_everything_wrong_on_a_command_line_is_told_at_once() -> None:
    with pytest.raises(InputError) as raised:
        asked([("a.b", ""), ("c.d", "1 m"), ("c.d", "2 m")])
    assert [problem.path for problem in raised.value.problems] == ["a.b", "c.d"]


@given(
    low=st.floats(1e-3, 1e3),
    ratio=st.floats(1.01, 1e4),
    count=st.integers(2, 50),
    log=st.booleans(),
)
def test_a_range_rises_from_end_to_end(low: float, ratio: float, count: int, *, log: bool) -> None:
    how = "log values" if log else "values"
    found = axis("a.b", f"{low:.6f} m to {low * ratio:.6f} m in {count} {how}")
    numbers = found.numbers
    assert len(numbers) == count
    # six digits are kept
    assert math.isclose(numbers[0], low, rel_tol=1e-3)
    assert math.isclose(numbers[-1], low * ratio, rel_tol=1e-3)
    assert all(a <= b for a, b in itertools.pairwise(numbers))


TREE = parse_tree(b"a: {b: {c: 1 m}, d: {c: 1 m}}\nsweep: {a.b.c and a.d.c: '1 m, 2 m'}\n", "file")


def test_several_paths_vary_together() -> None:
    (both,) = axes_of(TREE, "file")
    there = plain(laid(TREE, [both], {both.name: "2 m"}))
    assert there["a"] == {"b": {"c": "2 m"}, "d": {"c": "2 m"}}


def test_a_path_that_leads_nowhere_names_what_is_there() -> None:
    lost = axis("a.e.c", "1 m, 2 m")
    with pytest.raises(InputError, match=r"no 'e' in path 'a.e.c'"):
        laid(TREE, [lost], {lost.name: "2 m"})


def test_a_section_that_is_wrong_is_located() -> None:
    tree = parse_tree(b"a: {}\nsweep:\n  a.b: 3 m to 1 m in 3 values\n", "file.yaml")
    with pytest.raises(InputError) as raised:
        axes_of(tree, "file.yaml")
    (problem,) = raised.value.problems
    assert (problem.line, problem.path) == (3, "sweep.a.b")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (b"sweep: {a.b: {c: 1 m}}", f"expected values; {EXAMPLE}"),
        (b"sweep: {}", "expected axes below it"),
    ],
)
def test_a_section_without_axes_or_values_is_refused(text: bytes, told: str) -> None:
    with pytest.raises(InputError, match=re.escape(told)):
        axes_of(parse_tree(text, "file.yaml"), "file.yaml")
