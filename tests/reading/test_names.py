"""Names: what is allowed, which count as the same, and the nearest one to a misspelling."""

from __future__ import annotations

import time
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.reading.names import (
    collisions,
    complaint_about,
    did_you_mean,
    folded,
    known_names,
    nearest,
)


@pytest.mark.parametrize(
    "name",
    [
        "array",
        "Barn wall 2",
        "納屋",
        "16 mm²",
        "$a; rm -rf *",
        "é",
        "x" * 60,
        "'",
        "a: b",
        "#1",
        "0",
    ],
)
def test_names_that_can_be_used(name: str) -> None:
    assert complaint_about(name) == ""


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "a name must not be empty"),
        ("   ", "a name must not be empty"),
        (" a", "a name has no spaces at its ends and no double ones"),
        ("a ", "a name has no spaces at its ends and no double ones"),
        ("a  b", "a name has no spaces at its ends and no double ones"),
        # looks like a plain one, and the terminals of such a place would be found by neither
        ("a\u00a0b", "a name has plain spaces only, no wide or unbreakable ones"),
        ("a\u3000b", "a name has plain spaces only, no wide or unbreakable ones"),
        ("x" * 61, "a name has at most 60 characters"),
        ("a.b", 'a name cannot hold any of . " / |'),
        ('a"b', 'a name cannot hold any of . " / |'),
        ("a/b", 'a name cannot hold any of . " / |'),
        ("a|b", 'a name cannot hold any of . " / |'),
        ("a\n.control", "a name is one line of printable characters"),
        ("a\tb", "a name is one line of printable characters"),
        ("a\x00b", "a name is one line of printable characters"),
        ("a\u2028b", "a name is one line of printable characters"),
        ("a\u202eb", "a name is one line of printable characters"),  # turns a line round
        ("a\u200bb", "a name is one line of printable characters"),  # takes no room
        ("a\ud800b", "a name is one line of printable characters"),
        ("e\u0301", "a name must be in composed Unicode (NFC)"),
    ],
)
def test_names_that_cannot(name: str, words: str) -> None:
    assert complaint_about(name) == words


@given(name=st.text(min_size=1, max_size=70))
def test_a_name_without_complaint_is_one_printable_line(name: str) -> None:
    if not complaint_about(name):
        assert len(name.splitlines()) == 1
        assert unicodedata.normalize("NFC", name) == name
        assert not set(name) & set('."/|')


@pytest.mark.parametrize(
    ("a", "b"),
    [("Room", "room"), ("STRASSE", "straße"), ("ｐｅ", "pe"), ("field\u00a0run", "field run"),
     ("ﬁeld", "field"), ("mm²", "mm2")],
)  # fmt: skip
def test_names_that_count_as_the_same(a: str, b: str) -> None:
    assert folded(a) == folded(b)
    assert collisions([a, "other", b]) == [(a, b)]


def test_equal_names_are_no_collision() -> None:
    assert collisions(["a", "b", "a"]) == []


@pytest.mark.parametrize(
    ("name", "known", "hint"),
    [
        ("lenght", ["length", "width"], "did you mean 'length'?"),
        ("LENGTH", ["length", "width"], "did you mean 'length'?"),
        ("colour", ["length", "width"], "known: 'length', 'width'"),
        ("colour", [], ""),
        ("colour", [f"thing number {i}" for i in range(40)], ""),
    ],
)
def test_hints(name: str, known: list[str], hint: str) -> None:
    assert did_you_mean(name, known) == hint


def test_a_hint_is_bounded_in_length_and_time() -> None:
    known = [f"{i} " + "x" * 55 for i in range(20_000)]
    start = time.process_time()
    assert len(did_you_mean("y" * 100_000, known)) < 300
    assert time.process_time() - start < 5.0  # it takes about a hundredth of that
    assert known_names(known) == ""
    assert nearest("z", known) is None
