"""The engine-neutral circuit: every element is a small frozen record of its parameters.

Nodes are text, ``"array/plus"``, ``"inverter slot/plus to pe/hot"``; ``GROUND`` is remote
earth and nothing else. Element names are unique in a network. ``group`` names the thing of
the scenario an element belongs to (``"cable field run"``), for comments in a deck and for
messages. Currents count positive from ``a`` to ``b`` through the element.

How an element is written for ngspice stands in ``engine``; nothing here knows it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.physics.induced import Induced
from surgesim.physics.spark_gap import GapLaw
from surgesim.physics.varistor import VaristorLaw
from surgesim.physics.waveforms import Waveform

GROUND = "remote earth"
"""The reference node: earth far from every electrode."""

SOUND_CONDUCTANCE = 1e-10
"""Siemens of insulation that has not flashed over."""

OVERVOLTAGE = 1e-3
"""Share of its level by which insulation that gives way at 1/lag is above it."""

HELD, HOLDING = 0.2, 0.1
"""State from which, and over which further, the collapse of insulation comes to go on alone.
At 0.2 the path still has more than 10 megohm."""


ARC_CORNER = 0.1
"""Share of an arc's voltage over which its current sets in, softly enough to be followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """What all two-terminal elements share."""

    name: str
    a: str
    b: str
    group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor(Element):
    """Ohmic resistance in ohm."""

    resistance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Inductor(Element):
    """Inductance in henry."""

    inductance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor(Element):
    """Capacitance in farad."""

    capacitance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ammeter(Element):
    """A wire whose current is recorded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageSource(Element):
    """Ideal voltage source, v(a) - v(b) = offset + waveform(t), in volt.

    What the surge's current induces somewhere is one too, its waveform :class:`Induced`.
    """

    waveform: Waveform | Induced | None = None
    offset: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentSource(Element):
    """Ideal current source pushing waveform(t) ampere from a through itself into b."""

    waveform: Waveform


@dataclass(frozen=True, slots=True, kw_only=True)
class Varistor(Element):
    """Metal-oxide varistor; its static law carries the tolerance already."""

    law: VaristorLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp(Element):
    """Textbook limiter: open below ``voltage`` (either sign), above it ``resistance`` ohm.

    For comparison with worked examples only; no real arrester is like it.
    """

    voltage: float
    resistance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotovoltaicSource(Element):
    """An array seen from its two poles, a = plus, b = minus.

    Delivers ``short_circuit_current`` below the knee and nothing at ``open_circuit_voltage``;
    beyond either end of that range it conducts through ``resistance`` (cells forward above
    the open-circuit voltage, bypass diodes below zero).
    """

    open_circuit_voltage: float
    short_circuit_current: float
    resistance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IonisingSoil(Element):
    """The soil round a compact electrode, whose resistance falls as its current ionises it::

        v = R0 i / sqrt(1 + |i| / Ig)

    ``resistance`` R0 in ohm at small currents, ``critical`` current Ig in ampere, of
    surgesim.physics.ionisation. Without memory: a falling current finds the soil whole again
    at once, where real soil takes longer.
    """

    resistance: float
    critical: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Insulation(Element):
    """Insulation that flashes over once \\|v\\| passes ``level`` (V), and stays an arc after that.

    Its state s goes from 0, sound, to 1, arc. With ``lag`` in s and the arc's ``resistance``
    in ohm::

        lag ds/dt = (1 - s) (max(0, |v|/level - 1) / OVERVOLTAGE + alone(s)),   s(0) = 0
        i = f Gsound^(1-s) Garc^s,   Gsound = SOUND_CONDUCTANCE,   Garc = 1/resistance
        f = v + s/2 (sqrt((v - U)^2 + d^2) - sqrt((v + U)^2 + d^2)),   d = ARC_CORNER U
        alone(s) = x^2 (3 - 2x),   x = (s - HELD) / HOLDING, kept within 0 and 1

    The arc holds ``arc_voltage`` U (V): f is v less U in v's direction, and next to nothing below
    U. Without one f is v.

    Below the level nothing moves, exactly, so a long standing voltage never creeps towards a
    flashover. Above it the state is driven the faster the further it is, which holds the crest
    near the level on any front. Once it has begun, the collapse goes on at ``lag`` whatever the
    voltage does. Before the surge all insulation is sound: one that the standing voltage passes
    fires at once.

    Our own form for a switch a circuit solver can follow; no model of the discharge. Each of
    the two solvers writes it its own way.
    """

    level: float
    lag: float = 10e-9
    resistance: float = 0.1
    arc_voltage: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SparkGap(Element):
    """Spark gap or gas discharge tube; its law carries the tolerance already.

    How far its discharge has come, the z of :class:`surgesim.physics.spark_gap.GapLaw`, is 0
    before the surge, whatever stands across it. Results name it ``NAME/state``.
    """

    law: GapLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupling:
    """Mutual inductance in henry between two inductors, by name; dots at their ``a`` ends."""

    name: str
    first: str
    second: str
    mutual: float
    group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A multiconductor line in modal form.

    For n conductors: ``near`` and ``far`` are their n end nodes; the conductor voltages are
    ``voltage_modes @ modal voltages``, the conductor currents ``inv(voltage_modes).T @ modal
    currents``. Each mode is a lossless line of ``impedance`` (ohm) and ``delay`` (s).
    At each end of a mode stands in series half of ``resistance`` (ohm, whole line).

    The conductors' voltages are against a reference at each end, remote earth unless
    ``near_reference`` and ``far_reference`` name another node. The sum of the conductors'
    currents at an end comes back there: what stands between a reference and remote earth is
    in the way of that sum alone, as the soil is.
    """

    name: str
    near: tuple[str, ...]
    far: tuple[str, ...]
    voltage_modes: tuple[tuple[float, ...], ...]
    impedance: tuple[float, ...]
    delay: tuple[float, ...]
    resistance: tuple[float, ...]
    near_reference: str = GROUND
    far_reference: str = GROUND
    group: str = ""

    @property
    def modes(self) -> NDArray[np.float64]:
        """Modal voltage matrix, shape (n, n)."""
        return np.array(self.voltage_modes)


AnyElement = Element | Coupling | Line
