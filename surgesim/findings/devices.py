"""The current through each kind of element, as its own law gives it from its voltage.

Written from what the elements say of themselves, not from how an engine lowers them: the
energy closure is to notice when the two differ.
"""

from __future__ import annotations

import math
from functools import singledispatch

import numpy as np

from surgesim.errors import ResultRefused
from surgesim.findings.record import Array
from surgesim.network.elements import (
    Ammeter,
    Clamp,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    PhotovoltaicSource,
    Resistor,
    Varistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms

SOUND_CONDUCTANCE = 1e-10
"""Conductance of insulation that has not fired, S."""


@singledispatch
def current(element: object, _waves: Waveforms) -> Array:
    """Current a to b in A over the window."""
    raise ResultRefused(f"the energy balance knows no {type(element).__name__}")


@current.register(Ammeter)
@current.register(Inductor)
@current.register(VoltageSource)
def _(element: Element, waves: Waveforms) -> Array:
    return waves.currents[element.name]


@current.register
def _(element: CurrentSource, waves: Waveforms) -> Array:
    return element.waveform.value(waves.time)


@current.register
def _(element: Resistor, waves: Waveforms) -> Array:
    return waves.across(element.a, element.b) / element.resistance


@current.register
def _(element: Varistor, waves: Waveforms) -> Array:
    return element.law.current(waves.across(element.a, element.b))


@current.register
def _(element: Clamp, waves: Waveforms) -> Array:
    volts = waves.across(element.a, element.b)
    beyond = np.maximum(np.abs(volts) - element.voltage, 0.0)
    amps: Array = np.sign(volts) * beyond / element.resistance
    return amps


@current.register
def _(element: Insulation, waves: Waveforms) -> Array:
    """The conductance goes from sound to arc evenly in its logarithm."""
    sound, arc = math.log(SOUND_CONDUCTANCE), -math.log(element.resistance)
    state = waves.at(f"{element.name}/state")
    amps: Array = waves.across(element.a, element.b) * np.exp(sound + state * (arc - sound))
    return amps


@current.register
def _(element: PhotovoltaicSource, waves: Waveforms) -> Array:
    """Delivers, so its current from plus to minus through itself is negative."""
    volts = waves.across(element.a, element.b)
    to_open = (element.open_circuit_voltage - volts) / element.resistance
    bypass = np.maximum(-volts, 0.0) / element.resistance
    amps: Array = -(np.minimum(element.short_circuit_current, to_open) + bypass)
    return amps
