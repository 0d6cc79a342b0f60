"""The static law of a metal-oxide varistor, and fitting it to three or four data-sheet numbers.

Two terms in series: the grain boundaries, a power law with an ohmic leak beside it, and the
upturn of the grains' own resistance. The two-term form and the fitting recipe are this
project's own; they follow the curves published by Pinceti and Giannettoni (IEEE Trans. Power
Delivery 14(2), 1999) within 1.3 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

CORE_LIMIT = 1e6
"""Core current in A above which the power law goes on as its tangent, against overflow."""

UPTURN_ROUNDING = 1e-4
"""Share of the nominal current below which the upturn is rounded off to a straight line."""

CONVERGED = 1e-13
"""Relative Newton step after which a root is taken; the next would be rounding only."""

LARGEST_EXPONENT = 100.0
"""Above this the data describe no metal-oxide varistor: their alpha is 25 to 70."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VaristorLaw:
    """Voltage against current of a metal-oxide varistor.

    With u the voltage across the grain boundaries, V1 ``reference_voltage`` (V) at I1
    ``reference_current`` (A), R ``leakage_resistance`` (ohm), dV ``upturn`` (V) at In
    ``nominal_current`` (A)::

        i = I1 |u/V1|^exponent sgn(u) + u/R
        v = scale (u + dV (i/In) ((i/In)^2 + eps^2)^((gamma-1)/2)),    eps = 1e-4

    Odd, strictly increasing, smooth. Above 1 MA the power law continues as its tangent.
    ``scale`` multiplies every voltage at the same current: tolerance of a disc.
    """

    reference_voltage: float
    exponent: float
    upturn: float
    nominal_current: float
    gamma: float
    leakage_resistance: float
    reference_current: float = 1e-3
    scale: float = 1.0

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            least = 0.0 if name == "upturn" else math.ulp(0.0)
            if not (math.isfinite(value) and value >= least):
                raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
        if self.exponent < 1.0:
            raise ValueError(f"expected an exponent of at least 1 but got {self.exponent}")
        if self.gamma > 1.0:
            raise ValueError(f"expected gamma of at most 1 but got gamma={self.gamma}")

    def voltage(self, i: ArrayLike) -> Array:
        """Voltage in V at the currents ``i`` in A."""
        i = np.asarray(i, dtype=np.float64)
        u = self._core_voltage(np.abs(i))
        return np.asarray(np.copysign(self._outer_voltage(u, np.abs(i)), i) + 0.0)[()]

    def current(self, v: ArrayLike) -> Array:
        """Current in A at the voltages ``v`` in V; exactly zero at zero."""
        v = np.asarray(v, dtype=np.float64)
        current, _ = self._current_and_slope(self._solve_core(np.abs(v)))
        return np.asarray(np.copysign(current, v) + 0.0)[()]

    def conductance(self, v: ArrayLike) -> Array:
        """Slope di/dv in S at the voltages ``v`` in V."""
        current, slope = self._current_and_slope(
            self._solve_core(np.abs(np.asarray(v, dtype=np.float64)))
        )
        return np.asarray(slope / (self.scale * (1.0 + self._upturn_slope(current) * slope)))[()]

    def points(self, n: int, i_max: float) -> tuple[Array, Array]:
        """A table of the law from -``i_max`` to ``i_max`` A: voltages (V), currents (A).

        ``n``, odd, points with zero in the middle, strictly increasing in both. They lie so
        that every chord misses the curve by about the same share of the voltage.
        """
        if n < 5 or n % 2 == 0:
            raise ValueError(f"expected an odd number of points, at least 5, but got n={n}")
        if not (math.isfinite(i_max) and i_max > 0.0):
            raise ValueError(f"expected a positive, finite i_max but got i_max={i_max}")
        core_end = float(self._core_voltage(np.array([i_max]))[0])
        core = core_end * np.geomspace(1e-3, 1.0, 4001)
        current, _ = self._current_and_slope(core)
        voltage = self._outer_voltage(core, current)
        chosen = np.interp(np.linspace(0.0, 1.0, n // 2), _chord_burden(current, voltage), core)
        current, _ = self._current_and_slope(chosen)
        voltage = self._outer_voltage(chosen, current)
        return _mirrored(voltage), _mirrored(current)

    @property
    def _core_limit(self) -> tuple[float, float]:
        """Core voltage at ``CORE_LIMIT`` and the power law's slope there."""
        ratio = CORE_LIMIT / self.reference_current
        u = self.reference_voltage * ratio ** (1.0 / self.exponent)
        return u, self.exponent * CORE_LIMIT / u

    def _current_and_slope(self, u: Array) -> tuple[Array, Array]:
        """Current and di/du at core voltages ``u`` >= 0, leak included."""
        limit, limit_slope = self._core_limit
        x = np.minimum(u, limit) / self.reference_voltage
        power = self.reference_current * x**self.exponent
        slope = self.reference_current * self.exponent / self.reference_voltage
        slope_here = slope * x ** (self.exponent - 1.0)
        beyond = np.maximum(u - limit, 0.0) * limit_slope
        leak = 1.0 / self.leakage_resistance
        return power + beyond + u * leak, slope_here + leak

    def _outer_voltage(self, u: Array, i: Array) -> Array:
        x = i / self.nominal_current
        rounded = np.hypot(x, UPTURN_ROUNDING) ** (self.gamma - 1.0)
        return np.asarray(self.scale * (u + self.upturn * x * rounded))

    def _upturn_slope(self, i: Array) -> Array:
        """d(upturn)/di in ohm."""
        x = i / self.nominal_current
        radius = np.hypot(x, UPTURN_ROUNDING)
        shape = 1.0 + (self.gamma - 1.0) * (x / radius) ** 2
        return np.asarray(self.upturn / self.nominal_current * radius ** (self.gamma - 1.0) * shape)

    def _core_voltage(self, i: Array) -> Array:
        """Core voltage carrying ``i`` >= 0: Newton downwards on a convex, rising function."""
        _, limit_slope = self._core_limit
        power = self.reference_voltage * (np.minimum(i, CORE_LIMIT) / self.reference_current) ** (
            1.0 / self.exponent
        )
        above = power + np.maximum(i - CORE_LIMIT, 0.0) / limit_slope
        # with the leak alone, or with the grain boundaries alone, u would be larger
        u = np.minimum(above, i * self.leakage_resistance)
        for _ in range(60):
            current, slope = self._current_and_slope(u)
            better = np.clip(u - (current - i) / slope, 0.0, u)
            if np.all(u - better <= CONVERGED * u):
                return np.asarray(better)
            u = better
        raise ArithmeticError(f"no core voltage found for currents up to {np.max(i)} A")

    def _solve_core(self, v: Array) -> Array:
        """Core voltage under the outer voltages ``v`` >= 0."""
        if not np.all(np.isfinite(v)):
            raise ValueError("expected finite voltages")
        u = np.zeros_like(v)
        u[v > 0.0] = self._solve_core_above_zero(v[v > 0.0])
        return u

    def _solve_core_above_zero(self, v: Array) -> Array:
        """Newton on the logarithms, where power laws are straight.

        A step that leaves the bracket is replaced by bisection.
        """
        low, high = np.zeros_like(v), v / self.scale
        u = np.minimum(high, self._core_limit[0])
        for _ in range(200):
            current, slope = self._current_and_slope(u)
            outer = self._outer_voltage(u, current)
            low, high = np.where(outer > v, low, u), np.where(outer > v, u, high)
            outer_slope = self.scale * (1.0 + self._upturn_slope(current) * slope)
            better = u * np.exp(np.log(v / outer) * outer / (u * outer_slope))
            inside = (better >= low) & (better <= high)
            better = np.where(inside, better, 0.5 * (low + high))
            if np.all(np.abs(better - u) <= CONVERGED * u):
                return np.asarray(better)
            u = better
        raise ArithmeticError(f"no core voltage found for voltages up to {np.max(v)} V")


def fit_three_numbers(
    reference_voltage: float,
    nominal_current: float,
    level: float,
    *,
    reference_current: float = 1e-3,
    leakage_current: float = 1e-6,
) -> VaristorLaw:
    """The law through ``reference_voltage`` (V, at 1 mA) and ``level`` (V, at nominal A, 8/20).

    Own recipe: alpha = max(35, 1.3 ln(In/I1) / ln(0.95 Up/V1)), gamma between 0.5 and 0.7
    with the ratio Up/V1, and the upturn dV makes up what the power law lacks at In.
    ``leakage_current`` in A sets the ohmic leak: V1 over it.
    """
    exponent = _exponent(reference_voltage, nominal_current, level, reference_current)
    gamma = min(max(0.5 + 0.2 * (level / reference_voltage - 1.6) / 0.8, 0.5), 0.7)
    growth = (nominal_current / reference_current) ** (1.0 / exponent)
    return VaristorLaw(
        reference_voltage=reference_voltage,
        reference_current=reference_current,
        exponent=exponent,
        upturn=level - reference_voltage * growth,
        nominal_current=nominal_current,
        gamma=gamma,
        leakage_resistance=reference_voltage / leakage_current,
    )


def fit_four_numbers(
    reference_voltage: float,
    nominal_current: float,
    level: float,
    second_current: float,
    second_voltage: float,
    *,
    reference_current: float = 1e-3,
    leakage_current: float = 1e-6,
) -> VaristorLaw:
    """As :func:`fit_three_numbers`, and through ``second_voltage`` (V) at ``second_current`` (A).

    The fourth number replaces the recipe's gamma; it must come out between 0.3 and 1.
    """
    law = fit_three_numbers(
        reference_voltage,
        nominal_current,
        level,
        reference_current=reference_current,
        leakage_current=leakage_current,
    )
    growth = (second_current / reference_current) ** (1.0 / law.exponent)
    second_upturn = second_voltage - reference_voltage * growth
    if second_upturn <= 0.0 or second_current == nominal_current:
        raise ValueError(
            f"{second_voltage:g} V at {second_current:g} A does not fit a varistor with "
            f"{reference_voltage:g} V at {reference_current:g} A and {level:g} V at "
            f"{nominal_current:g} A: nothing is left for the upturn"
        )
    gamma = math.log(second_upturn / law.upturn) / math.log(second_current / nominal_current)
    if not 0.3 <= gamma <= 1.0:
        raise ValueError(
            f"{second_voltage:g} V at {second_current:g} A gives the upturn an exponent of "
            f"{gamma:.3g}, outside 0.3 to 1: check the numbers against each other"
        )
    return replace(law, gamma=gamma)


def _exponent(v1: float, nominal: float, level: float, i1: float) -> float:
    """Recipe step 2, refusing data no varistor has."""
    for name, value in {"reference_voltage": v1, "level": level, "reference_current": i1}.items():
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
    if not (math.isfinite(nominal) and nominal > i1):
        raise ValueError(
            f"expected a nominal current above the reference current of {i1:g} A "
            f"but got nominal_current={nominal}"
        )
    headroom = math.log(0.95 * level / v1)
    decades = math.log(nominal / i1)
    if headroom <= 1.3 * decades / LARGEST_EXPONENT:
        raise ValueError(
            f"{level:g} V at {nominal:g} A is too close to the {v1:g} V at {i1:g} A: no voltage "
            "is left for the upturn of a metal-oxide varistor"
        )
    return max(35.0, 1.3 * decades / headroom)


def _chord_burden(i: Array, v: Array) -> Array:
    """Where points belong along a curve: 0 at its start, 1 at its end, steep where it bends.

    A chord over di misses v by |v''| di^2 / 8; equal misses relative to v want a point
    density of sqrt(|v''| / v). A hundredth of the points is spread evenly, so that the
    straight foot gets some.
    """
    bend = np.abs(np.gradient(np.gradient(v, i), i))
    density = np.sqrt(bend / v)
    steps = 0.5 * (density[1:] + density[:-1]) * np.diff(i)
    burden = np.concatenate(([0.0], np.cumsum(steps)))
    even = np.linspace(0.0, 1.0, len(i))
    return np.asarray(0.99 * burden / burden[-1] + 0.01 * even)


def _mirrored(positive: Array) -> Array:
    return np.concatenate((-positive[::-1], [0.0], positive))
