"""A whole scenario as a network."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

from surgesim.build.arresters import arresters, cable_sides
from surgesim.build.cables import WALL, Band, cables
from surgesim.build.earths import bonds, earths
from surgesim.build.equipment import equipment
from surgesim.build.induction import Field, coupled, with_loops
from surgesim.build.parts import Parts
from surgesim.build.soil import common_soil
from surgesim.build.struck import struck
from surgesim.build.supply import supplies
from surgesim.build.surges import generator_figures, surge, surge_waveform
from surgesim.network.circuit import Network
from surgesim.network.halves import halved
from surgesim.physics.waveforms import ShapeFigures, Waveform, shape_figures
from surgesim.scenario.schema import Scenario


def build(scenario: Scenario, *, wall: float = WALL, in_halves: bool = False) -> Network:
    """The circuit of a resolved scenario: one wiring, one surge.

    ``wall`` is that of its plastic ducts, as a share of their width: an assumption to be varied.
    ``in_halves`` is the same circuit in twice the detail along its lines; where the surge induces
    along routes, the soil under them stays at as many joints.
    Raises InputError where the parts cannot be put together, such as cables that do not fit
    their duct.
    """
    waveform = surge_waveform(scenario)
    kind = surge_kind(scenario)
    band = band_of(waveform, kind)
    sides = cable_sides(scenario)
    doubled = in_halves and Field.of(scenario, waveform) is None
    routes = cables(scenario, band, sides, wall=wall, in_halves=doubled)
    parts: list[Parts] = [
        surge(scenario, waveform),
        *coupled(scenario, waveform, routes),
        *common_soil(scenario, earths(scenario, band.front)),
        *bonds(scenario, band.front),
        *with_loops(scenario, waveform, supplies(scenario)),
        *arresters(scenario),
        *equipment(scenario),
    ]
    elements = tuple(element for part in parts for element in part.elements)
    network = Network(
        title=f"{scenario.title}: {scenario.surge_name}",
        elements=elements,
        waveform=waveform,
        terminals=tuple(probe for part in parts for probe in part.terminals),
        arresters=tuple(probe for part in parts for probe in part.arresters),
        earths=tuple(probe for part in parts for probe in part.earths),
        modes=tuple(probe for part in parts for probe in part.modes),
        generator=generator_figures(scenario),
        struck=struck(scenario, elements, sides),
    )
    return halved(network) if in_halves else network


def surge_kind(scenario: Scenario) -> Literal["current", "voltage"]:
    """By which definitions the surge's front and tail are measured."""
    return "current" if scenario.surge.peak.unit == "A" else "voltage"


def band_of(waveform: Waveform, kind: Literal["current", "voltage"]) -> Band:
    """The frequencies that stand for a surge's front and tail.

    1/(pi T1) is where the spectrum of a linear front of that length bends down; 1/(2 pi T2)
    where that of an exponential tail does. A shape without a tail counts as 100 fronts long.
    """
    figures = _figures(waveform, kind)
    tail = figures.tail or 100 * figures.front
    return Band(front=1 / (math.pi * figures.front), tail=1 / (2 * math.pi * tail))


@lru_cache(maxsize=64)
def _figures(waveform: Waveform, kind: Literal["current", "voltage"]) -> ShapeFigures:
    """Measuring a shape takes longer than all the rest, and many cases share one surge."""
    return shape_figures(waveform, kind=kind)
