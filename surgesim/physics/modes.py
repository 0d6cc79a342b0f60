"""Modes of a lossless multiconductor line: independent waves, each with its own speed.

Voltages v and currents i of n conductors with symmetric matrices L and C per metre. With
v = T v_m and i = T^-T i_m the line falls apart into n single lines. Found by the symmetric
eigenproblem of C^1/2 L C^1/2 (Paul, Analysis of Multiconductor Transmission Lines, ch. 7):
the plain eigenproblem of L C has no usable solution where modes share a speed, and in a
bundle of bare or equally insulated conductors they do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SAME_SPEED = 1e-9
"""Relative difference of squared slowness below which modes are taken to share a speed."""

NEARLY_LARGEST = 0.37
"""Share of the largest remainder a seed needs to be taken; away from simple ratios."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """The modes of a line, slowest last.

    ``voltage_modes`` T (n, n): a column is one mode's voltages on the conductors, its largest
    entry +1. ``impedance`` (n,) in ohm and ``velocity`` (n,) in m/s of each mode.
    """

    voltage_modes: Array
    impedance: Array
    velocity: Array

    @property
    def current_modes(self) -> Array:
        """Ti = T^-T (n, n): a column is one mode's currents in the conductors."""
        return np.asarray(np.linalg.inv(self.voltage_modes).T, dtype=np.float64)


def decompose(inductance: ArrayLike, capacitance: ArrayLike) -> Modes:
    """Modes of a line with ``inductance`` (H/m) and ``capacitance`` (F/m), both (n, n).

    Ascending slowness. Where modes share a speed their basis is a free choice; the common
    voltage of all conductors comes first if it is among them, then single conductors.
    """
    ind = _positive_definite(inductance, "inductance")
    cap = _positive_definite(capacitance, "capacitance")
    if ind.shape != cap.shape:
        raise ValueError(f"inductance is {ind.shape} but capacitance is {cap.shape}")
    root, inverse_root = _square_roots(cap)
    product = root @ ind @ root
    squared, vectors = np.linalg.eigh(0.5 * (product + product.T))
    vectors = _fixed_basis(squared, vectors, root)
    squared = np.einsum("ik,ij,jk->k", vectors, product, vectors)
    columns = inverse_root @ vectors
    scale = _signed_largest(columns)
    # T^T C T = 1 / scale^2 is the modal capacitance, and squared slowness over it the inductance
    return Modes(
        voltage_modes=columns / scale,
        impedance=np.sqrt(squared) * scale**2,
        velocity=1.0 / np.sqrt(squared),
    )


def surge_impedance(inductance: ArrayLike, capacitance: ArrayLike) -> Array:
    """Surge impedance matrix Zc (n, n) in ohm: v = Zc i in a wave running one way.

    Zc = T diag(z) T^T; it solves Zc C Zc = L.
    """
    modes = decompose(inductance, capacitance)
    return (modes.voltage_modes * modes.impedance) @ modes.voltage_modes.T


def modal_diagonal(modes: Modes, matrix: ArrayLike) -> Array:
    """Diagonal (n,) of a series matrix in modal terms: Ti^T M Ti.

    ``matrix`` (n, n) gives voltages along the conductors from their currents: resistance in
    ohm/m, inductance in H/m. What lies off the diagonal couples the modes and is dropped.
    """
    currents = modes.current_modes
    return np.asarray(np.einsum("ik,ij,jk->k", currents, np.asarray(matrix), currents))


def _positive_definite(matrix: ArrayLike, name: str) -> Array:
    """The matrix, made exactly symmetric; refused where it is not that of a passive line."""
    given = np.array(matrix, dtype=np.float64)
    if given.ndim != 2 or given.shape[0] != given.shape[1] or given.size == 0:
        raise ValueError(f"{name} is not a square matrix: its shape is {given.shape}")
    if not np.all(np.isfinite(given)):
        raise ValueError(f"{name} has entries that are not finite")
    if not np.allclose(given, given.T, rtol=0.0, atol=1e-9 * float(np.max(np.abs(given)))):
        raise ValueError(f"{name} is not symmetric")
    symmetric = 0.5 * (given + given.T)
    eigenvalues = np.linalg.eigvalsh(symmetric)
    if eigenvalues[0] <= 1e-12 * abs(eigenvalues[-1]):
        raise ValueError(
            f"{name} is not positive definite: its smallest eigenvalue is {eigenvalues[0]:.3g}, "
            f"its largest {eigenvalues[-1]:.3g}"
        )
    return symmetric


def _square_roots(matrix: Array) -> tuple[Array, Array]:
    """Symmetric square root of a positive definite matrix, and that root's inverse."""
    values, vectors = np.linalg.eigh(matrix)
    root = np.sqrt(values)
    return (vectors * root) @ vectors.T, (vectors / root) @ vectors.T


def _fixed_basis(squared: Array, vectors: Array, root: Array) -> Array:
    """``vectors`` with the basis of each group of equal ``squared`` slowness made unique.

    A group's space is well determined though its basis is not, so seeds are projected into
    it: the conductors' common voltage, then each conductor's own.
    """
    seeds = np.column_stack((root.sum(axis=1), root))
    seeds = seeds / np.linalg.norm(seeds, axis=0)
    breaks = np.flatnonzero(np.diff(squared) > SAME_SPEED * squared[-1]) + 1
    groups = np.split(vectors, breaks, axis=1)
    return np.column_stack([_orthonormal_from(seeds, group) for group in groups])


def _orthonormal_from(seeds: Array, group: Array) -> Array:
    """Orthonormal basis of the columns of ``group``, by Gram-Schmidt on projected seeds.

    A seed that has little left outside those already taken is passed over: it would be
    mostly rounding.
    """
    if group.shape[1] == 1:
        return group
    rest = group @ (group.T @ seeds)
    basis = []
    for _ in range(group.shape[1]):
        sizes = np.linalg.norm(rest, axis=0)
        chosen = int(np.argmax(sizes >= NEARLY_LARGEST * sizes.max()))
        vector = rest[:, chosen] / sizes[chosen]
        basis.append(vector)
        rest = rest - np.outer(vector, vector @ rest)
    return np.column_stack(basis)


def _signed_largest(columns: Array) -> Array:
    """Of each column the first of its largest entries, with its sign, (n,).

    Entries equal in size but for rounding count as equal, so that the sign is not chance.
    """
    sizes = np.abs(columns)
    row = np.argmax(sizes >= (1.0 - 1e-6) * sizes.max(axis=0), axis=0)
    return np.asarray(columns[row, np.arange(columns.shape[1])])
