"""Everything that runs as machine code: devices, Newton's method, the march in time.

All of it stands in one file, because the machine code kept beside a file is renewed when that
file changes and not when another one does.

**Devices.** Every device is followed along a parameter w of its own in which its voltage v(w)
and its current i(w) are both explicit: for a varistor the voltage across the grain boundaries,
for soil what it would be if
nothing ionised, for the others the voltage itself. Nothing is tabulated or inverted.

**Newton's method** runs on the devices alone. Seen from their ends the linear network is a set
of open voltages behind a matrix of impedances (Thevenin). Every device's current rises with
its voltage, so there is one solution, and a step cut until the miss shrinks gets nearer to it.

**The march** is the trapezoidal rule, lines by the method of characteristics. Each capacitor,
inductor and port of a line carries one number from step to step, its memory: what the past
adds to its equation. A mode's port sees the wave v + Z i that left the other port one delay
ago, behind its own impedance Z. Between two steps the wave is taken as straight, which misses
it by at most h^2 |a''| / 8 a passage: the order of the trapezoidal rule itself.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.oracle.compiled import compiled
from surgesim.oracle.records import (
    Clamps,
    Course,
    Devices,
    Insulations,
    Linear,
    Memory,
    Photovoltaics,
    Ports,
    Soils,
    Varistors,
)

Array = NDArray[np.float64]

PARKED = 1e-6
"""Siemens of every device counted with the linear part, so that it has a solution without the
devices; what they carry beyond it is solved for. Its value does not change the answer."""

CORE_LIMIT = 1e6
"""Ampere through a varistor's grain boundaries where the power law goes on as its tangent."""

ROUNDING = 1e-4
"""Share of a varistor's nominal current below which its upturn is straight."""

SOUND = 1e-10
WIDTH = 1e-3
HELD = 0.2
HOLDING = 0.1
CORNER = 0.1
"""The constants of :class:`surgesim.network.elements.Insulation`, in its order. Imported from
there they would stay as they were in machine code that is kept. A test holds them equal."""

ITERATIONS = 500
"""A power law entered from far above takes an exponent's worth of iterations per octave."""

HALVINGS = 50

SETTLED = 1e-8
"""Last change of a device's parameter, relative to it or to 1 V; Newton squares it."""

FLOOR = 1e-12
"""Miss, as a share of the largest voltage about, that rounding keeps from shrinking further."""

NEVER = -1

Point = tuple[float, float, float, float]
"""Of a curve at one w: v in V, dv/dw, i in A, di/dw."""


@compiled
def varistor(w: float, each: Varistors, k: int) -> Point:
    """Varistor ``k`` with ``w`` volt across its grain boundaries."""
    i1, alpha = each.reference_current[k], each.exponent[k]
    size = abs(w)
    limit = each.reference_voltage[k] * (CORE_LIMIT / i1) ** (1.0 / alpha)
    inside = min(size, limit)
    power = i1 * (inside / each.reference_voltage[k]) ** alpha
    slope = i1 * alpha / each.reference_voltage[k]
    slope *= (inside / each.reference_voltage[k]) ** (alpha - 1.0)
    i = power + slope * (size - inside) + each.leak[k] * size
    di = slope + each.leak[k]
    x = i / each.nominal_current[k]
    radius = math.sqrt(x * x + ROUNDING * ROUNDING)
    rounded = radius ** (each.gamma[k] - 1.0)
    rise = each.upturn[k] / each.nominal_current[k] * rounded
    rise *= 1.0 + (each.gamma[k] - 1.0) * (x / radius) ** 2
    v = each.scale[k] * (size + each.upturn[k] * x * rounded)
    dv = each.scale[k] * (1.0 + rise * di)
    return math.copysign(v, w), dv, math.copysign(i, w), di


@compiled
def clamp(w: float, each: Clamps, k: int) -> Point:
    """Clamp ``k`` at ``w`` volt."""
    beyond = abs(w) - each.voltage[k]
    if beyond <= 0.0:
        return w, 1.0, 0.0, 0.0
    siemens = 1.0 / each.resistance[k]
    return w, 1.0, math.copysign(beyond * siemens, w), siemens


@compiled
def photovoltaic(w: float, each: Photovoltaics, k: int) -> Point:
    """Array ``k`` at ``w`` volt; its current counts from plus through it to minus."""
    siemens = 1.0 / each.resistance[k]
    falling = (each.open_circuit_voltage[k] - max(w, 0.0)) * siemens
    delivered = min(each.short_circuit_current[k], falling)
    beyond = w < 0.0 or falling < each.short_circuit_current[k]
    return w, 1.0, min(w, 0.0) * siemens - delivered, siemens if beyond else 0.0


@compiled
def soil(w: float, each: Soils, k: int) -> Point:
    """Soil ``k`` at ``w`` = R0 i volt, which it would show if nothing ionised."""
    size = abs(w) / (each.resistance[k] * each.critical[k])
    root = math.sqrt(1.0 + size)
    slope = (1.0 + 0.5 * size) / (root * root * root)
    return w / root, slope, w / each.resistance[k], 1.0 / each.resistance[k]


@compiled
def drive(v: float, held: float, each: Insulations, k: int) -> tuple[float, float]:
    """How fast insulation ``k`` gives way, in units of 1/lag, at ``v`` volt; and d/dv.

    The bracket of the law at :class:`surgesim.network.elements.Insulation`, with s = ``held``.
    """
    begun = min(max((held - HELD) / HOLDING, 0.0), 1.0)
    alone = begun * begun * (3.0 - 2.0 * begun)
    over = (abs(v) / each.level[k] - 1.0) / WIDTH
    if over <= 0.0:
        return alone, 0.0
    return over + alone, math.copysign(1.0 / (each.level[k] * WIDTH), v)


@compiled
def driving(w: float, s: float, arc: float) -> tuple[float, float, float]:
    """What of ``w`` volt drives a current past an arc that holds ``arc`` volt; d/dw and d/ds."""
    if arc <= 0.0:
        return w, 1.0, 0.0
    low = math.hypot(w - arc, CORNER * arc)
    high = math.hypot(w + arc, CORNER * arc)
    bent = (w - arc) / low - (w + arc) / high
    return w + 0.5 * s * (low - high), 1.0 + 0.5 * s * bent, 0.5 * (low - high)


@compiled
def insulation(
    w: float, known: float, held: float, half: float, each: Insulations, k: int
) -> Point:
    """Insulation ``k`` at ``w`` volt at the end of a step.

    Its conductance is SOUND^(1 - s) / resistance^s, where s = 1 - exp(-y) and dy/dt = drive/lag,
    on what of the voltage the arc does not hold. ``known`` is the y that the step's beginning
    settles, ``half`` half the step in s, ``held`` the state as foreseen for the end.
    """
    rate, slope = drive(w, held, each, k)
    y = known + half / each.lag[k] * rate
    left = math.exp(-y)
    siemens = SOUND * math.exp(each.growth[k] * (1.0 - left))
    free, rising, held_more = driving(w, 1.0 - left, each.arc[k])
    moving = left * half / each.lag[k] * slope
    stiffening = siemens * moving * (each.growth[k] * free + held_more)
    return w, 1.0, siemens * free, siemens * rising + stiffening


@compiled
def curves(devices: Devices, w: Array, known: Array, held: Array, half: float, out: Array) -> None:
    """Every device at its ``w``: rows of ``out`` (m, 4) as in Point."""
    row = 0
    for k in range(len(devices.varistors.scale)):
        out[row] = varistor(w[row], devices.varistors, k)
        row += 1
    for k in range(len(devices.clamps.voltage)):
        out[row] = clamp(w[row], devices.clamps, k)
        row += 1
    for k in range(len(devices.photovoltaics.resistance)):
        out[row] = photovoltaic(w[row], devices.photovoltaics, k)
        row += 1
    for k in range(len(devices.soils.critical)):
        out[row] = soil(w[row], devices.soils, k)
        row += 1
    for k in range(len(devices.insulations.level)):
        out[row] = insulation(w[row], known[k], held[k], half, devices.insulations, k)
        row += 1


@compiled
def missed(points: Array, opened: Array, coupling: Array, out: Array) -> float:
    """Voltage that each device has too much, V, into ``out`` (m,); the largest one back."""
    largest = 0.0
    for j in range(len(opened)):
        total = points[j, 0] - opened[j]
        for k in range(len(opened)):
            total += coupling[j, k] * (points[k, 2] - PARKED * points[k, 0])
        out[j] = total
        largest = max(largest, abs(total))
    return largest


@compiled
def eliminate(matrix: Array, right: Array) -> None:
    """Solve matrix x = right in place, by Gauss with the largest pivot; x into ``right``."""
    n = len(right)
    for k in range(n):
        pivot = k + np.argmax(np.abs(matrix[k:, k]))
        if pivot != k:
            for j in range(k, n):
                matrix[k, j], matrix[pivot, j] = matrix[pivot, j], matrix[k, j]
            right[k], right[pivot] = right[pivot], right[k]
        for i in range(k + 1, n):
            factor = matrix[i, k] / matrix[k, k]
            if factor != 0.0:
                for j in range(k + 1, n):
                    matrix[i, j] -= factor * matrix[k, j]
                right[i] -= factor * right[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            right[k] -= matrix[k, j] * right[j]
        right[k] /= matrix[k, k]


@compiled
def newton_step(points: Array, coupling: Array, miss: Array) -> Array:
    """Change of every parameter by which the tangents take the miss to zero, (m,)."""
    n = len(miss)
    tangent = np.empty((n, n))
    for k in range(n):
        rise = points[k, 3] - PARKED * points[k, 1]
        for j in range(n):
            tangent[j, k] = coupling[j, k] * rise
        tangent[k, k] += points[k, 1]
    change = -miss
    eliminate(tangent, change)
    return change


@compiled
def small(change: Array, w: Array) -> bool:
    """Whether a change no longer matters; one that is no number does."""
    settled = True
    for k in range(len(w)):
        settled = settled and bool(abs(change[k]) <= SETTLED * max(abs(w[k]), 1.0))
    return settled


@compiled
def settle(
    devices: Devices,
    w: Array,
    known: Array,
    held: Array,
    half: float,
    opened: Array,
    coupling: Array,
    points: Array,
) -> bool:
    """Move every device's ``w`` to the solution, its curve there into ``points`` (m, 4).

    ``opened`` (m,) in V and ``coupling`` (m, m) in ohm are the linear rest. False if there is
    no getting nearer, which would be a fault.
    """
    miss, trial_miss = np.empty(len(w)), np.empty(len(w))
    curves(devices, w, known, held, half, points)
    worst = missed(points, opened, coupling, miss)
    for _ in range(ITERATIONS):
        change = newton_step(points, coupling, miss)
        last = small(change, w)
        for _ in range(HALVINGS):
            trial = w + change
            curves(devices, trial, known, held, half, points)
            trial_worst = missed(points, opened, coupling, trial_miss)
            if last or trial_worst < worst:
                break
            change *= 0.5
        else:
            return bool(worst <= FLOOR * max(np.max(np.abs(opened)), np.max(np.abs(w))))
        w[:] = trial
        miss[:] = trial_miss
        worst = trial_worst
        if last:
            return True
    return False


@compiled
def arriving(ports: Ports, leaving: Array, step: int, k: int) -> float:
    """Wave reaching port ``k`` at a step; before the start it was what it was at the start."""
    later = max(step - ports.whole[k], 0)
    earlier = max(later - 1, 0)
    other = ports.other[k]
    part = ports.part[k]
    return float((1.0 - part) * leaving[later, other] + part * leaving[earlier, other])


@compiled
def right_side(linear: Linear, memory: Memory, course: Course, step: int, right: Array) -> None:
    """The known side of the equations of a step, (n + 1,)."""
    right[:] = 0.0
    sources, capacitors, ports = linear.sources, linear.capacitors, linear.ports
    for k in range(len(sources.a)):
        right[sources.a[k]] -= sources.amperes[k, step]
        right[sources.b[k]] += sources.amperes[k, step]
    for k in range(len(sources.row)):
        right[sources.row[k]] = sources.volts[k, step]
    for k in range(len(capacitors.a)):
        right[capacitors.a[k]] += memory.capacitor[k]
        right[capacitors.b[k]] -= memory.capacitor[k]
    for k in range(len(linear.large_capacitors.row)):
        right[linear.large_capacitors.row[k]] = memory.large_capacitor[k]
    for k in range(len(linear.inductors.row)):
        right[linear.inductors.row[k]] = memory.inductor[k]
    for k in range(len(ports.row)):
        right[ports.row[k]] = arriving(ports, course.leaving, step, k)


@compiled
def solved(
    linear: Linear,
    devices: Devices,
    memory: Memory,
    held: Array,
    known: Array,
    half: float,
    right: Array,
    x: Array,
) -> bool:
    """Solve one step or the state at rest into ``x`` (n + 1,)."""
    n, m = linear.columns.shape
    for i in range(n):
        total = 0.0
        for j in range(n):
            total += linear.inverse[i, j] * right[j]
        x[i] = total
    opened, points = np.empty(m), np.empty((m, 4))
    for k in range(m):
        opened[k] = x[devices.a[k]] - x[devices.b[k]]
    if not settle(devices, memory.parameter, known, held, half, opened, linear.coupling, points):
        return False
    for k in range(m):
        excess = points[k, 2] - PARKED * points[k, 0]
        for i in range(n):
            x[i] -= linear.columns[i, k] * excess
    return True


@compiled
def remember(linear: Linear, memory: Memory, course: Course, step: int) -> None:
    """Bring the linear memories to the end of a step, and note what leaves the ports."""
    x = course.unknowns[step]
    capacitors, inductors, ports = linear.capacitors, linear.inductors, linear.ports
    for k in range(len(capacitors.a)):
        across = x[capacitors.a[k]] - x[capacitors.b[k]]
        memory.capacitor[k] = 2.0 * capacitors.conductance[k] * across - memory.capacitor[k]
    large = linear.large_capacitors
    for k in range(len(large.row)):
        memory.large_capacitor[k] += 2.0 * large.impedance[k] * x[large.row[k]]
    for k in range(len(inductors.row)):
        memory.inductor[k] -= 2.0 * (x[inductors.a[k]] - x[inductors.b[k]])
    for k in range(len(ports.row)):
        current = x[ports.row[k]]
        wave = arriving(ports, course.leaving, step, k)
        course.port_voltage[step, k] = wave + ports.impedance[k] * current
        course.leaving[step, k] = wave + 2.0 * ports.impedance[k] * current


@compiled
def begin(devices: Devices, memory: Memory, held: Array, half: float) -> None:
    """Add the first half of a step to every insulation's y, at the drive of its beginning.

    ``held`` goes from s at the beginning to what s would be at the end with that drive.
    """
    each = devices.insulations
    first = len(devices.a) - len(each.level)
    for k in range(len(each.level)):
        rate, _ = drive(memory.parameter[first + k], held[k], each, k)
        memory.progress[k] += half / each.lag[k] * rate
        held[k] = 1.0 - math.exp(-memory.progress[k] - half / each.lag[k] * rate)


@compiled
def finish(devices: Devices, memory: Memory, held: Array, half: float) -> None:
    """Add the second half, at the drive of the end; ``held`` becomes s at the end."""
    each = devices.insulations
    first = len(devices.a) - len(each.level)
    for k in range(len(each.level)):
        rate, _ = drive(memory.parameter[first + k], held[k], each, k)
        memory.progress[k] += half / each.lag[k] * rate
        held[k] = 1.0 - math.exp(-memory.progress[k])


@compiled
def march(linear: Linear, devices: Devices, memory: Memory, course: Course, half: float) -> int:
    """Fill ``course`` from its first row, which is the state at rest.

    The step at which no solution was found, or NEVER.
    """
    steps, width = course.unknowns.shape
    right = np.zeros(width)
    held = course.state[0].copy()
    for step in range(1, steps):
        right_side(linear, memory, course, step, right)
        begin(devices, memory, held, half)
        x = course.unknowns[step]
        if not solved(linear, devices, memory, held, memory.progress, half, right, x):
            return step
        finish(devices, memory, held, half)
        remember(linear, memory, course, step)
        course.state[step] = held
    return NEVER
