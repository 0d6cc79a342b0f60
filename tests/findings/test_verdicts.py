from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.findings.verdicts import (
    SEVERITY,
    arrester_verdict,
    margin_percent,
    severity,
    terminal_verdict,
)


@pytest.mark.parametrize(
    ("ratio", "fired", "conditional", "expected"),
    [
        (2.0, False, False, "holds"),
        (1.25, False, False, "holds"),  # the 0.8 Uw rule, met to the digit
        (1.2499, False, False, "thin"),
        (1.0, False, False, "thin"),  # at its limit, not beyond it
        (0.9999, False, False, "exceeded"),
        (2.0, False, True, "void"),
        (1.1, False, True, "void"),
        (0.9, False, True, "exceeded"),  # beyond the limit all the same
        (None, True, False, "exceeded"),
        (None, True, True, "exceeded"),
        (None, False, False, "holds"),  # no voltage at all
        (None, False, True, "void"),
    ],
)
def test_terminal_verdict(
    ratio: float | None, fired: bool, conditional: bool, expected: str
) -> None:
    verdict = terminal_verdict(
        fired=fired, ratio=ratio, asked_percent=25.0, conditional=conditional
    )
    assert verdict == expected


def test_margin_of_the_eighty_percent_rule() -> None:
    # IEEE C62.22 (from memory): margin = withstand / peak - 1; 6 kV against 4.8 kV is 25 %
    assert margin_percent(6000 / 4800) == pytest.approx(25.0, abs=1e-12)
    assert margin_percent(None) is None


def test_order_of_severity() -> None:
    assert SEVERITY == ("not assessed", "holds", "thin", "void", "exceeded")


ratios = st.none() | st.floats(0.01, 100)


@given(ratios, ratios, st.floats(0, 100), st.booleans())
def test_a_smaller_ratio_is_never_a_milder_verdict(
    one: float | None, other: float | None, asked: float, conditional: bool
) -> None:
    def rank(ratio: float | None) -> int:
        return severity(
            terminal_verdict(fired=False, ratio=ratio, asked_percent=asked, conditional=conditional)
        )

    small, large = sorted((one, other), key=lambda r: float("inf") if r is None else r)
    assert rank(small) >= rank(large)


@given(ratios, st.floats(0, 100), st.booleans())
def test_a_condition_or_a_flashover_never_makes_a_verdict_milder(
    ratio: float | None, asked: float, fired: bool
) -> None:
    def rank(*, conditional: bool, fired: bool) -> int:
        return severity(
            terminal_verdict(fired=fired, ratio=ratio, asked_percent=asked, conditional=conditional)
        )

    assert rank(conditional=True, fired=fired) >= rank(conditional=False, fired=fired)
    assert rank(conditional=fired, fired=True) >= rank(conditional=fired, fired=False)


@pytest.mark.parametrize(
    ("shares", "expected"),
    [
        ({"peak": 0.2, "charge": 1.0}, "holds"),
        ({"peak": 0.2, "charge": 1.01}, "exceeded"),
        ({"peak": None, "charge": None}, "not assessed"),
        ({"peak": None, "continuous": 1.2}, "exceeded"),
        ({"peak": None, "continuous": 0.9}, "holds"),
    ],
)
def test_arrester_verdict(shares: dict[str, float | None], expected: str) -> None:
    assert arrester_verdict(shares) == expected
