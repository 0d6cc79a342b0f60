"""An impedance that grows with frequency as a chain of resistances beside inductances.

Skin effect, in soil or in metal, has no element of a circuit. A chain of sections, each R
parallel to L, has the same impedance over a band of frequencies to any accuracy, if there are
enough of them (Foster's first form; R. M. Foster, "A reactance theorem", Bell System Technical
Journal 3, 1924)::

    Z(f) = j omega L0 + sum over k of R_k j omega T_k / (1 + j omega T_k),   L_k = R_k T_k

With no number below zero such a chain is passive at every frequency, inside the band and
outside it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SECTIONS = 5
"""Over four decades of a soil's impedance that leaves 1 to 2 % (root mean square)."""

POINTS = 80
"""Frequencies at which the chain is held against the impedance, evenly spread by ratio."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """A series ``inductance`` (H) and sections of ``resistance`` (k,) in ohm beside the
    inductance resistance times ``time``, (k,) in s. Per metre where the impedance was so.
    """

    inductance: float
    resistance: Array
    time: Array

    def impedance(self, frequency: float) -> complex:
        """Impedance in ohm at a frequency in Hz."""
        turned = 2j * math.pi * frequency * self.time
        sections = complex(np.sum(self.resistance * turned / (1.0 + turned)))
        return 2j * math.pi * frequency * self.inductance + sections


def fitted(
    impedance: Callable[[float], complex],
    *,
    lowest: float,
    highest: float,
    in_series: float = 0.0,
) -> Chain:
    """The chain nearest to ``impedance`` (ohm, at Hz) from ``lowest`` to ``highest`` Hz.

    Nearest in the relative sense, of both where a resistance of ``in_series`` ohm stands before
    it, with corner frequencies evenly spread over the band and no value below zero. Raises
    ValueError for an empty band or an impedance that is not finite.
    """
    if not 0.0 < lowest < highest < math.inf:
        raise ValueError(f"expected 0 < lowest < highest but got {lowest} and {highest} Hz")
    frequencies = np.geomspace(lowest, highest, POINTS)
    wanted: ComplexArray = np.array([impedance(float(frequency)) for frequency in frequencies])
    if not np.all(np.isfinite(wanted)):
        raise ValueError("expected an impedance that is finite over the band")
    time = 1.0 / (2.0 * math.pi * np.geomspace(lowest, highest, SECTIONS))
    if not np.any(wanted):
        return Chain(inductance=0.0, resistance=np.zeros(SECTIONS), time=time)
    omega = 2.0 * math.pi * frequencies[:, None]
    sections = 1j * omega * time / (1.0 + 1j * omega * time)
    least = 1e-9 * float(np.max(np.abs(wanted)))
    weight: Array = 1.0 / np.maximum(np.abs(wanted + in_series), least)
    columns: ComplexArray = np.hstack((1j * omega, sections))
    values = _not_negative(columns * weight[:, None], wanted * weight)
    return Chain(inductance=float(values[0]), resistance=values[1:], time=time)


def _not_negative(columns: ComplexArray, wanted: ComplexArray) -> Array:
    """The x without a negative entry for which ``columns @ x`` is nearest to ``wanted``.

    Of all subsets of the columns, the best whose plain least-squares solution has none: the
    solution sought is the plain one on the columns it uses, and these are few enough to try.
    """
    real = np.vstack((columns.real, columns.imag))
    scale = np.linalg.norm(real, axis=0)
    matrix, target = real / scale, np.concatenate((wanted.real, wanted.imag))
    best, least = np.zeros(len(scale)), math.inf
    for size in range(1, len(scale) + 1):
        for chosen in itertools.combinations(range(len(scale)), size):
            part, *_ = np.linalg.lstsq(matrix[:, chosen], target, rcond=None)
            missed = float(np.sum((matrix[:, chosen] @ part - target) ** 2))
            if np.all(part > 0.0) and missed < least:
                best, least = np.zeros(len(scale)), missed
                best[list(chosen)] = part
    return np.asarray(best / scale)
