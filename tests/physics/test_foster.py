"""The chain that stands for an impedance growing with frequency: recovered, passive, refused."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from surgesim.physics.foster import POINTS, SECTIONS, Chain, fitted

LOWEST, HIGHEST = 1e3, 1e7
TIMES = 1.0 / (2.0 * math.pi * np.geomspace(LOWEST, HIGHEST, SECTIONS))


@settings(max_examples=40, deadline=None)
@given(
    values=st.lists(st.floats(0.0, 1.0).map(lambda x: round(x, 3)), min_size=5, max_size=5),
    henry=st.floats(0.1, 1.0),
)
def test_a_chain_of_the_same_corners_is_recovered(values: list[float], henry: float) -> None:
    """Least squares on what it can be exactly has that for its answer."""
    chain = Chain(inductance=1e-6 * henry, resistance=np.array(values), time=TIMES)
    found = fitted(chain.impedance, lowest=LOWEST, highest=HIGHEST)
    np.testing.assert_allclose(found.time, TIMES)
    np.testing.assert_allclose(found.resistance, values, rtol=1e-6, atol=1e-6)
    assert found.inductance == pytest.approx(1e-6 * henry, rel=1e-6)


def skin(frequency: float) -> complex:
    """Half-space of metal or soil, per square: sqrt(j omega mu rho), in round numbers."""
    return 1e-3 * cmath.sqrt(1j * frequency)


def test_the_same_answer_as_a_general_solver() -> None:
    """scipy's non-negative least squares, Lawson and Hanson 1974, on the same equations."""
    frequencies = np.geomspace(LOWEST, HIGHEST, POINTS)
    wanted = np.array([skin(float(f)) for f in frequencies])
    omega = 2.0 * math.pi * frequencies[:, None]
    columns = np.hstack((1j * omega, 1j * omega * TIMES / (1.0 + 1j * omega * TIMES)))
    columns = columns / np.abs(wanted)[:, None]
    target = wanted / np.abs(wanted)
    scale = np.linalg.norm(columns, axis=0)
    matrix = np.vstack((columns.real, columns.imag)) / scale
    best, _ = nnls(matrix, np.concatenate((target.real, target.imag)))
    found = fitted(skin, lowest=LOWEST, highest=HIGHEST)
    np.testing.assert_allclose([found.inductance, *found.resistance], best / scale, rtol=1e-6)


def test_half_an_order_is_followed_within_a_few_percent() -> None:
    """The square root of the frequency is the steepest that skin effect has. Away from the edges
    of the band, where half of what is needed lies outside, five sections over four decades keep
    to 5 %, 3 % root mean square, as measured."""
    chain = fitted(skin, lowest=LOWEST, highest=HIGHEST)
    errors = [
        abs(chain.impedance(float(f)) / skin(float(f)) - 1.0)
        for f in np.geomspace(3.0 * LOWEST, HIGHEST / 2.0, 200)
    ]
    assert max(errors) < 0.07
    assert float(np.sqrt(np.mean(np.square(errors)))) < 0.035


@settings(max_examples=40, deadline=None)
@given(power=st.floats(0.3, 1.0), frequency=st.floats(1.0, 1e10))
def test_it_is_passive_at_every_frequency(power: float, frequency: float) -> None:
    """Whatever is asked for, the chain never delivers: no resistance below zero anywhere."""
    chain = fitted(lambda f: (1j * f) ** power, lowest=LOWEST, highest=HIGHEST)
    assert chain.inductance >= 0.0
    assert np.all(chain.resistance >= 0.0)
    assert chain.impedance(frequency).real >= 0.0


def test_nothing_is_followed_by_nothing() -> None:
    chain = fitted(lambda _: 0j, lowest=LOWEST, highest=HIGHEST)
    assert chain.inductance == 0.0
    assert not np.any(chain.resistance)


@pytest.mark.parametrize(
    ("lowest", "highest"), [(0.0, 1e6), (1e6, 1e6), (1e6, 1e3), (1e3, math.inf)]
)
def test_an_empty_band_is_refused(lowest: float, highest: float) -> None:
    with pytest.raises(ValueError, match="0 < lowest < highest"):
        fitted(skin, lowest=lowest, highest=highest)


def test_an_impedance_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite over the band"):
        fitted(lambda _: complex("nan"), lowest=LOWEST, highest=HIGHEST)
