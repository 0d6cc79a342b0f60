"""What the modes of a line owe each other, piece by piece of a window.

With port voltage v and current i into the port, what sets out into a lossless mode is
``v + Z i``, and one delay later it arrives at the other port as ``v - Z i`` there. Summed over
both ports that is a balance of charge: what went in and has not come out is under way. A lumped
mode has its pi section's laws instead: L = Z delay between the ports, half of C = delay/Z at
each; or those of a lattice of the same L and C, which is all of what travels but the delay.

At each end stands half the mode's resistance, between the port and the modal voltage of the
conductors against their reference there.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from surgesim.findings.lines import ENDS, reference
from surgesim.findings.pieces import Pieces
from surgesim.findings.record import Array
from surgesim.network.elements import Line


class Sum(NamedTuple):
    """Terms that add up to zero over every piece, shape (terms, pieces), and what they are.

    ``slack`` is what of them is not known that well.
    """

    label: str
    terms: Array
    slack: Array


def conductor_charges(line: Line, end: str, pieces: Pieces) -> Array:
    """Charge in C that went from each conductor into one end, shape (conductors, pieces)."""
    modal = [pieces.charge(_port(line, mode, end)) for mode in range(len(line.impedance))]
    return np.asarray(np.linalg.inv(line.modes).T @ np.array(modal))


def line_sums(line: Line, pieces: Pieces) -> Iterator[Sum]:
    """Every law of the line as terms in V s."""
    transform = np.linalg.inv(line.modes)
    across = _pi_section if line.name in pieces.waves.lumped else _travelling
    for mode, weights in enumerate(transform):
        for end in ENDS:
            yield _losses(line, mode, end, weights, pieces)
        yield from across(line, mode, pieces)


def _port(line: Line, mode: int, end: str) -> str:
    return f"{line.name}/{end}/{mode}"


def _label(line: Line, mode: int, what: str) -> str:
    return f"{line.group or line.name}, mode {mode + 1}, {what}"


def _losses(line: Line, mode: int, end: str, weights: Array, pieces: Pieces) -> Sum:
    """From the conductors to the port."""
    port = _port(line, mode, end)
    against = pieces.flux(reference(line, end))
    modal = weights @ np.array([pieces.flux(node) - against for node in getattr(line, end)])
    terms = [modal, -pieces.flux(port), -line.resistance[mode] / 2 * pieces.charge(port)]
    exact = np.zeros_like(pieces.elapsed)
    return Sum(_label(line, mode, f"{end} end"), np.array(terms), exact)


def _travelling(line: Line, mode: int, pieces: Pieces) -> Iterator[Sum]:
    impedance = line.impedance[mode]
    for here, there in (ENDS, ENDS[::-1]):
        near, far = _port(line, mode, here), _port(line, mode, there)
        arrived, bent = pieces.arriving(far, impedance, line.delay[mode])
        terms = np.array([pieces.flux(near), -impedance * pieces.charge(near), -arrived])
        label = _label(line, mode, f"arriving at the {here} end")
        yield Sum(label, terms, bent)


def _pi_section(line: Line, mode: int, pieces: Pieces) -> Iterator[Sum]:
    waves, impedance = pieces.waves, line.impedance[mode]
    near, far = (_port(line, mode, end) for end in ENDS)
    henry, farad = impedance * line.delay[mode], line.delay[mode] / (2 * impedance)
    stored, blur = _stored(line, mode, pieces)
    taken = pieces.charge(near) + pieces.charge(far)
    terms = impedance * np.array([taken, -stored])
    yield Sum(_label(line, mode, "stored"), terms, impedance * blur)
    crossing = (waves.currents[near] - waves.currents[far]) / 2
    charging = farad / 2 * _slopes(waves.at(near) - waves.at(far), pieces)
    gained = np.diff(crossing[pieces.cuts] - charging)
    terms = np.array([pieces.flux(near) - pieces.flux(far), -henry * gained])
    # a lattice of the same L and C carries it through its inductors as well
    either = abs(charging[1:]) + abs(charging[:-1])
    slack = henry * (pieces.blur(crossing) + either)
    yield Sum(_label(line, mode, "through"), terms, slack)


def _stored(line: Line, mode: int, pieces: Pieces) -> tuple[Array, Array]:
    """Charge in C gained by a pi section's capacitors, and what of it is not known that well."""
    farad = line.delay[mode] / (2 * line.impedance[mode])
    volts = np.sum([pieces.waves.at(_port(line, mode, end)) for end in ENDS], axis=0)
    return farad * pieces.change(volts), farad * pieces.blur(volts)


def _slopes(values: Array, pieces: Pieces) -> Array:
    """Rate of change where pieces begin and end, over the points on both sides."""
    before = np.maximum(pieces.cuts - 1, 0)
    after = np.minimum(pieces.cuts + 1, len(values) - 1)
    rates: Array = (values[after] - values[before]) / np.diff(
        pieces.waves.time[np.array([before, after])], axis=0
    )[0]
    return rates
