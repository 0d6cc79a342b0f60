"""The small pieces: numbers, tables, printing, and the circuit with a known answer."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.engine import check_engine
from surgesim.engine.numbers import number
from surgesim.engine.parts import Part
from surgesim.engine.printer import Printer
from surgesim.engine.sources import expression
from surgesim.engine.table import varistor_points
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers


@given(st.floats(-1e300, 1e300))
def test_numbers_read_back(value: float) -> None:
    text = number(value)
    assert re.fullmatch(r"-?\d+(\.\d+)?(e[-+]\d+)?", text)
    assert float(text) == pytest.approx(value, rel=1e-9, abs=1e-300)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_numbers_that_are_none_are_refused(value: float) -> None:
    with pytest.raises(ValueError, match="a deck cannot hold"):
        number(value)


@pytest.mark.parametrize(
    "law",
    [
        fit_three_numbers(430.0, 20e3, 1350.0),
        fit_three_numbers(1250.0, 20e3, 3875.0),
        fit_three_numbers(100.0, 1e3, 250.0),
        fit_three_numbers(1600.0, 5e3, 2900.0),
    ],
)
def test_varistor_tables_follow_the_law(law: VaristorLaw) -> None:
    voltages, currents = np.array(varistor_points(law)).T
    assert len(voltages) >= 120
    assert np.all(np.diff(voltages) > 0)
    assert np.all(np.diff(currents) > 0)
    i = np.geomspace(1e-3, 4e5, 20_000)
    # 0.2 % of the voltage from a milliampere to ten times what any disc is rated for
    np.testing.assert_allclose(np.interp(i, currents, voltages), law.voltage(i), rtol=2e-3)


def test_parts_print_as_one_line_each() -> None:
    parts = [
        Part("R", "1", ("a", "0"), "10"),
        Part("L", "1", ("a", "b"), "1e-06"),
        Part("L", "2", ("b", "0"), "1e-06"),
        Part("K", "1", ("L1", "L2"), "0.5"),
        Part("B", "1", ("a", "0"), "i=v(a)*2"),
        Part("E", "1", ("p", "0", "a", "b"), "1"),
        Part("F", "1", ("a", "0"), "V1 0.5"),
        Part("T", "1", ("a", "0", "b", "0"), "Z0=50 TD=1e-08 rel=3 abs=1e12"),
    ]
    assert Printer().lines(parts) == [
        "R1 a 0 10",
        "L1 a b 1e-06",
        "L2 b 0 1e-06",
        "K1 L1 L2 0.5",
        "B1 a 0 i=v(a)*2",
        "E1 p 0 a b 1",
        "F1 a 0 V1 0.5",
        "T1 a 0 b 0 Z0=50 TD=1e-08 rel=3 abs=1e12",
    ]


@pytest.mark.parametrize("value", ["10\n.control", "1\r2", "10 é"])
def test_a_part_that_is_no_line_is_refused(value: str) -> None:
    with pytest.raises(ValueError, match="does not print as one line of ASCII"):
        Printer().lines([Part("R", "1", ("a", "0"), value)])


def test_a_line_needs_its_impedance_and_delay() -> None:
    with pytest.raises(ValueError, match="not the value of a line"):
        Printer().lines([Part("T", "1", ("a", "0", "b", "0"), "Z0=50")])


def test_an_unknown_shape_is_refused() -> None:
    with pytest.raises(TypeError, match="no way to write str"):
        expression("sawtooth")


def test_the_circuit_with_a_known_answer() -> None:
    check = check_engine()
    assert check.passed
    assert check.expected == (1200.0, 960.0, 1008.0, 998.4)
