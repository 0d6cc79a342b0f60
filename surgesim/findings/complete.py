"""Nothing dropped: every node and recorded current of the network, and all it is read off by.

What asks for a series that is not there without this check before it gets the same refusal, from
:class:`surgesim.network.waveforms.Series`.
"""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.findings.lines import ENDS
from surgesim.findings.measured import Measured
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Inductor,
    Insulation,
    Line,
    SparkGap,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms


def completeness(network: Network, waves: Waveforms) -> Measured:
    """How many of the series a network must have are not there, or not one value a point."""
    points = len(waves.time)
    wanted: dict[tuple[str, bool], str] = {}
    for name, what, currents in _wanted(network):
        wanted.setdefault((name, currents), what)
    missing = [
        what
        for (name, currents), what in wanted.items()
        if len((waves.currents if currents else waves.voltages).get(name, ())) != points
    ]
    named = ", ".join(missing[:3]) + (f" and {len(missing) - 3} more" if missing[3:] else "")
    return Measured(
        name="nothing dropped",
        worst=float(len(missing)),
        limit=0.0,
        unit="missing",
        where=f"the {waves.window} window" if missing else "",
        told=f"the answer lacks {named}",
        hint="the engine left out what belongs to it, or solved another network",
    )


def _wanted(network: Network) -> Iterator[tuple[str, str, bool]]:
    """Name of a series, in which words it is missed, and whether it is a current."""
    for node in network.nodes():
        if node != GROUND:
            yield node, f"node {node!r}", False
    for element in network.elements:
        whose = element.group or element.name
        match element:
            case Ammeter() | Inductor() | VoltageSource():
                yield element.name, f"the current of {element.name!r} ({whose})", True
            case Insulation() | SparkGap():
                yield f"{element.name}/state", f"the state of {element.name!r} ({whose})", False
            case Line():
                for port in _ports(element):
                    yield port, f"the voltage of {port!r} ({whose})", False
                    yield port, f"the current of {port!r} ({whose})", True

    yield from _probed(network)


def _probed(network: Network) -> Iterator[tuple[str, str, bool]]:
    """What the results are read off."""
    for terminal in network.terminals:
        whose = f"{terminal.equipment}, {terminal.pair}"
        for node in (terminal.a, terminal.b, terminal.bar):
            if node is not None and node != GROUND:
                yield node, f"node {node!r} of {whose}", False
    for arrester in network.arresters:
        whose = f"{arrester.slot}, {arrester.element}"
        for node in {arrester.a, arrester.b} - {GROUND}:
            yield node, f"node {node!r} of {whose}", False
        yield arrester.ammeter, f"the current of {whose}", True
    for earth in network.earths:
        yield earth.node, f"node {earth.node!r} of {earth.name}", False
        yield earth.ammeter, f"the current of {earth.name}", True


def _ports(line: Line) -> Iterator[str]:
    for end in ENDS:
        yield from (f"{line.name}/{end}/{mode}" for mode in range(len(line.impedance)))
