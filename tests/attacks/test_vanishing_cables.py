"""At network level a line of no length is a wire: the answers tend to it, in step with the delay.

A lossless line far shorter than all else is its own inductance Z T and capacitance T / Z, both
of which vanish with T: textbook. So what it changes falls in proportion to T.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Ammeter, AnyElement, Capacitor, Line, Resistor
from surgesim.physics.waveforms import Step, Waveform
from tests.attacks.networks import SOLVERS, Solver, between, driven, on_one_axis

STOP = 2e-6
DELAYS = (4e-9, 1e-9, 0.25e-9)
"""Seconds; each a quarter of the one before, the first a 250th of the front."""

Load = tuple[float, float, float]

# Half a cosine: a front that begins with a kink lets what is left of the line's inductance ring
# with the load in proportion to the root of the delay only.
WAVE: Waveform = Step(peak=1e3, rise=1e-6)

loads = st.tuples(between(10.0, 1e3), between(10.0, 1e3), between(1e-10, 1e-8))
impedances = between(30.0, 500.0)

# Two quarterings make it sixteen times less, to first order; 15.0 is the least of some hundred
# draws, where the first line still is a twentieth of the answer.
SHRINKS = 13.0

# Below this share of the largest voltage the solvers' own errors would be compared.
LEAST = 1e-4


def circuit(wire: AnyElement, load: Load) -> Network:
    """A surge into a resistor, the wire, and a resistor with a capacitor behind it."""
    return driven(
        (
            Resistor(name="source", a="near", b=GROUND, resistance=load[0]),
            wire,
            Resistor(name="load", a="far", b=GROUND, resistance=load[1]),
            Capacitor(name="input", a="far", b=GROUND, capacitance=load[2]),
        ),
        WAVE,
        into="near",
    )


def line(impedance: float, delay: float) -> Line:
    """With the losses of its length, which vanish too."""
    return Line(
        name="line",
        near=("near",),
        far=("far",),
        voltage_modes=((1.0,),),
        impedance=(impedance,),
        delay=(delay,),
        resistance=(delay * 1e6,),
    )


def changes(solver: Solver, impedance: float, load: Load) -> list[float]:
    """How far each delay's answer is from that of a wire, of the largest voltage."""
    bare = solver(circuit(Ammeter(name="wire", a="near", b="far"), load), STOP)
    apart = []
    for delay in DELAYS:
        waves = solver(circuit(line(impedance, delay), load), STOP)
        pairs = [on_one_axis(bare, waves, node) for node in ("near", "far")]
        apart.append(max(float(abs(one - two).max() / abs(one).max()) for one, two in pairs))
    return apart


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=6)
@given(impedance=impedances, load=loads)
def test_a_vanishing_line_tends_to_a_wire(solver: str, impedance: float, load: Load) -> None:
    first, _, last = changes(SOLVERS[solver], impedance, load)
    assert last < max(first / SHRINKS, LEAST)
