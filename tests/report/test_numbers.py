"""How numbers are printed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.report import numbers

UNITS = ["V", "A", "C", "J", "J/ohm", "ohm", "s", "V/us", "A/us"]
SIZES = {"M": 1e6, "k": 1e3, "": 1.0, "m": 1e-3, "u": 1e-6, "n": 1e-9}


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (9400.0, "V", "9.4 kV"),
        (-9400.0, "V", "-9.4 kV"),
        (54_600.0, "V", "54.6 kV"),
        (166_000.0, "V", "166 kV"),
        (12_000.0, "V", "12 kV"),
        (999.7, "V", "1.0 kV"),
        (9960.0, "V", "10 kV"),
        (99_960.0, "V", "100 kV"),
        (874.0, "V", "874 V"),
        (0.83, "C", "0.83 C"),
        (0.022, "C", "0.022 C"),
        (0.0012, "C", "1.2 mC"),
        (0.61e-6, "s", "0.61 us"),
        (8e-9, "s", "8.0 ns"),
        (350e-6, "s", "350 us"),
        (2.5e-3, "s", "2.5 ms"),
        (3600.0, "A", "3.6 kA"),
        (38.0, "ohm", "38 ohm"),
        (12_300.0, "J/ohm", "12.3 kJ/ohm"),
        (0.0, "V", "0 V"),
        (-0.0, "V", "0 V"),
        (None, "V", "-"),
    ],
)
def test_a_computed_value(value: float | None, unit: str, text: str) -> None:
    assert numbers.quantity(value, unit) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(6000.0, "6.0 kV"), (1250.0, "1.25 kV"), (12_500.0, "12.5 kV"), (8000.0, "8.0 kV"),
     (12_000.0, "12 kV"), (1100.0, "1.1 kV"), (600.0, "600 V"), (0.0, "0 V"), (None, "-")],
)  # fmt: skip
def test_a_stated_value_keeps_its_digits(value: float | None, text: str) -> None:
    assert numbers.stated(value, "V") == text


def test_sign_is_shown_when_asked_for() -> None:
    assert numbers.signed(9400.0, "V") == "+9.4 kV"
    assert numbers.signed(-9400.0, "V") == "-9.4 kV"
    assert numbers.signed(None, "V") == "-"


@pytest.mark.parametrize(("percent", "text"), [
    (186.9, "186 %"), (24.99, "24 %"), (25.0, "25 %"), (24.9999999999996, "25 %"),
    (9.99, "9.9 %"), (0.04, "0.0 %"), (-0.01, "-0.1 %"), (-36.2, "-37 %"), (-9.96, "-10 %"),
    (2e5, ">1000 %"), (None, "-"),
])  # fmt: skip
def test_a_margin_is_rounded_down(percent: float | None, text: str) -> None:
    assert numbers.margin(percent) == text


def test_a_share_beyond_its_rating_never_reads_as_full() -> None:
    assert numbers.share(1.0) == "100 %"
    assert numbers.share(1.0004) == "101 %"
    assert numbers.share(0.001) == "<1 %"
    assert numbers.share(None) == "-"


def test_times_shows_the_digit_that_matters() -> None:
    assert numbers.times(2.38) == "2.4 x"
    assert numbers.times(1.004) == "1.004 x"
    assert numbers.times(12.0) == "12 x"


def test_a_peak_just_below_its_limit_is_told_from_it() -> None:
    assert numbers.apart(5980.0, 6000.0, "V") == "5.98 kV"
    assert numbers.apart(-5999.6, 6000.0, "V") == "-5.9996 kV"
    assert numbers.apart(5400.0, 6000.0, "V") == "5.4 kV"
    assert numbers.apart(6000.0, 6000.0, "V") == "6.0 kV"


def test_ratio_and_steepness() -> None:
    assert numbers.ratio(0.6383) == "0.64"
    assert numbers.ratio(2.857) == "2.86"
    assert numbers.ratio(1e6) == ">1000"
    assert numbers.ratio(None) == "-"
    assert numbers.steepness(4.1e9, "A") == "4.1 kA/us"


def test_in_thousands() -> None:
    assert numbers.in_thousands(12_500.0) == "12.5"
    assert numbers.in_thousands(44.0) == "0.044"
    assert numbers.in_thousands(0.2) == "0.0"
    assert numbers.in_thousands(None) == "-"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        numbers.quantity(value, "V")


# The relative tolerance is half a unit in the second digit of 1.0: the coarsest rounding there is.
@given(
    value=st.floats(1e-8, 9e8).flatmap(lambda size: st.sampled_from([size, -size])),
    unit=st.sampled_from(UNITS),
)
def test_what_is_printed_is_the_value(value: float, unit: str) -> None:
    number, _, symbol = numbers.quantity(value, unit).partition(" ")
    size = SIZES[symbol.removesuffix(unit)]
    assert float(number) * size == pytest.approx(value, rel=0.05)
    assert len(number.lstrip("-").replace(".", "").lstrip("0")) <= 12


@given(value=st.floats(1.0, 9.9e8), unit=st.sampled_from(["V", "A", "J", "ohm"]))
def test_two_or_three_digits(value: float, unit: str) -> None:
    number = numbers.quantity(value, unit).split()[0]
    assert 2 <= len(number.replace(".", "")) <= 3


@given(percent=st.floats(-100.0, 1000.0))
def test_no_margin_is_flattered(percent: float) -> None:
    assert float(numbers.margin(percent).removesuffix(" %")) <= percent + 1e-6


@given(value=st.floats(1.0, 1e6), limit=st.floats(1.0, 1e6))
def test_different_values_read_differently(value: float, limit: float) -> None:
    if abs(value / limit - 1.0) > 1e-3 and float(f"{limit:.3e}") == limit:
        assert numbers.apart(value, limit, "V") != numbers.stated(limit, "V")
