"""Quantities as people write them, ``62 m`` or ``2.4 kV``, to SI floats and back.

Strict on purpose: a decimal comma, a missing unit or a wrong one is an error that says what
would have fitted, because a general reader turns ``1,5 kV`` into 15 kV without a word.

Every unit is a power of ten of the SI unit (temperature adds an offset), and numbers go
through decimal arithmetic, so ``parse(format(x)) == x`` holds for every finite float.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from surgesim.reading.commas import comma_advice, has_comma

KELVIN_OFFSET = Decimal("273.15")


@dataclass(frozen=True, slots=True, eq=False)
class Dimension:
    """A kind of quantity: its name, its units as powers of ten, and an example to show."""

    name: str
    units: dict[str, int]
    example: str
    offset: Decimal = Decimal(0)


def _prefixed(symbol: str, prefixes: str) -> dict[str, int]:
    powers = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
    return {prefix + symbol: powers[prefix] for prefix in [*prefixes.replace("1", ""), ""]}


LENGTH = Dimension("length", {"mm": -3, "cm": -2, "m": 0, "km": 3}, "62 m")
AREA = Dimension("cross-section", {"mm2": -6, "cm2": -4, "m2": 0}, "6 mm2")
VOLTAGE = Dimension("voltage", _prefixed("V", "mkM"), "2.5 kV")
CURRENT = Dimension("current", _prefixed("A", "umk"), "20 kA")
RESISTANCE = Dimension("resistance", _prefixed("ohm", "umkMG"), "38 ohm")
RESISTIVITY = Dimension("soil resistivity", {"ohm m": 0, "kohm m": 3}, "170 ohm m")
FIELD = Dimension("electric field", {"V/m": 0, "kV/m": 3}, "400 kV/m")
RESISTANCE_PER_LENGTH = Dimension(
    "resistance per length", {"mohm/m": -3, "ohm/m": 0, "ohm/km": -3, "mohm/km": -6}, "3.3 mohm/m"
)
INDUCTANCE = Dimension("inductance", _prefixed("H", "num"), "2 uH")
INDUCTANCE_PER_LENGTH = Dimension(
    "inductance per length", {"nH/m": -9, "uH/m": -6, "mH/km": -6}, "1 uH/m"
)
CAPACITANCE = Dimension("capacitance", _prefixed("F", "pnu"), "22 nF")
CAPACITANCE_PER_POWER = Dimension(
    "capacitance per power", {"nF per kW": -12, "uF per kW": -9}, "80 nF per kW"
)
POWER = Dimension("power", {"W": 0, "kW": 3}, "400 W")
TIME = Dimension("time", _prefixed("s", "num"), "10 us")
SPEED = Dimension("velocity", {"m/s": 0, "km/s": 3, "m/us": 6}, "200 m/us")
RATE = Dimension("rate", {"per s": 0, "per ms": 3, "per us": 6}, "2500 per s")
CUBIC_RATE = Dimension("cubic rate", {"per s3": 0, "per us3": 18}, "0.01243 per us3")
SPECIFIC_ENERGY = Dimension("specific energy", {"A2s": 0, "J/ohm": 0, "kJ/ohm": 3}, "9000 A2s")
CHARGE = Dimension("charge", _prefixed("C", "um"), "2.5 C")
FLASH_DENSITY = Dimension(
    "flash density", {"per km2 per year": 0, "/km2/year": 0}, "1.3 per km2 per year"
)
PER_YEAR = Dimension("frequency of events", {"per year": 0}, "0.02 per year")
TEMPERATURE = Dimension("temperature", {"degC": 0}, "-14 degC", KELVIN_OFFSET)
PERCENT = Dimension("percentage", {"%": -2}, "25 %")
PER_KELVIN = Dimension("change per kelvin", {"% per K": -2, "%/K": -2}, "-0.26 % per K")
NUMBER = Dimension("plain number", {"": 0}, "0.93")

DIMENSIONS = (
    LENGTH, AREA, VOLTAGE, CURRENT, RESISTANCE, RESISTIVITY, FIELD, RESISTANCE_PER_LENGTH,
    INDUCTANCE, INDUCTANCE_PER_LENGTH, CAPACITANCE, CAPACITANCE_PER_POWER, POWER, TIME, SPEED, RATE,
    CUBIC_RATE, SPECIFIC_ENERGY, CHARGE, FLASH_DENSITY, PER_YEAR, TEMPERATURE, PERCENT,
    PER_KELVIN,
)  # fmt: skip

_FORM = re.compile(r"([+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*)", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[\s_'’]\d{3})+(?!\d)")
# Both micro signs, both ohm signs, raised digits and the degree sign.
_SPELLINGS = str.maketrans(
    {
        "\u00b5": "u",
        "\u03bc": "u",
        "\u2126": "ohm",
        "\u03a9": "ohm",
        "\u00b2": "2",
        "\u00b3": "3",
        "\u00b0": "deg",
    }
)
_SMALLEST = 1e-300
_LONGEST = 60
_PLAIN_DIGITS = 20


def parse(text: str, dimension: Dimension) -> float:
    """Read ``text`` as a quantity of ``dimension``; its SI value.

    Raises ValueError with a message that says what was expected.
    """
    text = " ".join(text.split())
    shown = _shown(text)
    match = _FORM.fullmatch(text.translate(_SPELLINGS))
    if match is None:
        raise ValueError(_why_not_a_number(shown, dimension))
    number, unit = match[1], match[2]
    if unit not in dimension.units:
        raise ValueError(_why_not_this_unit(unit, shown, dimension))
    exact = Decimal(number).scaleb(dimension.units[unit]) + dimension.offset
    value = float(exact)
    if not math.isfinite(value) or (exact != 0 and abs(value) < _SMALLEST):
        raise ValueError(f"{shown!r} is outside what a number can hold")
    return value


def format_quantity(value: float, dimension: Dimension) -> str:
    """Write an SI value with the unit that reads best; reading it gives the same float."""
    exact = Decimal(repr(value)) - dimension.offset
    unit = _best_unit(exact, dimension)
    number = exact.scaleb(-dimension.units[unit]).normalize()
    digits = format(number, "f")
    if len(digits) > _PLAIN_DIGITS:
        digits = format(number, "E")
    return f"{digits} {unit}".strip()


def _shown(text: str) -> str:
    line = "".join(letter if letter.isprintable() else "?" for letter in text[: _LONGEST + 1])
    return line if len(line) <= _LONGEST else line[:_LONGEST] + "…"


def _best_unit(exact: Decimal, dimension: Dimension) -> str:
    """The largest unit that leaves a number of at least one, first spelling winning."""
    smallest = min(dimension.units, key=lambda name: dimension.units[name])
    base = next((unit for unit, power in dimension.units.items() if power == 0), smallest)
    if exact == 0:
        return base
    fitting = [u for u, power in dimension.units.items() if abs(exact).scaleb(-power) >= 1]
    return max(fitting, key=lambda name: dimension.units[name], default=smallest)


def _why_not_a_number(shown: str, dimension: Dimension) -> str:
    expected = f"expected a {dimension.name} such as {dimension.example!r}"
    if not shown:
        return f"has no value; {expected}"
    if has_comma(shown):
        return f"{shown!r} has a comma between digits; {comma_advice(shown)}"
    return f"{shown!r} is not a quantity; {expected}"


def _why_not_this_unit(unit: str, shown: str, dimension: Dimension) -> str:
    fits = ", ".join(name for name in dimension.units if name)
    if not dimension.units.keys() - {""}:
        return f"{shown!r} has a unit; expected a plain number such as {dimension.example!r}"
    if not unit:
        return f"{shown!r} has no unit; expected a {dimension.name}, in one of: {fits}"
    if has_comma(shown):
        return f"{shown!r} has a comma between digits; {comma_advice(shown)}"
    if _GROUPED.match(shown):
        joined = re.sub(r"(?<=\d)\D(?=\d{3})", "", shown)
        return f"{shown!r} groups its digits; write them without separators, {joined!r}"
    if unit[0].isdigit():
        return f"{shown!r} is not one number and a unit; expected such as {dimension.example!r}"
    others = [d.name for d in DIMENSIONS if unit in d.units]
    if others:
        return f"{shown!r} is a {others[0]}; expected a {dimension.name}, in one of: {fits}"
    alike = [name for name in dimension.units if name.lower() == unit.lower()]
    hint = f"; did you mean {' or '.join(repr(name) for name in alike)}?" if alike else ""
    return f"{shown!r}: unit {_shown(unit)[:20]!r} is not one of: {fits}{hint}"


@dataclass(frozen=True, slots=True)
class Quantity:
    """Marks a float field as a quantity: ``Annotated[float, Quantity(VOLTAGE)]``.

    It is read from text with its unit and written back as such. ``bound`` is ``any``,
    ``positive`` or ``not negative``; ``most`` is the largest magnitude that can be meant.
    """

    dimension: Dimension
    bound: str = "positive"
    most: float = math.inf

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self._read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda value: format_quantity(value, self.dimension), return_schema=None
            ),
        )

    def _read(self, text: object) -> float:
        try:
            if not isinstance(text, str):
                raise ValueError(
                    f"expected a {self.dimension.name} such as {self.dimension.example!r}"
                )
            value = parse(text, self.dimension)
            self._refuse_outside(value, text)
        except ValueError as error:
            raise PydanticCustomError("quantity", "{words}", {"words": str(error)}) from None
        return value

    def _refuse_outside(self, value: float, text: str) -> None:
        if self.bound == "positive" and value <= 0:
            raise ValueError(f"{_shown(text)!r} must be more than zero")
        if self.bound == "not negative" and value < 0:
            raise ValueError(f"{_shown(text)!r} must not be negative")
        if abs(value) > self.most:
            most = format_quantity(self.most, self.dimension)
            raise ValueError(f"{_shown(text)!r} is more than can be meant (at most {most})")
