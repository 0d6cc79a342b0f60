"""Voltage balance: what a branch drops is what lies between its ends.

The counterpart of the charge balance, for everything whose current is recorded rather than
given by its voltage: a wire drops nothing, a source its own voltage, an inductor L times the
change of its current and M times that of its neighbours', a line what its modes say. Integrated
over a piece of a window none of it needs differentiating.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from surgesim.findings.balance import Balance, Rule, worst
from surgesim.findings.measured import Measured
from surgesim.findings.modes import Sum, line_sums
from surgesim.findings.pieces import Pieces
from surgesim.findings.record import Array
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    Ammeter,
    Coupling,
    Element,
    Inductor,
    Line,
    VoltageSource,
)

VOLTAGE = Rule(name="voltage balance", limit=0.005, least=100.0, unit="V s")
"""At least a hundred volt count as dropped: what half a volt more or less in a lead or a line
does, nobody reads off a peak."""


def voltage_balance(network: Network, pieces: Pieces) -> Measured:
    """The worst branch over one window."""
    branches = list(_branches(network, pieces))
    shape = len(branches), len(pieces.elapsed)
    balance = Balance(
        missing=np.array([branch.terms.sum(axis=0) for branch in branches]).reshape(shape),
        turned=np.array([abs(branch.terms).sum(axis=0) / 2 for branch in branches]).reshape(shape),
        slack=np.array([branch.slack for branch in branches]).reshape(shape),
    )

    def described(row: int) -> tuple[str, str]:
        label = branches[row].label
        return label, f"a shorter step may help; compare {label} with the deck"

    return worst(balance, VOLTAGE, pieces, described)


def _branches(network: Network, pieces: Pieces) -> Iterator[Sum]:
    mutual = _mutual(network)
    exact = np.zeros_like(pieces.elapsed)
    for element in network.elements:
        match element:
            case Ammeter():
                ends = np.array([pieces.flux(element.a), -pieces.flux(element.b)])
                yield Sum(_label(element), ends, exact)
            case VoltageSource():
                terms = np.array([_across(element, pieces), -_given(element, pieces)])
                yield Sum(_label(element), terms, exact)
            case Inductor():
                yield _inductor(element, mutual[element.name], pieces)
            case Line():
                yield from line_sums(element, pieces)


def _inductor(element: Inductor, linked: list[tuple[float, str]], pieces: Pieces) -> Sum:
    currents = pieces.waves.currents
    own = element.inductance, element.name
    gained = [-henry * pieces.change(currents[name]) for henry, name in (own, *linked)]
    slack = element.inductance * pieces.blur(currents[element.name])
    return Sum(_label(element), np.array([_across(element, pieces), *gained]), slack)


def _across(element: Element, pieces: Pieces) -> Array:
    between: Array = pieces.flux(element.a) - pieces.flux(element.b)
    return between


def _given(source: VoltageSource, pieces: Pieces) -> Array:
    """Integral of a source's own voltage, V s."""
    time = pieces.waves.time
    own = np.full_like(time, source.offset)
    if source.waveform is not None:
        own += source.waveform.value(time)
    return pieces.integral(own)


def _mutual(network: Network) -> dict[str, list[tuple[float, str]]]:
    """For each inductor what couples it, H, with whom."""
    found: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for element in network.elements:
        if isinstance(element, Coupling):
            found[element.first].append((element.mutual, element.second))
            found[element.second].append((element.mutual, element.first))
    return found


def _label(element: Element) -> str:
    return f"{element.group}, {element.name}" if element.group else element.name
