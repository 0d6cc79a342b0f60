"""Open-circuit voltage of modules in the cold."""

from __future__ import annotations

import pytest

from surgesim.errors import InputError
from surgesim.physics.array import voltage_by_coefficient, voltage_by_table

ZERO = 273.15

# Lowest and highest whole degree of each row and its factor: the table for crystalline silicon
# of IEC 62548:2016 cl. 7.2, the same as that of NEC 690.7(A), both from memory.
ROWS = [
    (20, 24, 1.02), (15, 19, 1.04), (10, 14, 1.06), (5, 9, 1.08), (0, 4, 1.10), (-5, -1, 1.12),
    (-10, -6, 1.14), (-15, -11, 1.16), (-20, -16, 1.18), (-25, -21, 1.20), (-30, -26, 1.21),
    (-35, -31, 1.23), (-40, -36, 1.25),
]  # fmt: skip


@pytest.mark.parametrize(("lowest", "highest", "factor"), ROWS)
def test_factors_of_the_table(lowest: int, highest: int, factor: float) -> None:
    for degrees in (lowest, highest):
        volts = voltage_by_table(at_stc=1000.0, temperature=degrees + ZERO)
        assert volts == pytest.approx(1000.0 * factor, abs=1e-9)


def test_between_two_rows_the_colder_one_counts() -> None:
    assert voltage_by_table(at_stc=100.0, temperature=-10.5 + ZERO) == pytest.approx(116.0)


def test_cells_no_colder_than_the_test_conditions_have_their_voltage() -> None:
    assert voltage_by_table(at_stc=100.0, temperature=25.0 + ZERO) == 100.0


def test_below_the_table_nothing_is_guessed() -> None:
    with pytest.raises(InputError, match="the table of cold factors ends at -40 degC"):
        voltage_by_table(at_stc=100.0, temperature=-40.1 + ZERO)


@pytest.mark.parametrize(("lowest", "factor"), [(row[0], row[2]) for row in ROWS])
def test_the_table_is_a_coefficient_of_four_tenths_of_a_percent(lowest: int, factor: float) -> None:
    """At the cold end of each row down to -25 degC it is 0.40 %/K, below that 0.38 (computed)."""
    coefficient = -0.0040 if lowest >= -25 else -0.00385
    by_coefficient = voltage_by_coefficient(
        at_stc=1.0, coefficient=coefficient, temperature=lowest + ZERO
    )
    # two digits of the table, and what 0.385 leaves of 0.382
    assert by_coefficient == pytest.approx(factor, abs=0.006)


@pytest.mark.parametrize(
    ("voc", "number", "coefficient", "degrees", "cold"),
    [
        # worked example: 20 modules of 49.5 V, -0.27 %/K, -10 degC (IEC 62548:2016, from memory)
        (49.5, 20, -0.0027, -10.0, 1083.6),
        # arithmetic of the same formula for four invented sites
        (49.6, 16, -0.0026, -14.0, 874.1),
        (36.6, 3, -0.0028, -32.0, 127.3),
        (38.2, 9, -0.0029, 2.0, 366.7),
        (52.4, 18, -0.0025, -6.0, 1016.3),
    ],
)
def test_by_the_coefficient(
    voc: float, number: int, coefficient: float, degrees: float, cold: float
) -> None:
    volts = voltage_by_coefficient(
        at_stc=voc * number, coefficient=coefficient, temperature=degrees + ZERO
    )
    assert volts == pytest.approx(cold, abs=0.06)
