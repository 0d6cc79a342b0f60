"""The arrays the compiled march runs on, by name."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]


class Varistors(NamedTuple):
    """Parameters of the law, each (n,); see ``physics.varistor.VaristorLaw``."""

    reference_voltage: Array
    reference_current: Array
    exponent: Array
    upturn: Array
    nominal_current: Array
    gamma: Array
    leak: Array
    scale: Array


class Clamps(NamedTuple):
    """Volt and ohm, each (n,)."""

    voltage: Array
    resistance: Array


class Photovoltaics(NamedTuple):
    """Volt, ampere, ohm, each (n,)."""

    open_circuit_voltage: Array
    short_circuit_current: Array
    resistance: Array


class Soils(NamedTuple):
    """Ohm and critical ampere, each (n,)."""

    resistance: Array
    critical: Array


class Insulations(NamedTuple):
    """Level in V, lag in s, logarithm of arc over sound conductance, what the arc holds in V,
    each (n,).
    """

    level: Array
    lag: Array
    growth: Array
    arc: Array


class Gaps(NamedTuple):
    """Parameters of the law, each (n,); see ``physics.spark_gap.GapLaw``."""

    sparkover: Array
    collapse: Array
    glow_voltage: Array
    arc_voltage: Array
    arc_resistance: Array
    glow_current: Array
    transition_current: Array
    recovery: Array
    exponent: Array


class Discharges(NamedTuple):
    """The gaps in a step, each (n,): the z that its beginning settles, and as foreseen for its
    end what each would hold, in V, and z."""

    known: Array
    stands: Array
    seen: Array


class Devices(NamedTuple):
    """All of them in this order, with the indices of their ends, each (m,)."""

    a: Indices
    b: Indices
    varistors: Varistors
    clamps: Clamps
    photovoltaics: Photovoltaics
    soils: Soils
    insulations: Insulations
    gaps: Gaps


class Sources(NamedTuple):
    """Current sources' ends and amperes (k, n), voltage sources' rows and volts (k, n), at the
    moments ``time`` (k,) between which they are straight."""

    time: Array
    a: Indices
    b: Indices
    amperes: Array
    row: Indices
    volts: Array


class Capacitors(NamedTuple):
    """Rows and h/2C in ohm, each (n,)."""

    row: Indices
    impedance: Array


class Inductors(NamedTuple):
    """Rows and ends, each (n,)."""

    row: Indices
    a: Indices
    b: Indices


class Ports(NamedTuple):
    """Of every port: its row, the port at the other end, impedance in ohm, delay in s, whether
    its line is lumped, and the coefficient of a lumped line's all-pass, else 0; each (p,).
    ``share`` (n + 1, p) is what the unknowns make of the port's voltage."""

    row: Indices
    other: Indices
    impedance: Array
    delay: Array
    lumped: Flags
    across: Array
    share: Array


class Linear(NamedTuple):
    """The network without its devices, for one ``step`` in s, of whose unknowns the first
    ``volts`` are voltages: ``inverse`` (n, n) of its matrix, transposed; ``columns`` (m, n) what
    one ampere through each device does to the unknowns; ``coupling`` (m, m) what it does to the
    devices' voltages, in ohm; ``pairs`` (q, 2) the ends of all capacitors and devices."""

    step: float
    volts: int
    pairs: Indices
    inverse: Array
    columns: Array
    coupling: Array
    sources: Sources
    capacitors: Capacitors
    inductors: Inductors
    ports: Ports


class Memory(NamedTuple):
    """What is carried from step to step: capacitors' voltages (V), inductors' fluxes
    (Vs), the devices' parameters, the insulations' y, the gaps' z, and the largest size so
    far of every unknown, wave that left a port, and voltage across a pair."""

    voltage: Array
    flux: Array
    parameter: Array
    progress: Array
    discharge: Array
    largest: Array


class Course(NamedTuple):
    """What is kept of every point, each (points, ...): its time in s, the unknowns and a zero for
    the remote earth, the ports' voltages, the waves leaving the ports, the voltages across the
    pairs, the insulations' states, the gaps' z."""

    time: Array
    unknowns: Array
    port_voltage: Array
    leaving: Array
    across: Array
    state: Array
    discharge: Array


class Control(NamedTuple):
    """Until when to march, in s, and what may come of a step.

    ``bend`` is by how much a step's chord may miss what lies between its ends, as a share of its
    size; infinite where the step is given. ``finest`` and ``coarsest``: there is no shorter, no
    longer step than this one.
    """

    stop: float
    bend: float
    finest: bool
    coarsest: bool
