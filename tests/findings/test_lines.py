"""Energy on lines: travelling, standing, lumped, and lost at their ends, in closed form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.findings.energy import energy_balance
from surgesim.findings.lines import energy_into
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource, Inductor, Line, Resistor
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Ramp

Make = Callable[..., Waveforms]
Array = NDArray[np.float64]

Z, DELAY = 40.0, 1e-6


def line(*, resistance: float = 0.0, delay: float = DELAY) -> Line:
    return Line(
        name="run", near=("a",), far=("b",), voltage_modes=((1.0,),), impedance=(Z,),
        delay=(delay,), resistance=(resistance,),
    )  # fmt: skip


def ports(
    near: tuple[Array, Array], far: tuple[Array, Array]
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Port voltages and currents, the conductors' nodes being the ports themselves."""
    (v1, i1), (v2, i2) = near, far
    return (
        {"a": v1, "b": v2, "run/near/0": v1, "run/far/0": v2},
        {"run/near/0": i1, "run/far/0": i2},
    )


def step_into(make: Make, stop: float, *, reflection: float) -> Waveforms:
    """A step of 1 kV behind Z into the line; the far end sends ``reflection`` of it back."""
    time = np.linspace(0.0, stop, 4001)
    forward = np.full_like(time, 1000.0)
    forward[0] = 0.0
    arrived = np.where(time > DELAY, 1000.0, 0.0)
    returned = np.where(time > 2 * DELAY, reflection * 1000.0, 0.0)
    near = forward + returned, (forward - returned) / Z
    far = (1 + reflection) * arrived, -(1 - reflection) * arrived / Z
    return make(time, *ports(near, far))


# One sample is up to a four-thousandth of the window, and so is where a step is taken to be.
ONE_SAMPLE = 2e-3


@pytest.mark.parametrize("travelled", [0.25, 0.5, 0.99])
def test_a_step_in_flight(waves: Make, travelled: float) -> None:
    made = step_into(waves, travelled * DELAY, reflection=1.0)
    expected = 1000.0**2 / Z * travelled * DELAY
    assert energy_into(line(), made) == pytest.approx(expected, rel=ONE_SAMPLE)


def test_a_matched_end_keeps_the_line_full(waves: Make) -> None:
    made = step_into(waves, 2.5 * DELAY, reflection=0.0)
    assert energy_into(line(), made) == pytest.approx(1000.0**2 / Z * DELAY, rel=ONE_SAMPLE)


@pytest.mark.parametrize(("reflection", "held"), [(1.0, 1.5), (0.5, 1.0 + 0.25 * 0.5)])
def test_a_reflection_on_its_way_back(waves: Make, reflection: float, held: float) -> None:
    # at one and a half delays the forward wave fills the line, the returning one half of it
    made = step_into(waves, 1.5 * DELAY, reflection=reflection)
    assert energy_into(line(), made) == pytest.approx(1000.0**2 / Z * DELAY * held, rel=ONE_SAMPLE)


def test_what_goes_in_at_the_ports_is_held(waves: Make) -> None:
    """Any two smooth waves: port power over time equals the change of energy under way."""
    time = np.linspace(0.0, 3.7e-6, 20001)

    def out(t: Array) -> Array:
        """Sets out at the near end, from a standing state."""
        return 300.0 + np.where(t > 0, 500.0 * np.sin(9e5 * t) ** 2, 0.0)

    def back(t: Array) -> Array:
        return -120.0 + np.where(t > 0, 200.0 * np.sin(4e5 * t) ** 2, 0.0)

    near = out(time) + back(time - DELAY), (out(time) - back(time - DELAY)) / Z
    far = back(time) + out(time - DELAY), (back(time) - out(time - DELAY)) / Z
    made = waves(time, *ports(near, far))
    supplied = np.trapezoid(near[0] * near[1] + far[0] * far[1], time)
    assert energy_into(line(), made) == pytest.approx(supplied, rel=1e-6)
    # a delay wrong by a tenth is noticed
    assert energy_into(line(delay=1.1 * DELAY), made) != pytest.approx(supplied, rel=1e-2)


def test_a_standing_voltage_and_current_change_nothing(waves: Make) -> None:
    time = np.linspace(0.0, 0.3 * DELAY, 101)
    volts, amps = np.full_like(time, 874.0), np.full_like(time, 3.0)
    made = waves(time, *ports((volts, amps), (volts, -amps)))
    assert energy_into(line(), made) == pytest.approx(0.0, abs=1e-15)


def test_modes_are_counted_through_the_voltage_matrix(waves: Make) -> None:
    """Two conductors with a wave on each mode: conductor powers and modal powers agree."""
    modes = ((1.0, 0.5), (1.0, -0.5))
    pair = Line(
        name="run", near=("a", "b"), far=("c", "d"), voltage_modes=modes, impedance=(150.0, 80.0),
        delay=(DELAY, 0.8 * DELAY), resistance=(2.0, 1.0),
    )  # fmt: skip
    time = np.linspace(0.0, 0.7 * DELAY, 8001)
    forward = np.array([900.0 * np.sin(3e6 * time), 400.0 * np.sin(5e6 * time)])
    amps = forward / np.array([[150.0], [80.0]])
    terminal = np.array(modes) @ (forward + np.array([[1.0], [0.5]]) * amps)
    into = np.linalg.inv(np.array(modes)).T @ amps
    silent = np.zeros_like(time)
    nodes = {"a": terminal[0], "b": terminal[1], "c": silent, "d": silent}
    for k in range(2):
        nodes |= {f"run/near/{k}": forward[k], f"run/far/{k}": silent}
    currents = {f"run/near/{k}": amps[k] for k in range(2)}
    currents |= {f"run/far/{k}": silent for k in range(2)}
    made = waves(time, nodes, currents)
    supplied = np.trapezoid(np.sum(terminal * into, axis=0), time)
    assert energy_into(pair, made) == pytest.approx(supplied, rel=1e-6)


def test_series_resistance_at_the_ends_and_soil_below(waves: Make) -> None:
    """A ramp of current into a line nothing comes back from, through R and over a soil of R
    parallel L below its near end: i = s t in R and L, L/R = tau, gives
    i_L = s (t - tau (1 - exp(-t/tau))).
    """
    ohm, earth, henry, peak = 6.0, 20.0, 4e-6, 2e3
    time = np.linspace(0.0, 0.9 * DELAY, 8001)
    tau, slope = henry / earth, peak / DELAY
    amps = slope * time
    dropped = earth * slope * tau * (1 - np.exp(-time / tau))
    port = Z * amps
    silent = np.zeros_like(time)
    nodes = {
        "a": port + ohm / 2 * amps + dropped, "b": silent, "soil": dropped,
        "run/near/0": port, "run/far/0": silent,
    }  # fmt: skip
    lag = amps - dropped / earth
    made = waves(time, nodes, {"run/near/0": amps, "run/far/0": silent, "lag": lag})

    def closure(*, metal: float = ohm, loss: float = earth, reference: str = "soil") -> float:
        wave = Ramp(peak=peak, rise=DELAY)
        elements = (
            CurrentSource(name="s", a=GROUND, b="a", waveform=wave),
            replace(line(resistance=metal), near_reference=reference),
            Resistor(name="loss", a="soil", b=GROUND, resistance=loss),
            Inductor(name="lag", a="soil", b=GROUND, inductance=henry),
        )
        return energy_balance(Network(title="r", elements=elements, waveform=wave), made).closure

    assert closure() < 1e-6
    assert closure(metal=1.5 * ohm) > 1e-3
    assert closure(loss=1.5 * earth) > 1e-3


@pytest.mark.parametrize("stop", [2.0, 5.0, 7.3])
def test_a_lumped_line_swinging_into_its_open_end(waves: Make, stop: float) -> None:
    """Steady state of the pi section at one angular frequency, far end open:
    V2 = V1/(1 - w^2 L C), the inductor's current j w C V2."""
    henry, farad = Z * DELAY, DELAY / (2 * Z)
    omega = 0.3 / DELAY
    time = np.linspace(0.0, stop * DELAY, 20001)
    gain = 1 / (1 - omega**2 * henry * farad)
    near_v = 500.0 * np.cos(omega * time)
    far_v = gain * near_v
    through = -omega * farad * gain * 500.0 * np.sin(omega * time)
    near_i = through - omega * farad * 500.0 * np.sin(omega * time)
    made = waves(
        time, *ports((near_v, near_i), (far_v, np.zeros_like(time))), window="tail", lumped=("run",)
    )
    supplied = np.trapezoid(near_v * near_i, time)
    stored = farad / 2 * (near_v**2 + far_v**2) + henry / 2 * through**2
    assert stored[-1] - stored[0] == pytest.approx(supplied, rel=1e-6)
    # the last capacitor current is a difference over one step
    assert energy_into(line(), made) == pytest.approx(supplied, rel=1e-3)


def test_closure_of_a_line_between_source_and_load(waves: Make) -> None:
    """The lattice of a matched load: in at the near end, through, and lost at the far end."""
    made = step_into(waves, 2.5 * DELAY, reflection=0.0)
    load = Resistor(name="load", a="b", b=GROUND, resistance=Z)
    # the source pushes what the near port takes, from one sample on
    source = CurrentSource(name="s", a=GROUND, b="a", waveform=Ramp(peak=1000.0 / Z, rise=1e-12))
    circuit = Network(title="matched", waveform=source.waveform, elements=(source, line(), load))
    assert energy_balance(circuit, made).closure < ONE_SAMPLE
