"""The arrays the compiled march runs on, by name."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


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


class Devices(NamedTuple):
    """All of them in this order, with the indices of their ends, each (m,)."""

    a: Indices
    b: Indices
    varistors: Varistors
    clamps: Clamps
    photovoltaics: Photovoltaics
    soils: Soils
    insulations: Insulations


class Sources(NamedTuple):
    """Current sources' ends and amperes (n, m), voltage sources' rows and volts (n, m)."""

    a: Indices
    b: Indices
    amperes: Array
    row: Indices
    volts: Array


class Capacitors(NamedTuple):
    """Ends and 2C/h in S, each (n,)."""

    a: Indices
    b: Indices
    conductance: Array


class LargeCapacitors(NamedTuple):
    """Rows and h/2C in ohm, each (n,)."""

    row: Indices
    impedance: Array


class Inductors(NamedTuple):
    """Rows and ends, each (n,)."""

    row: Indices
    a: Indices
    b: Indices


class Ports(NamedTuple):
    """Of every port: its row, the port at the other end, impedance in ohm, the delay as whole
    steps and the part of one; each (n,)."""

    row: Indices
    other: Indices
    impedance: Array
    whole: Indices
    part: Array


class Linear(NamedTuple):
    """The network without its devices: ``inverse`` (n, n) of its matrix, ``columns`` (n, m)
    what one ampere through each device does to the unknowns, ``coupling`` (m, m) what it does
    to the devices' voltages, in ohm."""

    inverse: Array
    columns: Array
    coupling: Array
    sources: Sources
    capacitors: Capacitors
    large_capacitors: LargeCapacitors
    inductors: Inductors
    ports: Ports


class Memory(NamedTuple):
    """What is carried from step to step: of capacitors (A), large ones (V) and inductors (V), the
    devices' parameters and the insulations' y."""

    capacitor: Array
    large_capacitor: Array
    inductor: Array
    parameter: Array
    progress: Array


class Course(NamedTuple):
    """What is kept of every step, each (steps + 1, ...): the unknowns and a zero for the remote
    earth, the ports' voltages, the waves leaving the ports, the insulations' states."""

    unknowns: Array
    port_voltage: Array
    leaving: Array
    state: Array
