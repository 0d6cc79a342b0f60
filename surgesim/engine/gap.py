"""Spark gaps: one conductance, and the logarithm of it as the memory on a node of its own.

The law stands at :class:`surgesim.physics.spark_gap.GapLaw`. ngspice joins ``{A-B}`` into an
expression without brackets; here every number is worked out before it is written.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.numbers import number
from surgesim.engine.parts import Lowered, Part
from surgesim.network.elements import SparkGap
from surgesim.physics.spark_gap import DENSEST, MOST_OVERVOLTAGE, SOUND, GapLaw

Course = tuple[tuple[float, float], ...]
"""Corners of a discharge: time in s, z."""

_SCALE = 1000.0
"""Volt at the memory's node for z = 1, to be large beside ngspice's voltage tolerance."""

_FARAD = 1e-7
"""Of the memory: a decay in 20 us is then 5 A, large beside ngspice's current tolerance."""

_FOLLOWING = 1e5
"""Siemens by which the memory is held to what is given."""

_CORNER = 0.02
"""Of z, by which a straight piece of a given course may miss it: two percent of a conductance."""


def lower_gap(element: SparkGap, *, name: str, a: str, b: str, given: Course | None) -> Lowered:
    """A gap whose discharge follows its law, or until the last corner ``given`` that course.

    A front gives its tail the course: coarse steps would let the voltage rise far beyond the
    sparkover before the gap is seen to fire. It is given as a source of straight pieces, on whose
    corners ngspice lands. After it, and in a front, the law counts, but not in the state at rest.
    """
    memory, seen, over = f"{name}_m", f"{name}_s", f"{name}_o"
    grown = f"min(v({memory})/{number(_SCALE)}, {number(DENSEST)})"
    siemens = f"exp({grown}+({number(math.log(SOUND))}))"
    rate = _rate(element.law, f"(v({over})/{number(_SCALE)})", grown)
    pace = f"{number(_FARAD * _SCALE)}*({rate})"
    parts = [
        Part("B", name, (a, b), f"i=v({a},{b})*{siemens}"),
        Part("C", f"{name}_m", (memory, "0"), number(_FARAD)),
        Part("B", over, (over, "0"), f"v={_over(element.law, f'v({a},{b})', siemens)}"),
        # a node with a capacitor alone has no operating point
        Part("R", f"{name}_m", (memory, "0"), "1e9"),
        Part("E", f"{name}_s", (seen, "0", memory, "0"), number(1 / _SCALE)),
    ]
    if given is None:
        drive = f"(time > 0 ? {pace} : 0)"
    else:
        corners = " ".join(f"{number(time)} {number(_SCALE * z)}" for time, z in given)
        parts.append(Part("V", f"{name}_g", (f"{name}_g", "0"), f"PWL({corners})"))
        held = f"{number(_FOLLOWING)}*(v({name}_g)-v({memory}))"
        drive = f"(time > {number(given[-1][0])} ? {pace} : {held})"
    parts.append(Part("B", f"{name}_m", ("0", memory), f"i={drive}"))
    landed = tuple(time for time, _ in given or ())
    return Lowered(parts=tuple(parts), voltages={gap_state_name(element): seen}, corners=landed)


def gap_state_name(element: SparkGap) -> str:
    """Under which name of the result z is found."""
    return f"{element.name}/state"


def course_of(time: NDArray[np.float64], z: NDArray[np.float64], *, apart: float) -> Course:
    """The corners of a discharge between which it is straight, near enough.

    They are at least ``apart`` (s): each is landed on, and steps that shrink to nothing there
    would be refused.
    """
    kept = {0, len(time) - 1}
    spans = [(0, len(time) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        inside = slice(first + 1, last)
        straight = np.interp(time[inside], time[[first, last]], z[[first, last]])
        off = np.abs(z[inside] - straight)
        worst = int(np.argmax(off))
        if off[worst] > _CORNER:
            middle = first + 1 + worst
            kept.add(middle)
            spans += [(first, middle), (middle, last)]
    corners = [0]
    for k in sorted(kept)[1:-1]:
        if time[k] - time[corners[-1]] >= apart and time[-1] - time[k] >= apart:
            corners.append(k)
    return tuple((float(time[k]), float(z[k])) for k in (*corners, len(time) - 1))


def _over(law: GapLaw, volts: str, siemens: str) -> str:
    """The overvoltage b, times the scale."""
    held = _held(law, f"abs({volts})*{siemens}")
    return f"{number(_SCALE)}*(pwr(abs({volts})/{held}, {number(law.exponent)})-1)"


def _rate(law: GapLaw, over: str, grown: str) -> str:
    """dz/dt by the law."""
    x = f"({over}/(1+{over}/{number(MOST_OVERVOLTAGE)}))"
    slow = number(1 / law.recovery)
    quick = number(1 / law.collapse - 1 / law.recovery)
    growing = f"{x}*({slow}+{quick}*{x}*{x}/(1+{x}*{x}))"
    return f"{over} > 0 ? {growing} : {over}*{slow}*(1-exp(-({grown})))"


def _held(law: GapLaw, amps: str) -> str:
    """What the gap would hold at a current, in brackets."""
    glow, dark = law.glow_voltage - law.arc_voltage, law.sparkover - law.glow_voltage
    share = f"({amps})/{number(law.transition_current)}"
    return (
        f"({number(law.arc_voltage)}+{number(law.arc_resistance)}*({amps})"
        f"+{number(glow)}/(1+{share}*{share})"
        f"+{number(dark)}/(1+({amps})/{number(law.glow_current)}))"
    )
