"""Curves as tables: the ``i = pwl(v, ...)`` behind varistors, clamps and arrays."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from surgesim.engine.numbers import number
from surgesim.physics.varistor import VaristorLaw

VARISTOR_POINTS = 361
"""Both polarities and zero; with this many a chord lies within 0.1 % of the law's voltage."""

GREATEST_CURRENT = 1e6
"""End of a varistor's table in ampere: there the law itself goes on as its tangent."""


def pwl(control: str, points: Iterable[tuple[float, float]]) -> str:
    """ngspice's table function, which continues its outermost pieces beyond both ends."""
    pairs = ", ".join(f"{number(x)}, {number(y)}" for x, y in points)
    return f"pwl({control}, {pairs})"


@lru_cache(maxsize=64)
def varistor_points(law: VaristorLaw) -> tuple[tuple[float, float], ...]:
    """Points (voltage in V, current in A) of a varistor's law, odd, increasing in both."""
    voltages, currents = law.points(VARISTOR_POINTS, GREATEST_CURRENT)
    return tuple(zip(voltages.tolist(), currents.tolist(), strict=True))


def clamp_points(voltage: float, resistance: float) -> tuple[tuple[float, float], ...]:
    """No current up to ``voltage`` of either sign, ``resistance`` ohm beyond."""
    further = voltage / resistance
    return (-2 * voltage, -further), (-voltage, 0.0), (voltage, 0.0), (2 * voltage, further)


def photovoltaic_points(
    open_circuit_voltage: float, short_circuit_current: float, resistance: float
) -> tuple[tuple[float, float], ...]:
    """Current from plus to minus *through* an array, which delivers: it is the negative.

    Flat at the short-circuit current from zero volt to the knee, from there on rising with
    1/``resistance`` through zero at the open-circuit voltage and on into the cells' forward
    conduction; below zero volt the bypass diodes carry more than the array delivers. A dark
    array delivers nothing and conducts beyond its two ends.
    """
    knee = open_circuit_voltage - short_circuit_current * resistance
    below = (-open_circuit_voltage, -short_circuit_current - open_circuit_voltage / resistance)
    flat = (0.0, -short_circuit_current), (knee, -short_circuit_current)
    return below, *flat, (2 * open_circuit_voltage, open_circuit_voltage / resistance)
