"""Quantities: strict reading, writing that reads back to the same float, and pint as oracle."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.reading.form import Form
from surgesim.reading.quantities import (
    AREA,
    CAPACITANCE,
    CUBIC_RATE,
    CURRENT,
    DIMENSIONS,
    FLASH_DENSITY,
    LENGTH,
    NUMBER,
    PER_YEAR,
    PERCENT,
    RATE,
    RESISTANCE,
    RESISTIVITY,
    TEMPERATURE,
    TIME,
    VOLTAGE,
    Dimension,
    Quantity,
    format_quantity,
    parse,
)

ALL = [*DIMENSIONS, NUMBER]
LINEAR = [dimension for dimension in ALL if dimension is not TEMPERATURE]

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()

# How pint spells what the trade writes. Flash density is a count per area and time; pint has no
# dimension for a count, and its year is not exact in seconds, so it stands by itself below.
SPELT = {"mm2": "mm**2", "cm2": "cm**2", "m2": "m**2", "%": "percent", "": "dimensionless",
         "per s": "1/s", "per ms": "1/ms", "per us": "1/us", "per s3": "1/s**3",
         "per us3": "1/us**3", "% per K": "percent/delta_degC", "%/K": "percent/delta_degC",
         "A2s": "A**2*s", "nF per kW": "nF/kW", "uF per kW": "uF/kW"}  # fmt: skip
SI = {"length": "m", "cross-section": "m**2", "voltage": "V", "current": "A", "resistance": "ohm",
      "soil resistivity": "ohm*m", "resistance per length": "ohm/m", "inductance": "H",
      "inductance per length": "H/m", "capacitance": "F", "capacitance per power": "F/W",
      "power": "W", "specific energy": "A**2*s", "time": "s",
      "velocity": "m/s", "rate": "1/s", "cubic rate": "1/s**3",
      "charge": "C", "electric field": "V/m", "percentage": "dimensionless",
      "change per kelvin": "1/delta_degC",
      "plain number": "dimensionless"}  # fmt: skip


def spelt(unit: str) -> str:
    return SPELT.get(unit, unit).replace("ohm m", "ohm*m")


def names(dimension: Dimension) -> str:
    return dimension.name


def sensible(low: float = 1e-290, high: float = 1e290) -> st.SearchStrategy[float]:
    """Zero and floats of either sign over all but the last decades a float has."""
    positive = st.floats(low, high)
    return st.one_of(st.just(0.0), positive, positive.map(lambda x: -x))


# --- reading back --------------------------------------------------------------------------


@pytest.mark.parametrize("dimension", LINEAR, ids=names)
@given(value=sensible())
def test_what_is_written_reads_back_to_the_same_float(dimension: Dimension, value: float) -> None:
    assert parse(format_quantity(value, dimension), dimension) == value


# From a microkelvin up: below, the 28 digits of decimal arithmetic no longer hold both the value
# and the 273.15 between the scales.
@given(value=st.floats(1e-6, 1e9))
def test_a_temperature_reads_back_to_the_same_float(value: float) -> None:
    assert parse(format_quantity(value, TEMPERATURE), TEMPERATURE) == value


@pytest.mark.parametrize("dimension", ALL, ids=names)
@given(data=st.data())
def test_any_unit_is_the_power_of_ten_it_says(dimension: Dimension, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(list(dimension.units)))
    digits = data.draw(st.decimals(-1_000_000, 1_000_000, places=4))
    exact = Fraction(digits) * Fraction(10) ** dimension.units[unit] + Fraction(dimension.offset)
    assert parse(f"{digits} {unit}", dimension) == float(exact)


@pytest.mark.parametrize("dimension", LINEAR, ids=names)
@given(value=sensible(1e-30, 1e30))
def test_what_is_written_is_short_and_has_a_known_unit(dimension: Dimension, value: float) -> None:
    text = format_quantity(value, dimension)
    number, _, unit = text.partition(" ")
    assert unit in dimension.units
    assert len(number) <= 26  # 17 digits, sign, point, exponent; or 20 digits at most
    assert math.isfinite(float(number))


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (62.0, LENGTH, "62 m"),
        (0.3, LENGTH, "30 cm"),
        (2400.0, VOLTAGE, "2.4 kV"),
        (6e-6, AREA, "6 mm2"),
        (2.2e-8, CAPACITANCE, "22 nF"),
        (170.0, RESISTIVITY, "170 ohm m"),
        (0.25, PERCENT, "25 %"),
        (0.0, CAPACITANCE, "0 F"),
        (1.3, FLASH_DENSITY, "1.3 per km2 per year"),
        (259.15, TEMPERATURE, "-14 degC"),
        (0.93, NUMBER, "0.93"),
        (2468930.0, RATE, "2.46893 per us"),
        (1.243e16, CUBIC_RATE, "12430000000000000 per s3"),
        (1e-40, TIME, "1E-31 ns"),
    ],
)
def test_the_unit_that_reads_best(value: float, dimension: Dimension, text: str) -> None:
    assert format_quantity(value, dimension) == text


# --- pint as oracle ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dimension", "unit"),
    [(d, u) for d in LINEAR if d not in (FLASH_DENSITY, PER_YEAR) for u in d.units],
    ids=lambda x: x.name if isinstance(x, Dimension) else x,
)
@settings(max_examples=25)
@given(number=st.floats(1e-6, 1e6))
def test_pint_agrees(dimension: Dimension, unit: str, number: float) -> None:
    theirs = UNITS.Quantity(number, spelt(unit)).to(SI[dimension.name]).magnitude
    # pint multiplies floats by powers of ten in two or three steps of one rounding each
    assert parse(f"{Decimal(number)} {unit}", dimension) == pytest.approx(theirs, rel=1e-15)


@given(number=st.floats(-200, 1000))
def test_pint_agrees_on_temperatures(number: float) -> None:
    theirs = UNITS.Quantity(number, "degC").to("K").magnitude
    # one rounding of a sum of the order of 1000 K
    assert parse(f"{Decimal(number)} degC", TEMPERATURE) == pytest.approx(theirs, abs=3e-13)


def test_what_is_counted_by_the_year_is_kept_as_written() -> None:
    assert parse("0.02 per year", PER_YEAR) == 0.02
    assert parse("1.3 per km2 per year", FLASH_DENSITY) == 1.3
    assert parse("1.3 /km2/year", FLASH_DENSITY) == 1.3


# --- strictness ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("62 m", 62.0),
        ("62m", 62.0),
        ("  62   m ", 62.0),
        ("+62 m", 62.0),
        ("-.5 km", -500.0),
        ("6.2e1 m", 62.0),
        ("6.2E+01 m", 62.0),
        ("0062 m", 62.0),
        ("62\u00a0m", 62.0),
        ("-0 m", 0.0),
    ],
)
def test_lengths_that_are_read(text: str, value: float) -> None:
    assert parse(text, LENGTH) == value


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("", LENGTH, "has no value; expected a length such as '62 m'"),
        ("m", LENGTH, "'m' is not a quantity; expected a length such as '62 m'"),
        ("62.", LENGTH, "'62.': unit '.' is not one of: mm, cm, m, km"),
        ("0x10 m", LENGTH, "'0x10 m': unit 'x10 m' is not one of: mm, cm, m, km"),
        ("nan m", LENGTH, "'nan m' is not a quantity; expected a length such as '62 m'"),
        ("inf m", LENGTH, "'inf m' is not a quantity; expected a length such as '62 m'"),
        ("٦٢ m", LENGTH, "'٦٢ m' is not a quantity; expected a length such as '62 m'"),
        ("62 m\n63 m", LENGTH, "'62 m 63 m': unit 'm 63 m' is not one of: mm, cm, m, km"),
        ("62 m long", LENGTH, "'62 m long': unit 'm long' is not one of: mm, cm, m, km"),
        ("62 M", LENGTH, "'62 M': unit 'M' is not one of: mm, cm, m, km; did you mean 'm'?"),
        ("5-6 m", LENGTH, "'5-6 m': unit '-6 m' is not one of: mm, cm, m, km"),
        ("1e5000 m", LENGTH, "'1e5000 m' is not one number and a unit; expected such as '62 m'"),
        ("1.5.2 m", LENGTH, "'1.5.2 m': unit '.2 m' is not one of: mm, cm, m, km"),
        ("1e999 m", LENGTH, "'1e999 m' is outside what a number can hold"),
        ("1e-999 m", LENGTH, "'1e-999 m' is outside what a number can hold"),
        ("2 m", TIME, "'2 m' is a length; expected a time, in one of: ns, us, ms, s"),
        ("2 F", CURRENT, "'2 F' is a capacitance; expected a current, in one of: uA, mA, kA, A"),
        ("6 mm", AREA, "'6 mm' is a length; expected a cross-section, in one of: mm2, cm2, m2"),
        (
            "100 ohm",
            RESISTIVITY,
            "'100 ohm' is a resistance; expected a soil resistivity, in one of: ohm m, kohm m",
        ),
        ("0.93 m", NUMBER, "'0.93 m' has a unit; expected a plain number such as '0.93'"),
        ("25", PERCENT, "'25' has no unit; expected a percentage, in one of: %"),
        (
            "5 mv",
            VOLTAGE,
            "'5 mv': unit 'mv' is not one of: mV, kV, MV, V; did you mean 'mV' or 'MV'?",
        ),
        ("1,5 kV", VOLTAGE, "'1,5 kV' has a comma between digits; write a point, '1.5 kV'"),
        (
            "1,500 V",
            VOLTAGE,
            "'1,500 V' has a comma between digits; write '1.500 V' or '1500 V', whichever is meant",
        ),
        (
            "1,234,567 V",
            VOLTAGE,
            "'1,234,567 V' has a comma between digits; write the number without separators, "
            "with a point for decimals",
        ),
        ("1 5 V", VOLTAGE, "'1 5 V' is not one number and a unit; expected such as '2.5 kV'"),
    ],
)  # fmt: skip
def test_what_is_refused(text: str, dimension: Dimension, words: str) -> None:
    with pytest.raises(ValueError, match=r".") as caught:
        parse(text, dimension)
    assert str(caught.value) == words


@pytest.mark.parametrize("sign", [" ", "_", "'", "’", "\u00a0", "\u202f"])
def test_grouped_digits_are_refused(sign: str) -> None:
    with pytest.raises(ValueError, match="groups its digits") as caught:
        parse(f"1{sign}500{sign}000 V", VOLTAGE)
    assert str(caught.value).endswith("write them without separators, '1500000 V'")


@pytest.mark.parametrize("text", ["9" * 10_000 + " m", "0." + "1" * 10_000, "1 " + "m" * 10_000])
def test_a_long_quantity_is_answered_briefly(text: str) -> None:
    with pytest.raises(ValueError, match="…") as caught:
        parse(text, LENGTH)
    assert len(str(caught.value)) < 200


def test_ten_thousand_decimals_are_one_number() -> None:
    assert parse("0." + "3" * 10_000 + " m", LENGTH) == 1 / 3


@given(text=st.text(max_size=30))
def test_no_text_gives_anything_but_a_number_or_a_reason(text: str) -> None:
    for dimension in (LENGTH, NUMBER, TEMPERATURE):
        try:
            value = parse(text, dimension)
        except ValueError as error:
            reason = str(error)
        else:
            assert math.isfinite(value)
            continue
        assert reason.isprintable()
        assert len(reason) < 300


# --- as a field ----------------------------------------------------------------------------


class _Fields(Form):
    positive: Annotated[float, Quantity(LENGTH, most=100.0)] = 1.0
    not_negative: Annotated[float, Quantity(LENGTH, bound="not negative")] = 0.0
    any: Annotated[float, Quantity(LENGTH, bound="any", most=100.0)] = 0.0


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("positive", "0 m", "'0 m' must be more than zero"),
        ("positive", "-1 m", "'-1 m' must be more than zero"),
        ("positive", "101 m", "'101 m' is more than can be meant (at most 100 m)"),
        ("not negative", "-1 m", "'-1 m' must not be negative"),
        ("any", "-101 m", "'-101 m' is more than can be meant (at most 100 m)"),
        ("any", 5, "expected a length such as '62 m'"),
    ],
)
def test_bounds(key: str, text: object, words: str) -> None:
    with pytest.raises(ValueError, match=re.escape(words)):
        _Fields.model_validate({key: text})


def test_a_field_is_written_as_it_is_read() -> None:
    fields = _Fields.model_validate({"positive": "62 m", "not negative": "0 m", "any": "-3 m"})
    assert fields.written() == {"positive": "62 m", "not negative": "0 m", "any": "-3 m"}
    assert _Fields.model_validate(fields.written()) == fields


def test_every_example_reads_in_its_own_dimension() -> None:
    for dimension in ALL:
        assert math.isfinite(parse(dimension.example, dimension))


def test_only_milli_and_mega_differ_by_case_alone() -> None:
    for dimension in ALL:
        folded = [unit.lower() for unit in dimension.units]
        twins = {unit for unit in dimension.units if folded.count(unit.lower()) > 1}
        assert all(unit.startswith(("m", "M")) for unit in twins)


def test_resistance_units() -> None:
    assert parse("2 Mohm", RESISTANCE) == 2e6
    assert parse("2 mohm", RESISTANCE) == 2e-3
