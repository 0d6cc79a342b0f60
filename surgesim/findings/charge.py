"""Charge balance: what flows into a node flows out of it, at every node and all the time.

The charge that each element carried over a piece of a window follows from the voltages at its
ends or from its recorded current, by its own law: C times the change of voltage for a
capacitor, which needs no differentiating. At a node these charges add up to zero, or the
engine solved another circuit: an element left out, ended at another node, turned around.

What conducts steeply (:data:`surgesim.findings.devices.STEEP`) carries a current that its
voltage tells only roughly. At its own nodes that is allowed for; and the nodes it joins are
also held together as one, where its current leaves and enters again and drops out.

What enters a line by the conductors at one of its ends leaves by the reference there. At remote
earth the electrodes, the surge's return, the soil under the lines and whatever else is earthed
must balance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from surgesim.findings.balance import Balance, Rule, worst
from surgesim.findings.devices import STEEP, Currents
from surgesim.findings.lines import ENDS, reference
from surgesim.findings.measured import Measured
from surgesim.findings.modes import conductor_charges
from surgesim.findings.pieces import Pieces
from surgesim.findings.record import Array
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    Clamp,
    Element,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
)

CHARGE = Rule(name="charge balance", limit=0.001, least=1.0, unit="C")
"""At least an ampere counts as having passed: a permille of it is the milliampere to which the
engine is asked to solve, and below that nothing is promised."""

EARTH = Rule(name="remote earth", limit=CHARGE.limit, least=CHARGE.least, unit=CHARGE.unit)

STEEPNESS = 0.2
"""What of a steep device's charge its voltage may get wrong: at a varistor's exponent of 35, what
half a percent of voltage makes of the current. The engine's table keeps to 0.02 %, but its
iterations stop at a permille of a node's voltage, and a bar may stand at ten times a varistor's."""

SOLVED_TO = 0.001
"""That permille (its reltol). An array or a clamp may so be taken to stand beyond its corner,
where it begins to conduct."""

Place = tuple[str, ...]
"""A node, or several held together."""


@dataclass(frozen=True, slots=True)
class _Flow:
    """Charge an element took out of some nodes (sign +1) and into others (-1), C a piece.

    ``slack`` is what of it is not known that well.
    """

    name: str
    signs: Mapping[str, float]
    charge: Array
    slack: Array


def charge_balance(
    network: Network, pieces: Pieces, currents: Currents
) -> tuple[Measured, Measured]:
    """The worst node or group of nodes, and remote earth, over one window."""
    flows = list(_flows(network, pieces, currents))
    places = [(node,) for node in network.nodes() if node != GROUND] + _joined(network)
    return (
        _worst(CHARGE, places, flows, pieces),
        _worst(EARTH, [(GROUND,)], flows, pieces),
    )


def _flows(network: Network, pieces: Pieces, currents: Currents) -> Iterator[_Flow]:
    for element in network.elements:
        if isinstance(element, Line):
            yield from _line_flows(element, pieces)
        elif isinstance(element, Element):
            charge, slack = _carried(element, pieces, currents)
            yield _Flow(_label(element), {element.a: 1.0, element.b: -1.0}, charge, slack)


def _line_flows(line: Line, pieces: Pieces) -> Iterator[_Flow]:
    exact = np.zeros_like(pieces.elapsed)
    for end in ENDS:
        charges = conductor_charges(line, end, pieces)
        back = reference(line, end)
        for node, charge in zip(getattr(line, end), charges, strict=True):
            yield _Flow(_label(line), {node: 1.0, back: -1.0}, charge, exact)


def _carried(element: Element, pieces: Pieces, currents: Currents) -> tuple[Array, Array]:
    """Charge a to b through one element, and what of it is not known that well, C."""
    exact = np.zeros_like(pieces.elapsed)
    if isinstance(element, Resistor):
        flux = pieces.flux(element.a) - pieces.flux(element.b)
        return flux / element.resistance, exact
    if isinstance(element, Capacitor):
        volts, farad = pieces.waves.across(element.a, element.b), element.capacitance
        return farad * pieces.change(volts), farad * pieces.blur(volts)
    if element.name in pieces.waves.currents:
        return pieces.charge(element.name), exact
    charge = pieces.integral(currents.through(element))
    return charge, _roughness(element, charge, pieces)


def _roughness(element: Element, charge: Array, pieces: Pieces) -> Array:
    slack = (STEEPNESS if isinstance(element, STEEP) else 0.0) * abs(charge)
    if isinstance(element, Clamp | IonisingSoil | PhotovoltaicSource):
        volts = np.maximum(abs(pieces.flux(element.a)), abs(pieces.flux(element.b)))
        slack += SOLVED_TO * volts / element.resistance
    return slack


def _worst(rule: Rule, places: list[Place], flows: list[_Flow], pieces: Pieces) -> Measured:
    signs = _signs(places, flows)
    shape = len(flows), len(pieces.elapsed)
    charges = np.array([flow.charge for flow in flows]).reshape(shape)
    slack = np.array([flow.slack for flow in flows]).reshape(shape)
    balance = Balance(
        missing=signs @ charges, turned=abs(signs) @ abs(charges) / 2, slack=abs(signs) @ slack
    )

    def described(row: int) -> tuple[str, str]:
        return _named(places[row]), _hint(signs[row], flows)

    return worst(balance, rule, pieces, described)


def _signs(places: list[Place], flows: list[_Flow]) -> Array:
    """Which flow leaves (+1) or enters (-1) which place, shape (places, flows)."""
    rows: dict[str, list[int]] = {}
    for row, place in enumerate(places):
        for node in place:
            rows.setdefault(node, []).append(row)
    signs = [[0.0] * len(flows) for _ in places]
    for column, flow in enumerate(flows):
        for node, sign in flow.signs.items():
            for row in rows.get(node, ()):
                signs[row][column] += sign
    return np.array(signs).reshape(len(places), len(flows))


def _joined(network: Network) -> list[Place]:
    """Groups of nodes that steep devices join."""
    group: dict[str, frozenset[str]] = {}
    for element in network.elements:
        if isinstance(element, STEEP):
            ends = (element.a, element.b)
            together = frozenset(ends).union(*(group.get(end, ()) for end in ends))
            group |= dict.fromkeys(together, together)
    return sorted(tuple(sorted(together)) for together in set(group.values()))


def _label(element: Element | Line) -> str:
    return element.group or element.name


def _named(place: Place) -> str:
    shown = ", ".join(repr(node) for node in place[:3])
    more = f" and {len(place) - 3} more" if len(place) > 3 else ""
    return f"{shown}{more} together" if len(place) > 1 else shown


def _hint(signs: Array, flows: list[_Flow]) -> str:
    met = dict.fromkeys(flow.name for flow, sign in zip(flows, signs, strict=True) if sign)
    return f"a shorter step may help; what meets there is of {', '.join(met)}"
