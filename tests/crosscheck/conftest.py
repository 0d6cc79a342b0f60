"""The shed at the edge of firing, and second solvers that are wrong in one thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import AnyElement, Varistor
from surgesim.oracle.devices import devices_of
from surgesim.oracle.layout import Layout
from surgesim.oracle.records import Devices
from surgesim.studies import knife_edge
from tests.crosscheck.shed import open_peaks, shed_text


@pytest.fixture
def at_the_edge() -> str:
    """A shed whose plus pole comes to half a percent below its level."""
    return shed_text(plus=1.005 * open_peaks()["plus to pe"])


@pytest.fixture
def level_off(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Make the second solver's insulation give way at so many times its level."""
    right = devices_of

    def apply(factor: float) -> None:
        def wrong(network: Network, layout: Layout) -> Devices:
            made = right(network, layout)
            level = made.insulations.level * factor
            return made._replace(insulations=made.insulations._replace(level=level))

        monkeypatch.setattr("surgesim.oracle.marching.devices_of", wrong)

    return apply


@pytest.fixture
def varistors_off(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Have the second solver told of varistors with so many times their voltage."""
    right = knife_edge.with_levels_moved

    def stretched(element: AnyElement, factor: float) -> AnyElement:
        if not isinstance(element, Varistor):
            return element
        return replace(element, law=replace(element.law, scale=element.law.scale * factor))

    def apply(factor: float) -> None:
        def wrong(network: Network, moved: knife_edge.Moved) -> Network:
            elements = tuple(stretched(element, factor) for element in network.elements)
            return right(replace(network, elements=elements), moved)

        monkeypatch.setattr(knife_edge, "with_levels_moved", wrong)

    return apply
