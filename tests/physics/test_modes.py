"""Modal decomposition: identities on random and on homogeneous bundles."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.linalg import sqrtm

from surgesim.physics.constants import SPEED_OF_LIGHT
from surgesim.physics.modes import Modes, decompose, modal_diagonal, surge_impedance

Matrix = NDArray[np.floating[Any]]


def random_matrix(seed: int, n: int, size: float) -> Matrix:
    """A symmetric positive definite matrix of a condition number below a few hundred."""
    rng = np.random.default_rng(seed)
    basis, _ = np.linalg.qr(rng.normal(size=(n, n)))
    matrix = (basis * rng.uniform(0.02, 2.0, n)) @ basis.T
    return np.asarray(size * 0.5 * (matrix + matrix.T))


def random_lines() -> st.SearchStrategy[tuple[Matrix, Matrix]]:
    """L in H/m and C in F/m of 1 to 7 conductors, in and far out of the usual scale."""
    seeds = st.integers(0, 2**32 - 1)
    scales = st.sampled_from([1e-9, 1e-6, 1.0])
    return st.builds(
        lambda a, b, n, scale: (random_matrix(a, n, scale), random_matrix(b, n, 1e-5 * scale)),
        seeds,
        seeds,
        st.integers(1, 7),
        scales,
    )


def homogeneous_lines() -> st.SearchStrategy[tuple[Matrix, Matrix]]:
    """Bare conductors in air, exactly and with the rounding of a matrix inversion."""
    return st.builds(
        lambda seed, n: (
            random_matrix(seed, n, 1e-6),
            np.linalg.inv(random_matrix(seed, n, 1e-6)) / SPEED_OF_LIGHT**2,
        ),
        st.integers(0, 2**32 - 1),
        st.integers(1, 7),
    )


def assert_modal(modes: Modes, inductance: Matrix, capacitance: Matrix) -> None:
    """Tv and Ti make both telegrapher's equations diagonal, with the modes' own figures."""
    tv, ti = modes.voltage_modes, modes.current_modes
    modal_inductance = np.linalg.solve(tv, inductance @ ti)
    modal_capacitance = np.linalg.solve(ti, capacitance @ tv)
    assert_close(modal_inductance, np.diag(modes.impedance / modes.velocity))
    assert_close(modal_capacitance, np.diag(1.0 / (modes.impedance * modes.velocity)))
    assert np.all(np.diff(1.0 / modes.velocity) >= -1e-8 / modes.velocity[-1])
    largest = np.max(np.abs(tv), axis=0)
    np.testing.assert_allclose(largest, 1.0, rtol=2e-6)
    np.testing.assert_allclose(np.max(tv, axis=0), 1.0, rtol=2e-6)


def assert_close(actual: Matrix, expected: Matrix) -> None:
    """Equal to nine digits of the largest entry: conditions of a few hundred, twice squared."""
    np.testing.assert_allclose(actual, expected, rtol=0.0, atol=1e-9 * np.max(np.abs(expected)))


@given(random_lines() | homogeneous_lines())
def test_the_modes_fulfil_the_telegraphers_equations(line: tuple[Matrix, Matrix]) -> None:
    assert_modal(decompose(*line), *line)


@given(random_lines() | homogeneous_lines())
def test_voltage_modes_impedance_and_current_modes_give_the_surge_impedance(
    line: tuple[Matrix, Matrix],
) -> None:
    inductance, capacitance = line
    modes = decompose(inductance, capacitance)
    impedance = modes.voltage_modes @ np.diag(modes.impedance) @ np.linalg.inv(modes.current_modes)
    # independent: Zc = (L C)^1/2 C^-1 by Schur's method, Paul, Multiconductor Lines, ch. 7
    scale = np.max(np.abs(inductance @ capacitance))
    root = np.real(sqrtm(inductance @ capacitance / scale)) * math.sqrt(scale)
    assert_close(impedance, root @ np.linalg.inv(capacitance))
    assert_close(impedance, surge_impedance(inductance, capacitance))
    assert_close(impedance @ capacitance @ impedance, inductance)


@given(homogeneous_lines())
def test_in_a_homogeneous_bundle_all_modes_share_a_speed_and_one_is_common(
    line: tuple[Matrix, Matrix],
) -> None:
    modes = decompose(*line)
    np.testing.assert_allclose(modes.velocity, SPEED_OF_LIGHT, rtol=1e-9)
    np.testing.assert_allclose(modes.voltage_modes[:, 0], 1.0, rtol=1e-9)
    assert np.linalg.cond(modes.voltage_modes) < 1e4


@given(homogeneous_lines(), st.integers(0, 2**32 - 1))
def test_rounding_does_not_choose_the_basis(line: tuple[Matrix, Matrix], seed: int) -> None:
    rng = np.random.default_rng(seed)
    inductance, capacitance = line
    noise = 1e-14 * np.max(np.abs(inductance)) * rng.normal(size=inductance.shape)
    one = decompose(inductance, capacitance)
    other = decompose(inductance + noise + noise.T, capacitance)
    np.testing.assert_allclose(one.voltage_modes, other.voltage_modes, rtol=0.0, atol=1e-8)
    np.testing.assert_allclose(one.impedance, other.impedance, rtol=1e-8)


def circulant(n: int, own: float, mutual: float) -> Matrix:
    return (own - mutual) * np.eye(n) + mutual * np.ones((n, n))


def test_three_equal_conductors_have_a_common_mode_and_two_of_equal_speed() -> None:
    modes = decompose(circulant(3, 1.6e-6, 1.3e-6), circulant(3, 60e-12, -20e-12))
    assert modes.voltage_modes[:, 2] == pytest.approx([1.0, 1.0, 1.0])
    assert modes.voltage_modes[:, 0] == pytest.approx([1.0, -0.5, -0.5])
    assert modes.voltage_modes[:, 1] == pytest.approx([0.0, 1.0, -1.0], abs=1e-9)
    assert modes.velocity[0] == pytest.approx(modes.velocity[1], rel=1e-12)


def test_an_equal_pair_has_a_difference_mode_and_a_common_mode() -> None:
    own, mutual, c_own, c_mutual = 1.55e-6, 1.32e-6, 70e-12, -24e-12
    modes = decompose(circulant(2, own, mutual), circulant(2, c_own, c_mutual))
    assert modes.voltage_modes == pytest.approx(np.array([[1.0, 1.0], [-1.0, 1.0]]))
    # v = 1 on both conductors carries half the modal current in each
    assert modes.impedance[1] == pytest.approx(0.5 * math.sqrt((own + mutual) / (c_own + c_mutual)))
    assert modes.velocity[0] == pytest.approx(1.0 / math.sqrt((own - mutual) * (c_own - c_mutual)))


def test_a_single_conductor_is_its_own_mode() -> None:
    modes = decompose([[1.6e-6]], [[50e-12]])
    assert modes.voltage_modes == pytest.approx(np.array([[1.0]]))
    assert modes.impedance == pytest.approx([math.sqrt(1.6e-6 / 50e-12)])
    assert modes.velocity == pytest.approx([1.0 / math.sqrt(1.6e-6 * 50e-12)])


def test_earth_resistance_is_felt_by_the_common_mode_alone() -> None:
    modes = decompose(circulant(2, 1.55e-6, 1.32e-6), circulant(2, 70e-12, -24e-12))
    earth = modal_diagonal(modes, np.full((2, 2), 0.3))
    assert earth == pytest.approx([0.0, 0.3], abs=1e-12)
    # and copper by both: in parallel for the common current, v = 1 against -1 half of the loop
    copper = modal_diagonal(modes, np.diag([3e-3, 3e-3]))
    assert copper == pytest.approx([1.5e-3, 1.5e-3])


@given(random_lines())
def test_modal_diagonal_of_the_inductance_is_the_modal_inductance(
    line: tuple[Matrix, Matrix],
) -> None:
    modes = decompose(*line)
    np.testing.assert_allclose(
        modal_diagonal(modes, line[0]), modes.impedance / modes.velocity, rtol=1e-9
    )


GOOD = circulant(2, 2.0, 1.0)


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        (circulant(2, 1.0, 1.0), "is not positive definite"),
        (circulant(2, 1.0, 2.0), "is not positive definite"),
        (-GOOD, "is not positive definite"),
        (np.zeros((2, 2)), "is not positive definite"),
        (np.array([[2.0, 1.0], [0.9, 2.0]]), "is not symmetric"),
        (np.array([[2.0, math.nan], [math.nan, 2.0]]), "not finite"),
        (np.ones((2, 3)), "is not a square matrix"),
        (np.zeros((0, 0)), "is not a square matrix"),
    ],
)
def test_matrices_of_no_passive_line_are_refused_by_name(bad: Matrix, message: str) -> None:
    with pytest.raises(ValueError, match=f"inductance .*{message}|inductance {message}"):
        decompose(bad, GOOD)
    with pytest.raises(ValueError, match=f"capacitance .*{message}|capacitance {message}"):
        decompose(GOOD, bad)


def test_matrices_of_different_size_are_refused() -> None:
    with pytest.raises(ValueError, match="but capacitance"):
        decompose(GOOD, circulant(3, 2.0, 1.0))
