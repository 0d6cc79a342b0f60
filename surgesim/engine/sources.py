"""Surge wave shapes as ngspice expressions in ``time``.

Powers are ``pwr``: ``x**y`` and ``pow`` return ``|x|^y``. An ``EXP`` source is not used: with
``td2=0`` ngspice puts the step there, up to 19 % off. Every shape is zero at t = 0, so the
operating point is the state the surge meets.
"""

from __future__ import annotations

import math
from functools import singledispatch

from surgesim.engine.numbers import number
from surgesim.engine.table import pwl
from surgesim.physics.induced import Induced
from surgesim.physics.waveforms import (
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Heidler,
    Ramp,
    RingWave,
    Step,
)


@singledispatch
def expression(waveform: object) -> str:
    """The waveform as text ngspice evaluates, in ampere or volt, ``time`` in seconds."""
    raise TypeError(f"no way to write {type(waveform).__name__} for ngspice")


@expression.register
def _(waveform: Heidler) -> str:
    x = f"pwr(time/{number(waveform.front)}, {number(waveform.exponent)})"
    scale = number(waveform.peak / waveform.correction)
    return f"({scale})*({x}/(1+{x}))*exp(-time/{number(waveform.tail)})"


@expression.register
def _(waveform: DoubleExponential) -> str:
    scale = number(waveform.peak * waveform.scale)
    decay, rise = number(waveform.decay), number(waveform.rise)
    return f"({scale})*(exp(-{decay}*time)-exp(-{rise}*time))"


@expression.register
def _(waveform: CubicExponential) -> str:
    scale = number(waveform.peak * waveform.scale)
    return f"({scale})*time*time*time*exp(-time/{number(waveform.time_constant)})"


@expression.register
def _(waveform: DampedSine) -> str:
    scale = number(waveform.peak / waveform.correction)
    decay = f"exp(-time/{number(waveform.time_constant)})"
    return f"({scale})*{decay}*sin({number(waveform.angular_frequency)}*time)"


@expression.register
def _(waveform: RingWave) -> str:
    scale = number(waveform.peak * waveform.scale)
    rise, decay = (f"exp(-time/{number(tau)})" for tau in (waveform.front, waveform.tail))
    return f"({scale})*(1-{rise})*{decay}*cos({number(waveform.angular_frequency)}*time)"


@expression.register
def _(waveform: Ramp) -> str:
    return f"({number(waveform.peak)})*min(time/{number(waveform.rise)}, 1)"


@expression.register
def _(waveform: Step) -> str:
    x = f"min(time/{number(waveform.rise)}, 1)"
    return f"({number(waveform.peak)})*0.5*(1-cos({number(3.141592653589793)}*{x}))"


@expression.register
def _(waveform: Induced) -> str:
    terms = []
    if waveform.mutual:
        terms.append(f"({number(waveform.mutual)})*({rate(waveform.current)})")
    if waveform.table:
        terms.append(pwl("time", waveform.table))
    return "+".join(terms) or "0"


@singledispatch
def rate(waveform: object) -> str:
    """A current's rate of change as text ngspice evaluates, in A/s. Powers as above."""
    raise TypeError(f"no way to write the rate of {type(waveform).__name__} for ngspice")


@rate.register
def _(waveform: Heidler) -> str:
    front, exponent, tail = map(number, (waveform.front, waveform.exponent, waveform.tail))
    x = f"pwr(time/{front}, {exponent})"
    rising = f"{exponent}/{front}*pwr(time/{front}, {number(waveform.exponent - 1.0)})/(1+{x})"
    scale = number(waveform.peak / waveform.correction)
    return f"({scale})*exp(-time/{tail})/(1+{x})*({rising}-{x}/{tail})"


@rate.register
def _(waveform: CubicExponential) -> str:
    scale, constant = number(waveform.peak * waveform.scale), number(waveform.time_constant)
    return f"({scale})*time*time*(3-time/{constant})*exp(-time/{constant})"


@rate.register
def _(waveform: Step) -> str:
    rise, turn = number(waveform.rise), number(math.pi / waveform.rise)
    scale = number(waveform.peak * 0.5 * math.pi / waveform.rise)
    return f"({scale})*sin({turn}*min(time, {rise}))"
