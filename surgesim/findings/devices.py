"""The current through each kind of element, as its own law gives it from its voltage.

Written from what the elements say of themselves, not from how an engine lowers them: the
invariants are to notice when the two differ.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache, singledispatch

import numpy as np

from surgesim.errors import ResultRefused
from surgesim.findings.record import Array
from surgesim.network.elements import (
    ARC_CORNER,
    SOUND_CONDUCTANCE,
    Ammeter,
    Clamp,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    IonisingSoil,
    PhotovoltaicSource,
    Resistor,
    SparkGap,
    Varistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.varistor import VaristorLaw

STEEP = (Varistor, Clamp, Insulation, PhotovoltaicSource, SparkGap)
"""Kinds that conduct steeply: their law at a voltage tells their current only roughly."""

CURVE_POINTS = 2000
"""Points of a varistor's curve from 1 uA to 1 MA; between two of them, 1.4 % apart in current,
a straight line is right to 0.003 %."""


class Currents:
    """The currents of a network's elements over one window, each computed once."""

    def __init__(self, waves: Waveforms) -> None:
        self.waves = waves
        self._known: dict[str, Array] = {}

    def through(self, element: Element) -> Array:
        """Current a to b in A over the window."""
        if element.name not in self._known:
            self._known[element.name] = current(element, self.waves)
        return self._known[element.name]

    def since(self, first: int) -> Currents:
        """The currents from one point of the window on, what is known of them included."""
        if first == 0:
            return self
        later = replace(
            self.waves,
            time=self.waves.time[first:],
            voltages={name: values[first:] for name, values in self.waves.voltages.items()},
            currents={name: values[first:] for name, values in self.waves.currents.items()},
        )
        currents = Currents(later)
        currents._known = {name: values[first:] for name, values in self._known.items()}
        return currents


@singledispatch
def current(element: object, _waves: Waveforms) -> Array:
    """Current a to b in A over the window."""
    raise ResultRefused(f"no current is known of a {type(element).__name__}")


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
    """Off the law's curve: solving the law at every point of a record takes too long."""
    volts = waves.across(element.a, element.b)
    size = np.abs(volts)
    curve_volts, curve_amps = _curve(element.law)
    amps = np.interp(size, curve_volts, curve_amps)
    beyond = size > curve_volts[-1]
    if beyond.any():
        amps[beyond] = element.law.current(size[beyond])
    signed: Array = np.copysign(amps, volts)
    return signed


@current.register
def _(element: Clamp, waves: Waveforms) -> Array:
    volts = waves.across(element.a, element.b)
    beyond = np.maximum(np.abs(volts) - element.voltage, 0.0)
    amps: Array = np.sign(volts) * beyond / element.resistance
    return amps


@current.register
def _(element: IonisingSoil, waves: Waveforms) -> Array:
    """The positive root i of i^2 - (u^2/Ig) i - u^2 = 0, u = v/R0, with the sign of v."""
    u = waves.across(element.a, element.b) / element.resistance
    linear = u**2 / element.critical
    amps: Array = np.copysign(linear / 2 + np.sqrt(linear**2 / 4 + u**2), u)
    return amps


@current.register
def _(element: Insulation, waves: Waveforms) -> Array:
    """The conductance goes from sound to arc evenly in its logarithm."""
    sound, arc = math.log(SOUND_CONDUCTANCE), -math.log(element.resistance)
    state = waves.at(f"{element.name}/state")
    volts = waves.across(element.a, element.b)
    held = element.arc_voltage
    if held > 0:
        corner = ARC_CORNER * held
        volts = volts + state / 2 * (
            np.hypot(volts - held, corner) - np.hypot(volts + held, corner)
        )
    amps: Array = volts * np.exp(sound + state * (arc - sound))
    return amps


@current.register
def _(element: SparkGap, waves: Waveforms) -> Array:
    volts = waves.across(element.a, element.b)
    return element.law.current(volts, waves.at(f"{element.name}/state"))


@current.register
def _(element: PhotovoltaicSource, waves: Waveforms) -> Array:
    """Delivers, so its current from plus to minus through itself is negative."""
    volts = waves.across(element.a, element.b)
    to_open = (element.open_circuit_voltage - volts) / element.resistance
    bypass = np.maximum(-volts, 0.0) / element.resistance
    amps: Array = -(np.minimum(element.short_circuit_current, to_open) + bypass)
    return amps


@lru_cache(maxsize=64)
def _curve(law: VaristorLaw) -> tuple[Array, Array]:
    """Voltages and currents of a law from zero up; below 1 uA as a resistor."""
    amps = np.concatenate(([0.0], np.geomspace(1e-6, 1e6, CURVE_POINTS)))
    return law.voltage(amps), amps
