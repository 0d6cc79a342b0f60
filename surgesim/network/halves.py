"""The same network with every line as two halves in series: twice the detail along the line.

The soil under a route is not in its lines. Where a scenario is built in halves, the route's pieces
come with twice as many joints for it, and are left as they are here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, Line

FIRST, SECOND = "/first half", "/second half"


def halved(network: Network) -> Network:
    """Each line that is no half cut in the middle; all else, the probes included, as it was.

    Each half has half of the delay and half of the losses, at its two ends as ever: where the
    whole line has half of its resistance at each end, the two halves have a quarter at each end
    and a half in the middle. That is the next step towards a resistance spread along the line,
    and on the tail towards a line where the whole was one pi section. The physical line is the
    same, so what changes in the answer is error. What stands at a line's references stays there.
    """
    elements = tuple(part for element in network.elements for part in _parts(element))
    return replace(network, elements=elements)


def half_names(line: str) -> tuple[str, str]:
    """The names of a line's two halves. No name in a scenario holds a slash."""
    return f"{line}{FIRST}", f"{line}{SECOND}"


def _parts(element: AnyElement) -> Iterator[AnyElement]:
    if not isinstance(element, Line) or element.name.endswith((FIRST, SECOND)):
        yield element
        return
    middle = tuple(f"{element.name}/middle/{k}" for k in range(len(element.near)))
    names = half_names(element.name)
    references = element.near_reference, element.far_reference
    yield _half(element, names[0], element.near, middle, references=(references[0], GROUND))
    yield _half(element, names[1], middle, element.far, references=(GROUND, references[1]))


def _half(
    line: Line,
    name: str,
    near: tuple[str, ...],
    far: tuple[str, ...],
    *,
    references: tuple[str, str],
) -> Line:
    return replace(
        line,
        name=name,
        near=near,
        far=far,
        delay=_of(line.delay),
        resistance=_of(line.resistance),
        near_reference=references[0],
        far_reference=references[1],
    )


def _of(values: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(value / 2 for value in values)
