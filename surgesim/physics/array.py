"""The open-circuit voltage of modules in the cold."""

from __future__ import annotations

from surgesim.errors import InputError

STC_TEMPERATURE = 298.15
"""Cell temperature of the standard test conditions, K (25 degC)."""

_ZERO = 273.15

_FACTORS = (
    (20.0, 1.02), (15.0, 1.04), (10.0, 1.06), (5.0, 1.08), (0.0, 1.10), (-5.0, 1.12),
    (-10.0, 1.14), (-15.0, 1.16), (-20.0, 1.18), (-25.0, 1.20), (-30.0, 1.21), (-35.0, 1.23),
    (-40.0, 1.25),
)  # fmt: skip
"""Lowest temperature of each row in degC, and its factor on Voc at STC."""


def voltage_by_coefficient(*, at_stc: float, coefficient: float, temperature: float) -> float:
    """Open-circuit voltage in V of cells at ``temperature`` (K), by a module's own coefficient.

    Uoc = Uoc,STC (1 + beta (T - 25 degC)), ``coefficient`` beta in 1/K, below zero
    (IEC 62548:2016 cl. 7.2, from memory).
    """
    return at_stc * (1.0 + coefficient * (temperature - STC_TEMPERATURE))


def voltage_by_table(*, at_stc: float, temperature: float) -> float:
    """Open-circuit voltage in V of crystalline silicon at ``temperature`` (K), by the table.

    Factors by rows of 5 K from 24 degC down to -40 degC (IEC 62548:2016 cl. 7.2, the same as
    NEC 690.7(A); from memory). A temperature between two rows takes the colder one; from
    25 degC up the factor is 1. Raises InputError below -40 degC, where the table ends.
    """
    degrees = round(temperature - _ZERO, 6)
    if degrees >= 25.0:
        return at_stc
    for lowest, factor in _FACTORS:
        if degrees >= lowest:
            return at_stc * factor
    raise InputError.of(
        f"the table of cold factors ends at -40 degC, and this is {degrees:g} degC",
        hint="give the modules' own 'Voc coefficient'",
    )
