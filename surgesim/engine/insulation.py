"""Insulation that flashes over at a level and stays an arc: one memory, one conductance.

The law stands at :class:`surgesim.network.elements.Insulation`; its state is the memory here,
on a node and a capacitor of its own.
"""

from __future__ import annotations

import math

from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part
from surgesim.engine.table import pwl
from surgesim.network.elements import (
    ARC_CORNER,
    HELD,
    HOLDING,
    OVERVOLTAGE,
    SOUND_CONDUCTANCE,
    Insulation,
)

FIRED = 0.5
"""A memory above this counts as flashed over."""

_GROWTH = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0)
"""Corners of a given memory, in lags."""

_SMOOTH = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)

_SCALE = 1000.0
"""Volt at the memory's node for s = 1, to be large beside ngspice's voltage tolerance."""


def lower_insulation(
    element: Insulation, *, name: str, a: str, b: str, armed_from: float
) -> Lowered:
    """A path that may fire at any time after ``armed_from`` (s), never in the state at rest.

    Sound and arc both hold themselves. Ngspice's search for the state at rest passes through
    voltages that never stand anywhere, and would come out with an arc where nothing fired.
    """
    memory, seen = f"{name}_m", f"{name}_s"
    state = f"v({memory})/{number(_SCALE)}"
    over = pwl(f"v({a},{b})", _over(element.level))
    alone = pwl(f"v({memory})", _alone())
    drive = f"(time > {number(armed_from)} ? (1-{state})*({over}+{alone}) : 0)"
    parts = (
        Part("B", name, (a, b), _path(element, a, b, state)),
        Part("B", f"{name}_m", ("0", memory), f"i={drive}"),
        Part("C", f"{name}_m", (memory, "0"), number(element.lag / _SCALE)),
        # a node with a capacitor alone has no operating point
        Part("R", f"{name}_m", (memory, "0"), "1e9"),
        Part("E", f"{name}_s", (seen, "0", memory, "0"), number(1 / _SCALE)),
    )
    return Lowered(parts=parts, voltages={state_name(element): seen})


def lower_arc(element: Insulation, *, name: str, a: str, b: str, fired_at: float) -> Lowered:
    """A path known to have passed ``FIRED`` at ``fired_at`` (s): its memory is given.

    The memory grows as above, as a source of straight pieces: ngspice lands on their corners,
    so that coarse steps do not smear the moment of flashover over a step. What a step of
    40 kV leaves as current in a cable is not small.
    """
    seen = f"{name}_s"
    begin = max(0.0, fired_at + element.lag * math.log(1 - FIRED))
    grown = [(begin + x * element.lag, 1 - math.exp(-x)) for x in _GROWTH]
    grown.append((begin + 2 * _GROWTH[-1] * element.lag, 1.0))
    if begin > 0.0:
        grown.insert(0, (0.0, 0.0))
    corners = " ".join(f"{number(time)} {number(memory)}" for time, memory in grown)
    parts = (
        Part("B", name, (a, b), _path(element, a, b, f"v({seen})")),
        Part("V", f"{name}_s", (seen, "0"), f"PWL({corners})"),
    )
    landed = tuple(time for time, _ in grown)
    return Lowered(parts=parts, voltages={state_name(element): seen}, corners=landed)


def _over(level: float) -> list[tuple[float, float]]:
    """max(0, |v|/level - 1) / OVERVOLTAGE by voltage; as a table, ngspice is twice as quick."""
    return [
        (-2 * level, 1 / OVERVOLTAGE),
        (-level, 0.0),
        (level, 0.0),
        (2 * level, 1 / OVERVOLTAGE),
    ]


def _alone() -> list[tuple[float, float]]:
    """How far the collapse goes on alone, by the voltage of the memory's node."""
    between = [(HELD + HOLDING * x, x * x * (3 - 2 * x)) for x in _SMOOTH]
    points = [(-1.0, 0.0), (HELD, 0.0), *between, (HELD + HOLDING, 1.0), (2.0, 1.0)]
    return [(_SCALE * memory, alone) for memory, alone in points]


def state_name(element: Insulation) -> str:
    """Under which name of the result the memory is found."""
    return f"{element.name}/state"


def _path(element: Insulation, a: str, b: str, state: str) -> str:
    sound = math.log(SOUND_CONDUCTANCE)
    growth = -math.log(element.resistance) - sound
    conductance = f"exp({number(sound)}+{number(growth)}*{state})"
    return f"i={_driving(element.arc_voltage, f'v({a},{b})', state)}*{conductance}"


def _driving(arc: float, volts: str, state: str) -> str:
    """What of the voltage drives a current: all of it, or what the arc does not hold."""
    if arc == 0:
        return volts
    bend = number((ARC_CORNER * arc) ** 2)
    below, above = (
        f"sqrt(({volts}{sign}{number(arc)})*({volts}{sign}{number(arc)})+{bend})" for sign in "-+"
    )
    return f"({volts}+0.5*{state}*({below}-{above}))"
