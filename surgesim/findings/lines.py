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


def energy_into(line: Line, waves: Waveforms) -> float:
    """Energy in J that the line took from its conductors over the window."""
    transform = np.linalg.inv(line.modes)
    modal = {
        end: transform @ np.array([waves.at(node) for node in getattr(line, end)]) for end in ENDS
    }
    held = _lumped if line.name in waves.lumped else _travelling
    total = 0.0
    for mode in range(len(line.impedance)):
        total += held(line, mode, waves)
        total += sum(_end_losses(line, mode, end, modal[end][mode], waves) for end in ENDS)
    return total


def _port(line: Line, mode: int, end: str, waves: Waveforms) -> tuple[Array, Array]:
    name = f"{line.name}/{end}/{mode}"
    return waves.voltages[name], waves.currents[name]


def _end_losses(line: Line, mode: int, end: str, terminal: Array, waves: Waveforms) -> float:
    """Half a mode's series resistance and its earth return, which also stores.

    The earth return is R parallel to L. Its voltage is what is left of the terminal's; its
    inductor starts with all of the standing current and integrates that voltage.
    """
    volts, amps = _port(line, mode, end, waves)
    series = line.resistance[mode] / 2
    lost = integral(series * amps * amps, waves.time)
    ohm, henry = line.return_resistance[mode] / 2, line.return_inductance[mode] / 2
    if ohm <= 0.0 or henry <= 0.0:
        return lost
    dropped = terminal - volts - series * amps
    shunted = amps[0] + _cumulative(dropped, waves.time) / henry
    stored = henry / 2 * float(shunted[-1] ** 2 - shunted[0] ** 2)
    return lost + integral(dropped * dropped / ohm, waves.time) + stored


def _travelling(line: Line, mode: int, waves: Waveforms) -> float:
    """Change of the energy under way on a lossless mode."""
    impedance, delay = line.impedance[mode], line.delay[mode]
    held = 0.0
    for end in ENDS:
        volts, amps = _port(line, mode, end, waves)
        power = ((volts + impedance * amps) / 2) ** 2 / impedance
        held += _over_last(power, waves.time, delay) - float(power[0]) * delay
    return held


def _over_last(power: Array, time: Array, delay: float) -> float:
    """Integral over the last ``delay`` s, the power before t = 0 being what it was then."""
    start = float(time[-1]) - delay
    if start < 0.0:
        return integral(power, time) - start * float(power[0])
    later = time > start
    values = np.concatenate(([np.interp(start, time, power)], power[later]))
    return integral(values, np.concatenate(([start], time[later])))


def _lumped(line: Line, mode: int, waves: Waveforms) -> float:
    """Change of the energy stored in a pi section.

    The current of its inductor is half the difference of the port currents, less what the two
    capacitors take; it is needed only at the two ends of the window.
    """
    impedance, delay = line.impedance[mode], line.delay[mode]
    henry, farad = impedance * delay, delay / (2 * impedance)
    near_v, near_i = _port(line, mode, "near", waves)
    far_v, far_i = _port(line, mode, "far", waves)
    rate = float(np.diff((near_v - far_v)[-2:])[0] / np.diff(waves.time[-2:])[0])
    first = float(near_i[0] - far_i[0]) / 2
    last = float(near_i[-1] - far_i[-1]) / 2 - farad / 2 * rate
    electric = near_v**2 + far_v**2
    return henry / 2 * (last**2 - first**2) + farad / 2 * float(electric[-1] - electric[0])


def _cumulative(values: Array, time: Array) -> Array:
    """Running integral by the trapezoidal rule, zero at the start."""
    steps = np.diff(time) * (values[1:] + values[:-1]) / 2
    return np.concatenate(([0.0], np.cumsum(steps)))
