"""The comparison with golden files lets the last printed digit go, and nothing else."""

from __future__ import annotations

from collections.abc import Callable

import pytest

DECK = "* a resistor and its source\nR1 a 0 1.234567891e+02\nV1 a 0 5\n"


def test_same_text_passes(golden: Callable[[str, str], None]) -> None:
    golden("example.cir", DECK)


@pytest.mark.parametrize("number", ["1.234567890e+02", "1.234567892e+02", "123.4567891"])
def test_last_digit_and_way_of_writing_may_differ(
    number: str, golden: Callable[[str, str], None]
) -> None:
    golden("example.cir", DECK.replace("1.234567891e+02", number))


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("1.234567891e+02", "1.234567991e+02"),
        ("1.234567891e+02", "-1.234567891e+02"),
        ("V1 a 0", "V1 b 0"),
        ("R1 a", "R2 a"),
        ("V1 a 0 5\n", ""),
        ("V1 a 0 5\n", "V1 a 0 5\n.end\n"),
    ],
)
def test_anything_else_fails(
    was: str, now: str, request: pytest.FixtureRequest, golden: Callable[[str, str], None]
) -> None:
    if request.config.getoption("--update-golden"):
        pytest.skip("golden files are being rewritten")
    assert was in DECK
    with pytest.raises(pytest.fail.Exception, match=r"differs|lines"):
        golden("example.cir", DECK.replace(was, now))


def test_missing_file_fails(
    request: pytest.FixtureRequest, golden: Callable[[str, str], None]
) -> None:
    if request.config.getoption("--update-golden"):
        pytest.skip("golden files are being rewritten")
    with pytest.raises(pytest.fail.Exception, match="no golden file"):
        golden("never-written.cir", DECK)
