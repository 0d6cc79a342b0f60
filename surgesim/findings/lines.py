"""Energy that went into a multiconductor line: lost at its ends, stored or still travelling.

Each mode stands by itself: conductor powers add up to modal powers. A mode's port voltage v
and current i into the port carry the wave ``f = (v + Z i)/2`` that sets out into the line;
what set out within the last delay is still on its way, so at time t the line holds::

    W = integral from t - delay to t of (f_near^2 + f_far^2) / Z

A lumped mode holds ``L i^2/2`` and ``C v^2/2`` of its pi section, L = Z delay, C = delay/(2 Z)
at each port.
"""

from __future__ import annotations

import numpy as np

from surgesim.findings.record import Array, integral
from surgesim.network.elements import Line
from surgesim.network.waveforms import Waveforms

ENDS = ("near", "far")


def energy_into(line: Line, waves: Waveforms, *, first: int = 0) -> float:
    """Energy in J that the line took from its conductors, from the point ``first`` on."""
    held = _lumped if line.name in waves.lumped else _travelling
    total = 0.0
    for mode in range(len(line.impedance)):
        total += held(line, mode, waves, first)
        total += sum(_end_losses(line, mode, end, waves, first) for end in ENDS)
    return total


def reference(line: Line, end: str) -> str:
    """The node that the conductors' voltages at an end are against."""
    return line.near_reference if end == "near" else line.far_reference


def _port(line: Line, mode: int, end: str, waves: Waveforms) -> tuple[Array, Array]:
    name = f"{line.name}/{end}/{mode}"
    return waves.voltages[name], waves.currents[name]


def _end_losses(line: Line, mode: int, end: str, waves: Waveforms, first: int) -> float:
    """Half a mode's series resistance."""
    _, amps = (values[first:] for values in _port(line, mode, end, waves))
    return integral(line.resistance[mode] / 2 * amps * amps, waves.time[first:])


def _travelling(line: Line, mode: int, waves: Waveforms, first: int) -> float:
    """Change of the energy under way on a lossless mode."""
    impedance, delay = line.impedance[mode], line.delay[mode]
    held = 0.0
    for end in ENDS:
        volts, amps = _port(line, mode, end, waves)
        power = ((volts + impedance * amps) / 2) ** 2 / impedance
        held += _over_last(power, waves.time, delay)
        held -= _over_last(power[: first + 1], waves.time[: first + 1], delay)
    return held


def _over_last(power: Array, time: Array, delay: float) -> float:
    """Integral over the last ``delay`` s, the power before t = 0 being what it was then."""
    start = float(time[-1]) - delay
    if start < 0.0:
        return integral(power, time) - start * float(power[0])
    later = time > start
    values = np.concatenate(([np.interp(start, time, power)], power[later]))
    return integral(values, np.concatenate(([start], time[later])))


def _lumped(line: Line, mode: int, waves: Waveforms, first: int) -> float:
    """Change of the energy stored in a pi section.

    The current of its inductor is half the difference of the port currents, less what the two
    capacitors take; it is needed only at the two ends.
    """
    impedance, delay = line.impedance[mode], line.delay[mode]
    henry, farad = impedance * delay, delay / (2 * impedance)
    near_v, near_i = _port(line, mode, "near", waves)
    far_v, far_i = _port(line, mode, "far", waves)
    between, crossing = near_v - far_v, (near_i - far_i) / 2

    def magnetic(point: int) -> float:
        # at t = 0 nothing changes; anywhere else the rate is that of the step before
        step = slice(max(point - 1, 0), point + 1)
        rate = np.diff(between[step]) / np.diff(waves.time[step])
        through = float(crossing[point]) - farad / 2 * float(rate.sum())
        return henry / 2 * through**2

    electric = farad / 2 * (near_v**2 + far_v**2)
    last = len(waves.time) - 1
    return magnetic(last) - magnetic(first) + float(electric[last] - electric[first])
