"""What leaves the place that a surge strikes: the ends of its cables, to be read for the split."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from surgesim.build.parts import at, label_of
from surgesim.network.elements import AnyElement, Line
from surgesim.network.probes import ConductorProbe, StruckProbe
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminals, brought


def struck(
    scenario: Scenario, elements: Iterable[AnyElement], cable_side: dict[str, str]
) -> StruckProbe | None:
    """The struck place with every conductor that ends there.

    None for a surge that is no current, or that does not leave by the earths: what enters by one
    terminal of a place and leaves by another divides by itself alone. ``cable_side`` as in
    :func:`surgesim.build.cables.cables`.
    """
    surge, terminals = scenario.surge, Terminals.of(scenario)
    if surge.peak.unit != "A" or surge.ends is None:
        return None
    into, returns = (terminals.find(end) for end in surge.ends)
    if into.is_remote_earth or not returns.is_remote_earth:
        return None
    lines = [element for element in elements if isinstance(element, Line)]
    conductors = tuple(_conductors(scenario, into.place, lines, cable_side))
    return StruckProbe(place=into.place, into=surge.ends[0], conductors=conductors)


def _conductors(
    scenario: Scenario, place: str, lines: list[Line], cable_side: dict[str, str]
) -> Iterator[ConductorProbe]:
    for name, cable in scenario.cables.items():
        if place not in (cable.from_, cable.to):
            continue
        near, far = brought(cable, scenario)
        for core in near if place == cable.from_ else far:
            # the conductor's own end behind its metal; the terminal itself where it has none
            own = f"{label_of('cable', name)}/{core} at {place}"
            terminal = at(place, core)
            outer = cable_side.get(terminal, terminal)
            found = _end(lines, own) or _end(_of(name, scenario, lines), outer)
            if found is not None:
                line, node, index = found
                yield ConductorProbe(
                    cable=name, conductor=core, runs=cable.count, group=line.group, node=node,
                    index=index,
                )  # fmt: skip


def _of(name: str, scenario: Scenario, lines: list[Line]) -> list[Line]:
    """The lines of the route that a cable lies on."""
    host = scenario.cables[name].laid_with or name
    route = [host, *(n for n, cable in scenario.cables.items() if cable.laid_with == host)]
    return [line for line in lines if line.group == "cable " + ", ".join(route)]


def _end(lines: list[Line], node: str) -> tuple[Line, str, int] | None:
    """The line that ends at a node, or at one of its metal behind it, and as which conductor."""
    for line in lines:
        for nodes in (line.near, line.far):
            for index, end in enumerate(nodes):
                if end == node or end.startswith(f"{node}/"):
                    return line, end, index
    return None
