"""Insulation that flashes over at a level and stays an arc: one memory, one conductance.

The memory s goes from 0, sound, to 1, arc. Its rate is driven by how far the voltage is over
the level, and by itself once it has begun::

    lag ds/dt = (1 - s) (max(0, |v|/level - 1) / WIDTH + hold(s))
    i = v Goff (Gon/Goff)^s,   Goff = 1e-10 S,   Gon = 1/resistance

Below the level nothing moves, exactly, so a long standing voltage never creeps towards a
flashover. Above it the memory is driven the faster the further it is, which holds the crest
near the level on any front; ``hold`` goes smoothly from 0 to 1 as s passes ``HOLD``, after
which the collapse goes on at ``lag`` whatever the voltage does.

Our own form for a switch a circuit solver can follow; no model of the discharge.
"""

from __future__ import annotations

import math

from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part
from surgesim.engine.table import pwl
from surgesim.network.elements import Insulation

WIDTH = 1e-3
"""Overvoltage, as a share of the level, at which the memory moves with 1/lag."""

HOLD = 0.2
"""Where the memory holds itself: the path then still has more than 10 megohm."""

SOUND_CONDUCTANCE = 1e-10

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
    hold = pwl(f"v({memory})", _hold())
    drive = f"(time > {number(armed_from)} ? (1-{state})*({over}+{hold}) : 0)"
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
    return Lowered(parts=parts, voltages={state_name(element): seen})


def _over(level: float) -> list[tuple[float, float]]:
    """max(0, |v|/level - 1) / WIDTH by voltage; as a table, ngspice is twice as quick."""
    return [(-2 * level, 1 / WIDTH), (-level, 0.0), (level, 0.0), (2 * level, 1 / WIDTH)]


def _hold() -> list[tuple[float, float]]:
    """0 below ``HOLD``, 1 from a tenth above it, smooth between; by the node's voltage."""
    between = [(HOLD + 0.1 * x, x * x * (3 - 2 * x)) for x in _SMOOTH]
    points = [(-1.0, 0.0), (HOLD, 0.0), *between, (HOLD + 0.1, 1.0), (2.0, 1.0)]
    return [(_SCALE * memory, hold) for memory, hold in points]


def state_name(element: Insulation) -> str:
    """Under which name of the result the memory is found."""
    return f"{element.name}/state"


def _path(element: Insulation, a: str, b: str, state: str) -> str:
    sound = math.log(SOUND_CONDUCTANCE)
    growth = -math.log(element.resistance) - sound
    return f"i=v({a},{b})*exp({number(sound)}+{number(growth)}*{state})"
