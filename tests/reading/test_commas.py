"""A number with a comma can mean two things; both are offered and neither is chosen."""

from __future__ import annotations

import pytest

from surgesim.reading.commas import comma_advice, has_comma


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("1,5 kV", "write a point, '1.5 kV'"),
        ("0,75 m", "write a point, '0.75 m'"),
        ("1,2345 m", "write a point, '1.2345 m'"),
        ("1,500 V", "write '1.500 V' or '1500 V', whichever is meant"),
        ("1.234,5 V", "write the number without separators, with a point for decimals"),
        ("1,234.5 V", "write the number without separators, with a point for decimals"),
        ("1,234,567 V", "write the number without separators, with a point for decimals"),
    ],
)
def test_advice(text: str, advice: str) -> None:
    assert has_comma(text)
    assert comma_advice(text) == advice


@pytest.mark.parametrize("text", ["1.5 kV", "a, b", "1, 2", ",5", "5,"])
def test_no_comma_between_digits(text: str) -> None:
    assert not has_comma(text)
