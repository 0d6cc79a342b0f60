"""The crests of the sign that a case's numbers do not have.

A number is the crest of larger size, with its sign. Of a voltage that swings between 987 V and
-981 V, one solver may rightly find the one and another the other: whoever compares the two has
to know both crests.
"""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.findings.record import Array, Record, signed_extreme
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms


def opposite_crests(network: Network, front: Waveforms, tail: Waveforms) -> dict[str, float]:
    """The largest value of the other sign, 0 if there is none, of each signed crest of a case.

    By the names that ``record_compare.numbers_of`` gives them.
    """
    return {what: _opposite(values) for what, values in _courses(network, Record(front, tail))}


def _courses(network: Network, record: Record) -> Iterator[tuple[str, Array]]:
    """What each crest among a case's numbers is the crest of."""
    for terminal in network.terminals:
        name = f"{terminal.equipment}, {terminal.pair}"
        yield f"{name}: peak_v", record.across(terminal.a, terminal.b)
        yield f"{name}: to_remote_earth_v", record.at(terminal.a)
        if terminal.bar is not None:
            yield f"{name}: to_bar_v", record.across(terminal.a, terminal.bar)
    for arrester in network.arresters:
        name = f"{arrester.slot}, {arrester.element}"
        yield f"{name}: peak_a", record.current(arrester.ammeter)
        yield f"{name}: residual_v", record.across(arrester.a, arrester.b)
    for earth in network.earths:
        yield f"{earth.name}: rise_v", record.at(earth.node)
        yield f"{earth.name}: peak_a", record.current(earth.ammeter)


def _opposite(values: Array) -> float:
    if signed_extreme(values) > 0.0:
        return min(0.0, float(values.min()))
    return max(0.0, float(values.max()))
