"""Random linear networks, surges to drive them, and what is read off two runs at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    AnyElement,
    Capacitor,
    Coupling,
    CurrentSource,
    Element,
    Inductor,
    Line,
    Resistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve
from surgesim.physics.modes import decompose
from surgesim.physics.waveforms import DoubleExponential, Step, Waveform
from tests.verification.solvers import ngspice

Array = NDArray[np.float64]
Solver = Callable[[Network, float], Waveforms]

STOP = 10e-6
"""Seconds that the networks below are watched: several fronts and tens of delays."""

# 1.2/50: Kuffel, Zaengl, Kuffel, High Voltage Engineering, constants from memory
IMPULSE = DoubleExponential(peak=1e3, scale=1.03725, decay=14659.1, rise=2.46893e6)

surges = st.one_of(
    st.just(IMPULSE), st.builds(Step, peak=st.just(1e3), rise=st.floats(0.2e-6, 2e-6))
)


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Positive numbers, every decade as likely as the next, to three digits."""
    exponents = st.floats(np.log10(low), np.log10(high))
    return exponents.map(lambda x: float(f"{10**x:.3g}"))


@st.composite
def linear_elements(draw: st.DrawFn, *, lines: bool = True) -> tuple[AnyElement, ...]:
    """R, L, M, C and lines between ``node 0`` to ``node 4`` and earth, lossy everywhere.

    A tree of branches out from the earth, a pair of coupled inductors, a line of two
    conductors, and resistors across it all.
    """
    elements: list[AnyElement] = []
    kinds = ("resistor", "inductor", "line") if lines else ("resistor", "inductor")
    for k in range(5):
        parent = draw(st.sampled_from([GROUND, *(f"node {j}" for j in range(k))]))
        kind = "resistor" if parent == GROUND else draw(st.sampled_from(kinds))
        elements += draw(branch(kind, f"branch {k}", parent, f"node {k}"))
        if draw(st.booleans()):
            farad = draw(between(1e-10, 1e-8))
            elements.append(
                Capacitor(name=f"to earth {k}", a=f"node {k}", b=GROUND, capacitance=farad)
            )
    a, b = draw(st.permutations([f"node {k}" for k in range(5)]))[:2]
    elements.append(Resistor(name="across", a=a, b=b, resistance=draw(between(1.0, 1e3))))
    elements += draw(coupled(a, b))
    return (*elements, *(draw(two_conductors(a, b)) if lines else ()))


@st.composite
def branch(draw: st.DrawFn, kind: str, name: str, a: str, b: str) -> tuple[AnyElement, ...]:
    """One branch; beside an inductor stands its damping resistor, as in all that is built."""
    if kind == "resistor":
        return (Resistor(name=name, a=a, b=b, resistance=draw(between(1.0, 1e3))),)
    if kind == "inductor":
        return tuple(damped(name, a, b, draw(between(1e-7, 1e-5))))
    earth = draw(st.booleans())
    soil = damped(f"{name} soil", f"{name} soil", GROUND, 20e-6, resistance=20.0) if earth else ()
    return (
        Line(
            name=name,
            near=(a,),
            far=(b,),
            voltage_modes=((1.0,),),
            impedance=(draw(between(30.0, 500.0)),),
            delay=(draw(between(2e-8, 5e-7)),),
            resistance=(draw(st.sampled_from([0.0, 2.0])),),
            near_reference=f"{name} soil" if earth else GROUND,
        ),
        *soil,
    )


def damped(
    name: str, a: str, b: str, henry: float, *, resistance: float | None = None
) -> Iterator[Element]:
    yield Inductor(name=name, a=a, b=b, inductance=henry)
    yield Resistor(name=f"{name} damping", a=a, b=b, resistance=resistance or henry / 1e-8)


@st.composite
def coupled(draw: st.DrawFn, a: str, b: str) -> tuple[AnyElement, ...]:
    """Two windings, each from its own node to earth through a load."""
    first, second = draw(between(1e-7, 1e-5)), draw(between(1e-7, 1e-5))
    factor = draw(st.floats(-0.9, 0.9))
    mutual = factor * float(np.sqrt(first * second))
    return (
        *damped("first winding", a, "first end", first),
        *damped("second winding", b, "second end", second),
        Coupling(name="coupling", first="first winding", second="second winding", mutual=mutual),
        Resistor(name="first load", a="first end", b=GROUND, resistance=draw(between(1.0, 1e3))),
        Resistor(name="second load", a="second end", b=GROUND, resistance=draw(between(1.0, 1e3))),
    )


# Two conductors 40 mm apart, 2 m over ground, in air and of unlike size: logarithmic formulas,
# closed form (Paul, Analysis of Multiconductor Transmission Lines, from memory); H/m.
PAIR_IN_AIR = np.array([[1.52e-6, 0.921e-6], [0.921e-6, 1.66e-6]])
LIGHT = 299792458.0


@st.composite
def two_conductors(draw: st.DrawFn, a: str, b: str) -> tuple[AnyElement, ...]:
    """A line of two conductors from ``a`` and ``b`` into loads of their own."""
    line = pair_in_air(("far a", "far b"), near=(a, b), length=draw(between(10.0, 100.0)))
    loads = (draw(between(1.0, 1e3)), draw(between(1.0, 1e3)))
    return (
        line,
        Resistor(name="load a", a="far a", b=GROUND, resistance=loads[0]),
        Resistor(name="load b", a="far b", b=GROUND, resistance=loads[1]),
    )


def pair_in_air(far: tuple[str, str], *, near: tuple[str, str], length: float) -> Line:
    """Both conductors over ``length`` m, with slower waves in the first (insulated) mode."""
    permittivity = np.array([[1.4, 0.1], [0.1, 1.2]])
    inverse = np.linalg.inv(PAIR_IN_AIR)
    capacitance = permittivity @ inverse / LIGHT**2
    capacitance = 0.5 * (capacitance + capacitance.T)
    modes = decompose(PAIR_IN_AIR, capacitance)
    return Line(
        name="two conductors",
        near=near,
        far=far,
        voltage_modes=tuple(tuple(float(x) for x in row) for row in modes.voltage_modes),
        impedance=tuple(float(z) for z in modes.impedance),
        delay=tuple(float(length / v) for v in modes.velocity),
        resistance=(0.0, 0.0),
    )


def driven(elements: tuple[AnyElement, ...], wave: Waveform, *, into: str) -> Network:
    """The elements with a surge current from remote earth into one node."""
    source = CurrentSource(name="surge", a=GROUND, b=into, waveform=wave)
    return Network(title="attacked", elements=(source, *elements), waveform=wave)


def biased(network: Network, volts: float, *, node: str) -> Network:
    """The network with a voltage standing on one node through 100 ohm."""
    bias = (
        VoltageSource(name="bias", a="bias", b=GROUND, offset=volts),
        Resistor(name="behind bias", a="bias", b=node, resistance=100.0),
    )
    return Network(
        title=network.title, elements=(*network.elements, *bias), waveform=network.waveform
    )


def oracle(network: Network, stop: float) -> Waveforms:
    """Through the second solver; what is asked here holds at any steps, so they are few."""
    return solve(network, step=fitting_step(network, largest=stop / 4000), stop=stop)


SOLVERS: dict[str, Solver] = {"ngspice": ngspice, "oracle": oracle}


def on_one_axis(first: Waveforms, second: Waveforms, node: str) -> tuple[Array, Array]:
    """A node's voltage in two runs at the first one's times, as far as both go.

    The engine chooses its times by what happens, so two runs of it need not share them.
    """
    time = first.time[first.time <= second.time[-1]]
    return first.at(node)[: len(time)], np.interp(time, second.time, second.at(node))


def largest(waves: Waveforms) -> float:
    """The largest voltage anywhere on a network's nodes."""
    return max(float(np.max(np.abs(volts))) for volts in waves.voltages.values())
