"""Where the conductors of a bundle lie, and equal runs in parallel taken as one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.conductors import LineConstants
from surgesim.physics.cross_section import TOUCHING

Array = NDArray[np.float64]


def close_packed(diameters: Sequence[float]) -> Array:
    """Axes (n, 2) in m of round cables of ``diameters`` m, packed on a hexagonal lattice.

    The lattice's pitch is the largest diameter. Rows are filled from below, to and fro, so
    that cables next to each other in the list lie next to each other. The origin is the
    middle of the cables' axes.
    """
    if not diameters or not all(0.0 < d < math.inf for d in diameters):
        raise ValueError(f"expected positive, finite diameters but got {list(diameters)}")
    pitch = max(diameters)
    row_length = math.ceil(math.sqrt(len(diameters)))
    sites = np.array([_lattice_site(k, row_length) for k in range(len(diameters))])
    return np.asarray(pitch * (sites - sites.mean(axis=0)))


def packed_in_air(diameters: Sequence[float], *, height: float) -> Array:
    """Axes (n, 2) of close-packed cables with the bundle's middle ``height`` m over the soil."""
    positions = close_packed(diameters)
    positions[:, 1] += height
    lowest = float(np.min(positions[:, 1] - 0.5 * np.array(diameters)))
    if not lowest > 0.0:
        raise ValueError(
            f"a bundle of {len(diameters)} cables with its middle {height:g} m high "
            "is not clear of the soil"
        )
    return positions


def packed_in_duct(diameters: Sequence[float], *, inner_radius: float) -> Array:
    """Axes (n, 2), from the duct's axis, of close-packed cables resting on the duct's floor.

    ValueError where the bundle does not fit inside a duct of ``inner_radius`` m.
    """
    positions = close_packed(diameters)
    free = inner_radius - 0.5 * np.array(diameters)
    # the middle of the bundle's width over the lowest point of the floor
    positions[:, 0] -= 0.5 * (positions[:, 0].min() + positions[:, 0].max())
    room = free**2 - positions[:, 0] ** 2
    if np.any(free < 0.0) or np.any(room < 0.0):
        raise _does_not_fit(diameters, inner_radius)
    half_chord = np.sqrt(room)
    lowest = float(np.max(-half_chord - positions[:, 1]))
    highest = float(np.min(half_chord - positions[:, 1]))
    if lowest > highest:
        raise _does_not_fit(diameters, inner_radius)
    positions[:, 1] += lowest
    return positions


def packed_within(diameters: Sequence[float], *, inner_radius: float) -> Array:
    """Axes (n, 2), from its axis, of close-packed cores in the middle of a round screen.

    ValueError where they do not fit inside ``inner_radius`` m.
    """
    positions = close_packed(diameters)
    if np.max(np.hypot(*positions.T) + 0.5 * np.array(diameters)) > inner_radius * (1.0 + TOUCHING):
        raise _does_not_fit(diameters, inner_radius, "screen")
    return positions


def packed_on_floor(diameters: Sequence[float], *, width: float) -> Array:
    """Axes (n, 2) of close-packed cables that lie on the middle of a flat floor, y = 0.

    ValueError where they are wider than ``width`` m.
    """
    positions = close_packed(diameters)
    half = 0.5 * np.array(diameters)
    positions[:, 1] -= np.min(positions[:, 1] - half)
    if np.max(np.abs(positions[:, 0]) + half) > 0.5 * width:
        raise ValueError(
            f"{len(diameters)} cables of up to {1e3 * max(diameters):g} mm do not fit, close "
            f"packed, on a tray {1e3 * width:g} mm wide"
        )
    return positions


def parallel_reduced(constants: LineConstants, groups: Sequence[Sequence[int]]) -> LineConstants:
    """Constants of a line whose conductors are joined in ``groups`` at both its ends.

    Every conductor's number stands in exactly one group; a group becomes one conductor.
    With A (n, groups) marking membership::

        L' = (A^T L^-1 A)^-1,   C' = A^T C A

    The soil is in the way of the sum of all currents, and that is the same however they join.
    """
    count = len(constants.resistance)
    members = [k for group in groups for k in group]
    if sorted(members) != list(range(count)) or not all(len(group) for group in groups):
        raise ValueError(
            f"expected every conductor of {count} in exactly one group but got "
            f"{[list(group) for group in groups]}"
        )
    joined = np.zeros((count, len(groups)))
    for column, group in enumerate(groups):
        joined[list(group), column] = 1.0
    return LineConstants(
        inductance=_in_parallel(constants.inductance, joined),
        capacitance=joined.T @ constants.capacitance @ joined,
        resistance=np.array([_parallel(constants.resistance[list(g)]) for g in groups]),
        earth=constants.earth,
    )


def transposed(constants: LineConstants, groups: Sequence[Sequence[int]]) -> LineConstants:
    """Constants of a line whose conductors of each of ``groups`` change places along it.

    Cores twisted in a cable do, and so do strapped single cores over a length: none keeps the
    side next to a neighbour. Every matrix is averaged over all places the group's members can
    take; what stands in no group keeps its own.
    """
    own = [list(group) for group in groups]
    blocks = own + [[k] for k in range(len(constants.resistance)) if not any(k in g for g in own)]
    return LineConstants(
        inductance=_averaged(constants.inductance, blocks),
        capacitance=_averaged(constants.capacitance, blocks),
        resistance=_mean(constants.resistance, blocks),
        earth=constants.earth,
    )


def _averaged(matrix: Array, blocks: Sequence[list[int]]) -> Array:
    """A symmetric matrix averaged over the permutations within each block."""
    result = np.empty_like(matrix)
    for rows in blocks:
        for columns in blocks:
            part = matrix[np.ix_(rows, columns)]
            if rows is not columns:
                result[np.ix_(rows, columns)] = part.mean()
                continue
            size, own = len(rows), float(np.trace(part))
            between = (float(part.sum()) - own) / (size * (size - 1)) if size > 1 else 0.0
            mixed = np.full((size, size), between)
            np.fill_diagonal(mixed, own / size)
            result[np.ix_(rows, columns)] = mixed
    return result


def _mean(values: Array, blocks: Sequence[list[int]]) -> Array:
    result = np.empty_like(values)
    for rows in blocks:
        result[rows] = values[rows].mean()
    return result


def _lattice_site(k: int, row_length: int) -> tuple[float, float]:
    """Site ``k`` of a hexagonal lattice of pitch 1 walked to and fro in rows."""
    row, step = divmod(k, row_length)
    if row % 2 == 0:
        return float(step), row * math.sqrt(0.75)
    # half a pitch back from the row below, over its gaps
    return row_length - 1.5 - step, row * math.sqrt(0.75)


def _does_not_fit(
    diameters: Sequence[float], inner_radius: float, around: str = "duct"
) -> ValueError:
    return ValueError(
        f"{len(diameters)} cables of up to {1e3 * max(diameters):g} mm do not fit, close packed, "
        f"in a {around} of {2e3 * inner_radius:g} mm inner diameter"
    )


def _in_parallel(inductance: Array, joined: Array) -> Array:
    """Inductance of the groups."""
    reduced = np.linalg.inv(joined.T @ np.linalg.solve(inductance, joined))
    return np.asarray(0.5 * (reduced + reduced.T))


def _parallel(resistances: Array) -> float:
    if np.any(resistances == 0.0):
        return 0.0
    return float(1.0 / np.sum(1.0 / resistances))
