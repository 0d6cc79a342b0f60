"""How numbers are printed for people: two or three significant digits and a fitting prefix.

A computed value gets two digits below ten and three above (``9.4 kV``, ``54.6 kV``, ``166 kV``,
``0.83 C``, ``0.61 us``); a value somebody stated (a withstand, a rating) is printed as stated,
to four digits. Units are written in ASCII. The same value always prints as the same text.
"""

from __future__ import annotations

import math
import re

# For each unit: what is printed, its size in SI, and the smallest absolute value printed so.
# Charge stays in coulombs down to 0.01 C and times in microseconds down to 0.1 us, because the
# trade compares them with ratings and fronts given in those units.
_PREFIXES: dict[str, tuple[tuple[str, float, float], ...]] = {
    "V": (("MV", 1e6, 1e6), ("kV", 1e3, 1e3), ("V", 1.0, 1.0), ("mV", 1e-3, 0.0)),
    "A": (
        ("MA", 1e6, 1e6),
        ("kA", 1e3, 1e3),
        ("A", 1.0, 1.0),
        ("mA", 1e-3, 1e-3),
        ("uA", 1e-6, 0.0),
    ),
    "C": (("C", 1.0, 0.01), ("mC", 1e-3, 1e-3), ("uC", 1e-6, 0.0)),
    "J": (("MJ", 1e6, 1e6), ("kJ", 1e3, 1e3), ("J", 1.0, 1.0), ("mJ", 1e-3, 0.0)),
    "J/ohm": (
        ("MJ/ohm", 1e6, 1e6),
        ("kJ/ohm", 1e3, 1e3),
        ("J/ohm", 1.0, 1.0),
        ("mJ/ohm", 1e-3, 0.0),
    ),
    "ohm": (("Mohm", 1e6, 1e6), ("kohm", 1e3, 1e3), ("ohm", 1.0, 1.0), ("mohm", 1e-3, 0.0)),
    "s": (("s", 1.0, 1.0), ("ms", 1e-3, 1e-3), ("us", 1e-6, 1e-7), ("ns", 1e-9, 0.0)),
    "V/us": (("MV/us", 1e6, 1e6), ("kV/us", 1e3, 1e3), ("V/us", 1.0, 0.0)),
    "A/us": (("kA/us", 1e3, 1e3), ("A/us", 1.0, 0.0)),
}

ABSENT = "-"

# Stands for the blank between a number and its unit while lines are broken, so that ``0.83`` and
# ``C`` stay together. A private-use character: no name or note contains it, and unlike the
# no-break space it does not count as a blank when lines are broken.
_GLUE = "\ue000"
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:[kMmun]?(?:V|A|C|J|s|ohm|J/ohm)|%|x)(?![\w-]))")

_MOST_DIGITS = 7


def quantity(value: float | None, unit: str) -> str:
    """A computed value with its unit, to two or three digits; ``-`` when there is none.

    ``value`` in SI units of ``unit``, one of V, A, C, J, J/ohm, ohm, s, V/us, A/us.
    """
    if value is None:
        return ABSENT
    if value == 0.0:
        return f"0 {unit}"
    mantissa, symbol = _scaled(value, unit)
    digits = 2 if abs(mantissa) < 10.0 else 3
    return f"{_without_idle_zero(_significant(mantissa, digits))} {symbol}"


def melting(value: float) -> str:
    """An integral of current squared as fuses have it, to three digits: ``5600 A2s``."""
    if value < 1.0:
        return "less than 1 A2s"
    return f"{float(f'{value:.3g}'):.15g} A2s"


def in_thousands(value: float | None) -> str:
    """A number of thousands without its unit, for a column whose head names it: ``12.5``."""
    if value is None:
        return ABSENT
    if abs(value) < 1.0:
        return "0.0"
    mantissa = value / 1e3
    return _without_idle_zero(_significant(mantissa, 2 if abs(mantissa) < 10.0 else 3))


def signed(value: float | None, unit: str) -> str:
    """As :func:`quantity`, with a plus sign before a positive value."""
    text = quantity(value, unit)
    return f"+{text}" if value is not None and value > 0.0 else text


def stated(value: float | None, unit: str) -> str:
    """A value given by the user or a card, kept to four digits: ``1.25 kV``, ``6.0 kV``."""
    if value is None:
        return ABSENT
    if value == 0.0:
        return f"0 {unit}"
    mantissa, symbol = _scaled(value, unit)
    number = _significant(mantissa, 4)
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    if "." not in number and abs(float(number)) < 10.0:
        number += ".0"
    return f"{number} {symbol}"


def apart(value: float, limit: float, unit: str) -> str:
    """A computed value with as many digits as it takes not to read like ``limit``.

    5.98 kV against a withstand of 6.0 kV would both print as 6.0 kV: the one place where a
    reader needs the third digit.
    """
    text, other = quantity(value, unit), stated(limit, unit)
    digits = 3
    while _same_number(text, other) and value != limit and digits <= _MOST_DIGITS:
        mantissa, symbol = _scaled(value, unit)
        text = f"{_significant(mantissa, digits)} {symbol}"
        digits += 1
    return text


def margin(percent: float | None) -> str:
    """A margin in percent, rounded down: a margin below the one asked never reads as met."""
    if percent is None:
        return ABSENT
    if percent > 1000.0:
        return ">1000 %"
    step = 1.0 if abs(percent) >= 10.0 else 0.1
    # 1e-9 keeps 25.0, when stored as 24.9999999999996, from printing as 24.
    floored = math.floor(percent / step + 1e-9) * step
    return f"{floored:.0f} %" if abs(floored) >= 10.0 else f"{floored + 0.0:.1f} %"


def percentage(percent: float) -> str:
    """A percentage somebody stated: ``25 %``, ``12.5 %``."""
    return f"{percent:.4g} %"


def share(fraction: float | None) -> str:
    """A share of a rating in percent, rounded up: one beyond its rating never reads 100 %."""
    if fraction is None:
        return ABSENT
    percent = fraction * 100.0
    if percent < 1.0:
        return "<1 %"
    return f"{math.ceil(percent - 1e-9):d} %"


def times(factor: float) -> str:
    """How many times something is another: ``2.4 x``; more digits where 1.0 would mislead."""
    digits = 2 if abs(factor) < 10.0 else 3
    text = _significant(factor, digits)
    while float(text) == 1.0 and factor != 1.0 and digits < _MOST_DIGITS:
        digits += 1
        text = _significant(factor, digits)
    return f"{_without_idle_zero(text)} x"


def ratio(value: float | None) -> str:
    """The ratio withstand over peak: ``0.64``, ``2.9``."""
    if value is None:
        return ABSENT
    return ">1000" if value > 1000.0 else _significant(value, 3 if value >= 1.0 else 2)


def steepness(per_second: float, unit: str) -> str:
    """Steepest rise of a surge, given in ``unit`` per second, printed per microsecond."""
    return quantity(per_second * 1e-6, f"{unit}/us")


def glued(text: str) -> str:
    """Text with every number tied to its unit, to be broken into lines and then unglued."""
    return _NUMBER_AND_UNIT.sub(_GLUE, text)


def unglued(text: str) -> str:
    """The text before :func:`glued`."""
    return text.replace(_GLUE, " ")


def _scaled(value: float, unit: str) -> tuple[float, str]:
    """Mantissa and printed unit, the prefix chosen after rounding: 999.7 V is 1.0 kV."""
    if not math.isfinite(value):
        raise ValueError(f"expected a finite number of {unit}, got {value}")
    rounded = abs(float(f"{value:.2e}"))
    for symbol, size, smallest in _PREFIXES[unit]:
        if rounded >= smallest:
            return value / size, symbol
    raise AssertionError(f"the smallest prefix of {unit} must start at zero")


def _significant(value: float, digits: int) -> str:
    """``value`` to ``digits`` significant digits in plain notation, zeros kept."""
    scientific = f"{value:.{digits - 1}e}"
    exponent = int(scientific.partition("e")[2])
    return f"{float(scientific):.{max(digits - 1 - exponent, 0)}f}"


def _without_idle_zero(number: str) -> str:
    """``12.0`` as ``12``; ``6.0`` stays, so that two digits are always seen."""
    return number[:-2] if number.endswith(".0") and abs(float(number)) >= 10.0 else number


def _same_number(text: str, other: str) -> bool:
    """Whether two printed quantities read alike, signs aside."""
    number, _, symbol = text.lstrip("+-").partition(" ")
    other_number, _, other_symbol = other.lstrip("+-").partition(" ")
    return symbol == other_symbol and float(number) == float(other_number)
