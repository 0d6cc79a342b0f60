"""Everything that runs as machine code: devices, Newton's method, the march in time.

Spark gaps have a file of their own, :mod:`surgesim.oracle.gaps`.

**Devices.** Every device is followed along a parameter w of its own in which its voltage v(w)
and its current i(w) are both explicit: for a varistor the voltage across the grain boundaries,
for soil what it would be if
nothing ionised, for the others the voltage itself. Nothing is tabulated or inverted.

**Newton's method** runs on the devices alone. Seen from their ends the linear network is a set
of open voltages behind a matrix of impedances (Thevenin). Every device's current rises with
its voltage, so there is one solution, and a step cut until the miss shrinks gets nearer to it.

**The march** is the trapezoidal rule, lines by the method of characteristics: a mode's port sees
the wave v + Z i that left the other port one delay ago, behind its own impedance Z. Between two
points the wave is read off a cubic. In a lumped line it passes an all-pass of the same delay,
(1 - s d/2)/(1 + s d/2), instead: a lattice of the line's whole L and C, in which nothing is lost
either.

A march keeps to one step. It breaks off where that step is too long for what happens, or shorter
than need be, for the next march to go on from there with another.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.oracle import gaps
from surgesim.oracle.compiled import compiled
from surgesim.oracle.records import (
    Clamps,
    Control,
    Course,
    Devices,
    Discharges,
    Insulations,
    Linear,
    Memory,
    Photovoltaics,
    Soils,
    Varistors,
)
from surgesim.oracle.straightness import bend, largest_so_far

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

FORESEEN = 60
"""Times that a step is solved for what it foresees of its gaps; three is usual."""

SETTLED = 1e-8
"""Last change of a device's parameter, relative to it or to 1 V; Newton squares it."""

FLOOR = 1e-12
"""Miss, as a share of the largest voltage about, that rounding keeps from shrinking further."""

AT_THE_END, TOO_LONG, TOO_SHORT, NO_ROOM, NO_SOLUTION = range(5)
"""Why a march ended."""

AMPLE = 1 / 8
"""Share of the bend allowed below which a step may be doubled, which bends four times as much."""

CALM = 4
"""Steps in a row that must be that straight first."""

LEAST_OF_A_COLLAPSE = 0.05
"""Of an insulation's state, by which it may change in a step."""

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
def curves(
    devices: Devices,
    w: Array,
    known: Array,
    held: Array,
    going: Discharges,
    half: float,
    out: Array,
) -> None:
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
    for k in range(len(devices.gaps.sparkover)):
        out[row] = gaps.gap(w[row], half, going, devices.gaps, k)
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
    going: Discharges,
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
    curves(devices, w, known, held, going, half, points)
    worst = missed(points, opened, coupling, miss)
    for _ in range(ITERATIONS):
        change = newton_step(points, coupling, miss)
        last = small(change, w)
        for _ in range(HALVINGS):
            trial = w + change
            curves(devices, trial, known, held, going, half, points)
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
def reading(time: Array, values: Array, last: int, column: int, moment: float) -> float:
    """A column of ``values`` at a moment, straight between points; outside them as at their ends.

    The points are those up to the index ``last``.
    """
    k = np.searchsorted(time[: last + 1], moment)
    if k == 0:
        return float(values[0, column])
    if k > last:
        return float(values[last, column])
    part = (moment - time[k - 1]) / (time[k] - time[k - 1])
    return float((1.0 - part) * values[k - 1, column] + part * values[k, column])


@compiled
def wave(time: Array, values: Array, last: int, column: int, moment: float) -> float:
    """A column of ``values`` at a moment, on the cubic through the two points either side.

    A straight line would cut every crest a little, on every passage and always the same way.
    Before the first point everything stood still, at points as far apart as the first two: so the
    reading is the same at all times, and a line as good from either end. Where two points later
    are yet to come it is the straight line.
    """
    k = int(np.searchsorted(time[: last + 1], moment))
    if k > last - 1:
        return reading(time, values, last, column, moment)
    first = time[1] - time[0]
    if moment <= time[0] - first:
        return float(values[0, column])
    at = np.empty(4)
    for i in range(4):
        point = k - 2 + i
        at[i] = time[point] if point > 0 else time[0] + point * first
    total = 0.0
    for i in range(4):
        share = float(values[max(k - 2 + i, 0), column])
        for j in range(4):
            if j != i:
                share *= (moment - at[j]) / (at[i] - at[j])
        total += share
    return total


@compiled
def arriving(linear: Linear, course: Course, row: int, k: int) -> float:
    """The known part of the wave that reaches port ``k`` in a step.

    All of it where the line travels. Else a1 = b0 + across (b1 - a0), of which b1, what leaves
    the other port at the step's end, stands in the matrix.
    """
    ports = linear.ports
    other, before = ports.other[k], row - 1
    if not ports.lumped[k]:
        moment = course.time[row] - ports.delay[k]
        return wave(course.time, course.leaving, before, other, moment)
    current = course.unknowns[before, ports.row[k]]
    came = course.leaving[before, k] - 2.0 * ports.impedance[k] * current
    return float(course.leaving[before, other] - ports.across[k] * came)


@compiled
def right_side(linear: Linear, memory: Memory, course: Course, row: int, right: Array) -> None:
    """The known side of the equations of a step, (n + 1,)."""
    right[:] = 0.0
    x = course.unknowns[row - 1]
    sources, capacitors, inductors = linear.sources, linear.capacitors, linear.inductors
    moment, last = course.time[row], len(sources.time) - 1
    for k in range(len(sources.a)):
        amperes = reading(sources.time, sources.amperes, last, k, moment)
        right[sources.a[k]] -= amperes
        right[sources.b[k]] += amperes
    for k in range(len(sources.row)):
        right[sources.row[k]] = reading(sources.time, sources.volts, last, k, moment)
    for k in range(len(capacitors.row)):
        row_k = capacitors.row[k]
        right[row_k] = memory.voltage[k] + capacitors.impedance[k] * x[row_k]
    for k in range(len(inductors.row)):
        across = x[inductors.a[k]] - x[inductors.b[k]]
        right[inductors.row[k]] = -2.0 / linear.step * memory.flux[k] - across
    for k in range(len(linear.ports.row)):
        right[linear.ports.row[k]] = arriving(linear, course, row, k)


@compiled
def combined(parts: Array, shares: Array, out: Array) -> None:
    """The sum of ``parts`` (k, n), each times its share, into the first n of ``out``.

    Of the right side most is zero, and what it multiplies is passed over.
    """
    out[:] = 0.0
    for k in range(parts.shape[0]):
        if shares[k] != 0.0:
            for i in range(parts.shape[1]):
                out[i] += parts[k, i] * shares[k]


@compiled
def solved(
    linear: Linear,
    devices: Devices,
    w: Array,
    held: Array,
    known: Array,
    going: Discharges,
    half: float,
    right: Array,
    x: Array,
) -> bool:
    """Solve one step or the state at rest into ``x`` (n + 1,), from the devices' ``w`` on."""
    m, n = linear.columns.shape
    combined(linear.inverse, right, x)
    opened, points = np.empty(m), np.empty((m, 4))
    for k in range(m):
        opened[k] = x[devices.a[k]] - x[devices.b[k]]
    if not settle(devices, w, known, held, going, half, opened, linear.coupling, points):
        return False
    for k in range(m):
        excess = points[k, 2] - PARKED * points[k, 0]
        for i in range(n):
            x[i] -= linear.columns[k, i] * excess
    return True


@compiled
def solved_with_gaps(
    linear: Linear,
    devices: Devices,
    memory: Memory,
    w: Array,
    held: Array,
    known: Array,
    going: Discharges,
    right: Array,
    x: Array,
) -> bool:
    """As :func:`solved`, for a step: again until what is foreseen of the gaps comes true."""
    half, many = linear.step / 2.0, len(memory.discharge)
    first = len(w) - many
    gaps.begin(w[first:], memory.discharge, half, devices.gaps, going)
    for _ in range(FORESEEN):
        if not solved(linear, devices, w, held, known, going, half, right, x):
            return False
        if gaps.foresee(w[first:], half, devices.gaps, going):
            return True
    return False


@compiled
def grown(memory: Memory, going: Discharges) -> float:
    """By how much the discharge of any gap changes in a step, at the most."""
    worst = 0.0
    for k in range(len(going.seen)):
        worst = max(worst, abs(going.seen[k] - memory.discharge[k]))
    return worst


@compiled
def leave(linear: Linear, course: Course, row: int) -> None:
    """Note the ports' voltages, behind their resistances, what leaves them, and the pairs'."""
    x, ports = course.unknowns[row], linear.ports
    volts = course.port_voltage[row]
    combined(ports.share, x, volts)
    for k in range(len(ports.row)):
        course.leaving[row, k] = volts[k] + ports.impedance[k] * x[ports.row[k]]
    for k in range(len(linear.pairs)):
        course.across[row, k] = x[linear.pairs[k, 0]] - x[linear.pairs[k, 1]]


@compiled
def remember(linear: Linear, memory: Memory, course: Course, row: int) -> None:
    """Bring the memories of capacitors and inductors to the end of a step."""
    x, before = course.unknowns[row], course.unknowns[row - 1]
    capacitors, inductors = linear.capacitors, linear.inductors
    for k in range(len(capacitors.row)):
        current = x[capacitors.row[k]] + before[capacitors.row[k]]
        memory.voltage[k] += capacitors.impedance[k] * current
    for k in range(len(inductors.row)):
        across = x[inductors.a[k]] - x[inductors.b[k]]
        across += before[inductors.a[k]] - before[inductors.b[k]]
        memory.flux[k] += linear.step / 2.0 * across


@compiled
def add_half(
    devices: Devices, w: Array, held: Array, progress: Array, half: float, out: Array
) -> None:
    """Every insulation's y after half a step more at the drive of ``w`` and ``held``."""
    each = devices.insulations
    first = len(devices.a) - len(devices.gaps.sparkover) - len(each.level)
    for k in range(len(each.level)):
        rate, _ = drive(w[first + k], held[k], each, k)
        out[k] = progress[k] + half / each.lag[k] * rate


@compiled
def passed_over(linear: Linear, course: Course, scale: Array, row: int) -> float:
    """The same for what reached the ports during a step, of which only its end was read."""
    n = course.unknowns.shape[1] - 1
    ports = linear.ports
    worst = 0.0
    for k in range(len(ports.row)):
        if ports.lumped[k]:
            continue
        other = ports.other[k]
        begun, ended = course.time[row - 1] - ports.delay[k], course.time[row] - ports.delay[k]
        ended = min(ended, course.time[row - 1])
        first = reading(course.time, course.leaving, row - 1, other, begun)
        last = reading(course.time, course.leaving, row - 1, other, ended)
        inside = np.searchsorted(course.time[:row], begun, side="right")
        while inside < row and course.time[inside] < ended:
            part = (course.time[inside] - begun) / (ended - begun)
            off = abs(course.leaving[inside, other] - (1.0 - part) * first - part * last)
            worst = max(worst, off / max(scale[n + other], 1e-300))
            inside += 1
    return worst


@compiled
def march(
    linear: Linear, devices: Devices, memory: Memory, course: Course, row: int, control: Control
) -> tuple[int, int]:
    """Go on from point ``row`` in steps of one length; the last point, and why it is the last."""
    half, calm, first = linear.step / 2.0, 0, row
    right = np.zeros(course.unknowns.shape[1])
    known, progress = np.empty_like(memory.progress), np.empty_like(memory.progress)
    foreseen, scale = np.empty_like(memory.progress), np.empty_like(memory.largest)
    sound = memory.discharge
    going = Discharges(np.zeros_like(sound), np.zeros_like(sound), np.zeros_like(sound))
    while course.time[row] < control.stop:
        row += 1
        if row == len(course.time):
            return row - 1, NO_ROOM
        course.time[row] = course.time[first] + (row - first) * linear.step
        right_side(linear, memory, course, row, right)
        held, w = course.state[row - 1], memory.parameter.copy()
        add_half(devices, w, held, memory.progress, half, known)
        add_half(devices, w, held, known, half, progress)
        foreseen[:] = 1.0 - np.exp(-progress)
        x = course.unknowns[row]
        if not solved_with_gaps(linear, devices, memory, w, foreseen, known, going, right, x):
            return row - 1, NO_SOLUTION if control.finest else TOO_LONG
        add_half(devices, w, foreseen, known, half, progress)
        course.state[row] = 1.0 - np.exp(-progress)
        course.discharge[row] = going.seen
        leave(linear, course, row)
        largest_so_far(linear, memory, course, row, scale)
        if control.bend < math.inf:
            bent = max(bend(course, scale, row), passed_over(linear, course, scale, row))
            gave = np.max(np.abs(course.state[row] - held)) if len(held) else 0.0
            bent = max(bent, control.bend * gave / LEAST_OF_A_COLLAPSE)
            bent = max(bent, control.bend * grown(memory, going) / gaps.LEAST_OF_A_DISCHARGE)
            if bent > control.bend and not control.finest:
                return row - 1, TOO_LONG
            calm = calm + 1 if bent < AMPLE * control.bend else 0
        memory.parameter[:] = w
        memory.progress[:] = progress
        memory.discharge[:] = going.seen
        memory.largest[:] = scale
        remember(linear, memory, course, row)
        if calm >= CALM and not control.coarsest:
            return row, TOO_SHORT
    return row, AT_THE_END
