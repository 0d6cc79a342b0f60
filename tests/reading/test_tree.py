"""Files that no text editor would save: every one is refused with one bounded message."""

from __future__ import annotations

import contextlib
import os
import time
from pathlib import Path

import pytest

from surgesim.errors import InputError, Problem
from surgesim.reading.tree import (
    MOST_BYTES,
    MOST_DEPTH,
    Listing,
    Mapping,
    Scalar,
    Spot,
    count_of,
    first_of,
    overlay,
    parse_tree,
    plain,
    read_tree,
    shorten,
    spot_of,
    with_entry,
)

# A stranger's file costs at most about a second on the machine this was written on. The bound
# is five times that, in time of this process alone, so that a busy machine breaks nothing.
MOST_SECONDS = 5.0

HEAD = "surgesim: 1\ntitle: hostile\n"


def refusal(data: bytes | str) -> str:
    """What is said of a file with this content, without its name."""
    start = time.process_time()
    with pytest.raises(InputError) as caught:
        parse_tree(data.encode() if isinstance(data, str) else data, "file.yaml")
    assert time.process_time() - start < MOST_SECONDS
    assert len(caught.value.problems) == 1
    text = str(caught.value.problems[0])
    assert len(text) < 400
    assert text.isprintable()
    return text.removeprefix("file.yaml:").strip()


def refusal_of(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_tree(path, shown="file.yaml")
    (problem,) = caught.value.problems
    return str(problem).removeprefix("file.yaml:").strip()


# --- what is no file of text ---------------------------------------------------------------


def test_a_directory(tmp_path: Path) -> None:
    assert refusal_of(tmp_path) == "is a folder; expected a file"


def test_a_record_in_place_of_a_scenario_is_told_from_it(tmp_path: Path) -> None:
    path = tmp_path / "barn.record"
    path.write_bytes(b"PK\x03\x04" + bytes(100))
    assert refusal_of(path) == (
        "is a zip file; expected a text; if it is a record, 'surgesim reproduce' runs it again"
    )


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert refusal_of(tmp_path / "none.yaml") == "no such file"


def test_a_file_behind_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("surgesim: 1")
    assert refusal_of(tmp_path / "file" / "x.yaml") == "cannot be read: Not a directory"


def test_a_name_that_no_file_system_takes() -> None:
    assert refusal_of(Path("x" * 2000)) == "cannot be read: File name too long"


def test_a_name_with_a_null_byte() -> None:
    with pytest.raises(InputError, match="is no file name"):
        read_tree(Path("dairy\0.yaml"))


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "secret.yaml"
    path.write_text("surgesim: 1")
    path.chmod(0)
    assert refusal_of(path) == "cannot be read: Permission denied"


def test_a_hundred_megabytes(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    with path.open("wb") as stream:
        stream.truncate(100_000_000)  # a hole: takes no room on the disk
    assert refusal_of(path) == "is larger than 1 MB; refused"


def test_as_large_as_may_be() -> None:
    rest = MOST_BYTES - len(HEAD)
    padding = ("#" * 999 + "\n") * (rest // 1000)
    assert plain(parse_tree((HEAD + padding).encode(), "f"))["title"] == "hostile"


def test_a_binary() -> None:
    assert refusal(bytes(range(256))) == "2:1: is not UTF-8 text; save the file as UTF-8"


def test_latin_1() -> None:
    latin = (HEAD + "question: Trägt er?\n").encode("latin-1")
    assert refusal(latin) == "3:1: is not UTF-8 text; save the file as UTF-8"


def test_a_null_byte() -> None:
    words = "is not well-formed YAML: special characters are not allowed"
    assert refusal(HEAD + "question: \0\n") == f"3:11: {words}"


@pytest.mark.parametrize("data", ["", "\n\n", "# only a comment\n", "---\n", "---\n...\n", "''"])
def test_nothing_in_it(data: str) -> None:
    assert refusal(data) == "is empty; expected a file that begins 'surgesim: 1'"


# --- what costs too much -------------------------------------------------------------------


def test_three_thousand_nested_braces() -> None:
    assert refusal("{" * 3000) == "1:2: a key must be plain text"


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "[\n"])
def test_deep_nesting(opening: str) -> None:
    data = "a: " + "\n" * (opening == "- ") + opening * 2000
    assert refusal(data).endswith("is nested deeper than 24 levels; refused")


def test_as_deep_as_may_be() -> None:
    def nested(levels: int) -> str:
        return "{a: " * levels + "x" + "}" * levels

    parse_tree(nested(MOST_DEPTH - 1).encode(), "f")
    assert "nested deeper" in refusal(nested(MOST_DEPTH))


def test_too_many_values() -> None:
    data = "a: [" + "1,\n" * 50_001 + "]"
    assert refusal(data) == "49998:1: holds more than 50000 values; refused"


def test_a_long_line() -> None:
    text = HEAD + "question: " + "why " * 3000
    assert refusal(text) == "3:1: line is longer than 10000 characters; refused"


# Each of these took the YAML reader more than a second, or for ever, or into a crash, when a
# line could have any length.
@pytest.mark.parametrize(
    "sign", [*"!&*%:?-'\"#~>|{[,\t\\ ", "!<", "&a ", '"\\x41" ', "a: ", "{}", "[],"]
)
@pytest.mark.parametrize("shape", ["{0}", "a: {0}", "a:\n  {0}"])
def test_one_sign_over_and_over(sign: str, shape: str) -> None:
    line = (sign * 9000)[:9000]
    data = shape.format("\n".join([line] * 100)).encode()
    start = time.process_time()
    with contextlib.suppress(InputError):
        parse_tree(data, "f")
    assert time.process_time() - start < MOST_SECONDS


# --- what YAML can do and a scenario cannot ------------------------------------------------


def test_an_alias_bomb() -> None:
    bomb = "a: &a [x, x]\n" + "\n".join(f"b{i}: &b{i} [*a, *a]" for i in range(30))
    assert refusal(bomb) == "1:4: a: is a YAML anchor or alias (& or *); write the value out"


def test_a_tag_that_would_run_code() -> None:
    data = "surgesim: !!python/object/apply:os.system ['true']\n"
    assert refusal(data) == "1:11: surgesim: has a YAML tag (!); write a plain value"


def test_values_stay_the_text_they_were_written_as() -> None:
    data = b"a: 012\nb: no\nc: 12:30\nd: 1e3\ne: ~\nf: 2026-11-25\ng: 'x'\nh:\n"
    found = {"a": "012", "b": "no", "c": "12:30", "d": "1e3", "e": "~", "f": "2026-11-25"}
    assert plain(parse_tree(data, "f")) == {**found, "g": "x", "h": ""}


def test_every_duplicate_key_is_told() -> None:
    with pytest.raises(InputError) as caught:
        parse_tree(b"a: {b: 1, b: 2}\nc: 3\nc: 4\n", "f")
    assert [str(problem) for problem in caught.value.problems] == [
        "f:1:11: a.b: key stands twice in the same place, first on line 1",
        "f:3:1: c: key stands twice in the same place, first on line 2",
    ]


def test_a_byte_order_mark_changes_nothing() -> None:
    assert parse_tree(b"\xef\xbb\xbfa: b\n", "f") == parse_tree(b"a: b\n", "f")


def test_other_line_ends_change_nothing() -> None:
    text = "a:\n  b: c\n  d: [e, f]\n"
    unix = parse_tree(text.encode(), "f")
    assert parse_tree(text.replace("\n", "\r\n").encode(), "f") == unix


# --- the tree ------------------------------------------------------------------------------


def test_overlay_merges_mappings_and_replaces_the_rest() -> None:
    base = parse_tree(b"a: {b: 1, c: [1, 2]}\nd: 4\n", "f")
    patch = parse_tree(b"a: {c: [3]}\ne: {f: 5}\n", "f")
    assert plain(overlay(base, patch)) == {"a": {"b": "1", "c": ["3"]}, "d": "4", "e": {"f": "5"}}
    assert plain(base) == {"a": {"b": "1", "c": ["1", "2"]}, "d": "4"}


def test_a_value_laid_over_is_found_where_it_stands() -> None:
    base = parse_tree(b"a: {b: 1}\n", "f")
    patch = parse_tree(b"\n\na: {b: 2}\n", "f")
    assert spot_of(overlay(base, patch), ("a", "b")) == Spot(3, 5)


def test_spot_of_what_is_missing_is_that_of_its_parent() -> None:
    tree = parse_tree(b"a:\n  b: {c: 1}\n  d: [x, y]\n", "f")
    assert spot_of(tree, ("a", "b", "none")) == Spot(2, 3)
    assert spot_of(tree, ("a", "d", 1)) == Spot(3, 10)
    assert spot_of(tree, ("a", "d", 7)) == Spot(3, 3)


def test_with_entry_leaves_the_tree_as_it_was() -> None:
    tree = parse_tree(b"a: 1\n", "f")
    assert plain(with_entry(tree, "b", Scalar("2", Spot(0, 0)))) == {"a": "1", "b": "2"}
    assert plain(tree) == {"a": "1"}


def test_count_of_counts_every_value() -> None:
    tree = parse_tree(b"a: {b: 1, c: [1, 2]}\n", "f")
    assert count_of(tree) == 6
    assert isinstance(tree.entries["a"], Mapping)
    assert isinstance(tree.entries["a"].entries["c"], Listing)


def test_shorten_keeps_a_message_on_one_line() -> None:
    assert shorten("a\nb\x1b[31m") == "a?b?[31m"
    assert shorten("x" * 2000) == "x" * 60 + "…"


def test_more_problems_than_anyone_reads() -> None:
    problems = [Problem("f", line, 1, "", "is wrong") for line in range(1, 500)]
    shown = first_of([*problems[:3], *problems], "f")
    assert len(shown) == 101
    assert str(shown[0]) == "f: has more than 100 problems; the first 100 are shown"
    assert shown[1:] == problems[:100]
