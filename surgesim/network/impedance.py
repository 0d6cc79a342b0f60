"""What a part of a network made of resistances, inductances and capacitances is at a frequency."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Coupling,
    Inductor,
    IonisingSoil,
    Resistor,
)

_SHORT = 1e-9
"""Ohm that an ammeter stands for here."""


def impedance(
    elements: Iterable[AnyElement], node: str, frequencies: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Impedance in ohm from ``node`` to remote earth, (n,), at ``frequencies`` in Hz, (n,).

    By nodal analysis. Raises ValueError for an element that has no impedance, such as a line.
    """
    parts = list(elements)
    nodes = sorted({end for e in parts if not isinstance(e, Coupling) for end in _ends(e)})
    place = {name: k for k, name in enumerate(n for n in nodes if n != GROUND)}
    found = np.empty(len(frequencies), dtype=np.complex128)
    injected = np.zeros(len(place), dtype=np.complex128)
    injected[place[node]] = 1.0
    for k, frequency in enumerate(frequencies):
        matrix = _admittance(parts, place, 2j * math.pi * float(frequency))
        found[k] = np.linalg.solve(matrix, injected)[place[node]]
    return found


def _ends(element: AnyElement) -> tuple[str, str]:
    if not isinstance(element, Resistor | IonisingSoil | Inductor | Capacitor | Ammeter):
        raise ValueError(f"{type(element).__name__} {element.name!r} is no impedance")
    return element.a, element.b


def _admittance(
    parts: list[AnyElement], place: dict[str, int], s: complex
) -> NDArray[np.complex128]:
    """The nodal admittance matrix at s, remote earth left out."""
    branches = [e for e in parts if not isinstance(e, Coupling)]
    incidence = np.zeros((len(place), len(branches)))
    series = np.zeros((len(branches), len(branches)), dtype=np.complex128)
    at = {e.name: k for k, e in enumerate(branches)}
    for k, element in enumerate(branches):
        a, b = _ends(element)
        for end, sign in ((a, 1.0), (b, -1.0)):
            if end != GROUND:
                incidence[place[end], k] += sign
        series[k, k] = _own(element, s)
    for coupling in parts:
        if isinstance(coupling, Coupling):
            first, second = at[coupling.first], at[coupling.second]
            series[first, second] = series[second, first] = s * coupling.mutual
    return np.asarray(incidence @ np.linalg.inv(series) @ incidence.T)


def _own(element: AnyElement, s: complex) -> complex:
    match element:
        case Resistor() | IonisingSoil():
            return complex(element.resistance)
        case Inductor():
            return s * element.inductance
        case Capacitor():
            return 1.0 / (s * element.capacitance)
        case _:
            return complex(_SHORT)
