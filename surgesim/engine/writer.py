"""A network as the text ngspice reads, which also answers when run by hand.

Every user's word stands in a comment only, as one line of printable ASCII after ``"* "``:
ngspice would run what follows ``"*#"`` or stands on a line of its own after ``.control``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from surgesim.engine.emit import Flashovers, Setting, lower
from surgesim.engine.names import Names, printable, slug
from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part, Sum
from surgesim.engine.printer import Printer
from surgesim.engine.rows import rows
from surgesim.engine.windows import Plan, watched
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, Coupling, Inductor
from surgesim.network.probes import TerminalProbe
from surgesim.network.waveforms import Window

Results = Mapping[str, Sum]
"""Results by name."""

_LOOSE = "trtol=1000 abstol=1e-3 vntol=1e-2"

OPTIONS: Mapping[Window, str] = {
    "front": f"{_LOOSE} method=trap",
    "tail": f"{_LOOSE} method=trap xmu=0.495",
}
"""Error control nearly off: the step ceiling decides, which is fastest for a given accuracy.

On the front trapezoidal, exact for what travels. On the tail leaning from it by half a hundredth
towards the backward rule: what swings faster than the steps dies out in a hundred of them and
does not alternate for ever, which made charges up to 40 % high. Gear's rule, which also does that,
damps what the steps do resolve, so that slow swings and what they drive through an arrester read
up to a quarter low.
"""

CLOSE = "trtol=0.015 reltol=1e-4 abstol=1e-4 vntol=1e-3 method=trap"
LESS_CLOSE = "trtol=0.1 abstol=1e-3 vntol=1e-2 method=trap"
"""Of a front in which insulation may fire, or whose surge is steep from the start: error control
on, so that steps shrink to a fraction of a nanosecond where a collapse or a kink passes and grow
to the ceiling again.

With the one, the sharpest crests that a collapse makes in the demo installation lie within 0.5 %
of those at a twentieth of the lag throughout, with a tenth of the points; ten times as loose
they were 2 % off. What a step's iterations leave undecided counts as error too, so that they go
to a tenth of what would do otherwise. In a large network with many waves about this can take a
hundred thousand steps. The other, in steps of a quarter of the lag at most, then has the peak of an
arrester's current within 0.1 % that it had 1.5 % off in longer ones.
"""

SETTLING = "trtol=10 abstol=1e-3 vntol=1e-2 method=trap xmu=0.495"
"""Of a tail with an arc in it: error control just tight enough to follow what the collapse sets
off while it dies down. What rings faster than the tail's steps would otherwise go on in them for a
hundred steps: an arrester beside the arc was given five times its charge so.
"""


OTHER_WAY = " gminsteps=0"
"""Besides any of these: to the state at rest by raising the sources, without first adding
conductances, where that has gone wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deck:
    """A deck and the key to what it answers.

    ``voltages`` and ``currents`` map a result's name to what it is of the engine's vectors,
    ``v(n3_array)``. ``corners`` are moments (s) that the engine lands on whatever its steps.
    """

    text: str
    plan: Plan
    options: str
    names: Names
    voltages: Results
    currents: Results
    corners: tuple[float, ...] = ()


def write_deck(
    network: Network,
    plan: Plan,
    *,
    flashovers: Flashovers | None = None,
    options: str | None = None,
) -> Deck:
    """The deck of a checked network for one window."""
    flashovers = flashovers or Flashovers()
    options = options or planned_options(network, plan.window, flashovers)
    names = Names.of(network)
    in_rows = list(rows(network))
    setting = Setting(
        names=names,
        plan=plan,
        inductances={e.name: e.inductance for e in network.elements if isinstance(e, Inductor)},
        flashovers=flashovers,
        rows={line.name: row for row in in_rows for line in row.lines},
    )
    lowered = [(element, lower(element, setting)) for element in _in_order(network)]
    inside = {node for row in in_rows for node in row.joints}
    nodes = [node for node in network.nodes() if node != GROUND and node not in inside]
    voltages, currents = _results(nodes, names, [what for _, what in lowered])
    probes = [f"v({_probe(k, probe)})" for k, probe in enumerate(network.terminals, start=1)]
    lines = [
        *_heading(network, plan, nodes, names),
        *_body(lowered),
        *_probes(network.terminals, names),
        f".options {options}",
        *_saved([*made_of(voltages), *made_of(currents), *probes]),
        f".tran {number(plan.step)} {number(plan.stop)} 0 {number(plan.step)}",
        *_measures(network.terminals),
        ".end",
    ]
    return Deck(
        text="\n".join(lines) + "\n",
        plan=plan,
        options=options,
        names=names,
        voltages=voltages,
        currents=currents,
        corners=tuple(time for _, what in lowered for time in what.corners),
    )


def made_of(results: Results) -> list[str]:
    """The engine's vectors that results are made of, each once."""
    return list(dict.fromkeys(vector for result in results.values() for _, vector in result))


def planned_options(network: Network, window: Window, flashovers: Flashovers) -> str:
    """The engine's options for one window, to begin with."""
    if window == "front":
        return CLOSE if watched(network) else OPTIONS[window]
    return SETTLING if flashovers.fired_at else OPTIONS[window]


def comment(text: str, *, indent: str = "") -> str:
    """A user's text as one comment line that ngspice can do nothing with."""
    return f"* {indent}{printable(text)}"


def _results(nodes: Iterable[str], names: Names, lowered: list[Lowered]) -> tuple[Results, Results]:
    """Voltages and currents; a name may stand for one thing only."""
    at_nodes = {node: names.node(node) for node in nodes}
    voltages = [_carried("v", each) for each in (at_nodes, *(what.voltages for what in lowered))]
    currents = [_carried("i", what.currents) for what in lowered]
    return (
        _joined(*voltages, *(what.added_voltages for what in lowered)),
        _joined(*currents, *(what.added_currents for what in lowered)),
    )


def _carried(letter: str, carriers: Mapping[str, str]) -> Results:
    return {name: ((1.0, f"{letter}({where})"),) for name, where in carriers.items()}


def _joined(*results: Results) -> Results:
    """All of them, their vectors as the engine writes them."""
    joined: dict[str, Sum] = {}
    for name, result in (pair for each in results for pair in each.items()):
        if name in joined:
            raise EngineError(f"two results would be named {name!r}")
        joined[name] = tuple((share, vector.lower()) for share, vector in result)
    return joined


def _in_order(network: Network) -> list[AnyElement]:
    """Elements by group, groups as they first appear; couplings last, after their inductors."""
    first = {e.group: k for k, e in reversed(list(enumerate(network.elements)))}
    return sorted(network.elements, key=lambda e: (isinstance(e, Coupling), first[e.group]))


def _heading(network: Network, plan: Plan, nodes: list[str], names: Names) -> Iterator[str]:
    yield f".title surgesim, {plan.window} window"
    yield comment(network.title)
    yield comment(f"surge: {network.waveform.formula}, peak {number(network.waveform.peak)}")
    if plan.lumped:
        yield comment(f"as one pi section each: {', '.join(plan.lumped)}")
    yield "* nodes:"
    for node in (GROUND, *nodes):
        yield comment(f"{names.node(node)}: {node}", indent="  ")


def _body(lowered: Iterable[tuple[AnyElement, Lowered]]) -> Iterator[str]:
    printer = Printer()
    for group, members in groupby(lowered, key=lambda pair: pair[0].group):
        yield "*"
        yield comment(group or "without a group")
        for element, what in members:
            yield comment(element.name, indent="  ")
            yield from printer.lines(what.parts)


def _probes(terminals: Iterable[TerminalProbe], names: Names) -> Iterator[str]:
    """A source that copies each terminal voltage: ``.meas`` cannot take a difference."""
    yield from ("*", "* voltages at the terminals")
    parts = [
        Part("E", _probe(k, probe), (_probe(k, probe), "0", *_pair(probe, names)), "1")
        for k, probe in enumerate(terminals, start=1)
    ]
    yield from Printer().lines(parts)


def _measures(terminals: tuple[TerminalProbe, ...]) -> Iterator[str]:
    for k, probe in enumerate(terminals, start=1):
        yield comment(f"{probe.equipment}, {probe.pair}, at {probe.place}")
        for name, extreme in (("highest", "MAX"), ("lowest", "MIN")):
            yield f".meas tran {_probe(k, probe)}_{name} {extreme} v({_probe(k, probe)})"


def _saved(vectors: list[str]) -> Iterator[str]:
    for start in range(0, len(vectors), 8):
        yield f".save {' '.join(vectors[start : start + 8])}"


def _probe(k: int, probe: TerminalProbe) -> str:
    return f"t{k}{slug(f'{probe.equipment} {probe.pair}')}"


def _pair(probe: TerminalProbe, names: Names) -> tuple[str, str]:
    return names.node(probe.a), names.node(probe.b)
