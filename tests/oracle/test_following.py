"""Steps that follow what happens, held against short steps of one length."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    Inductor,
    Insulation,
    Line,
    Resistor,
    Varistor,
)
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import Stretch, check, follow, solve
from surgesim.physics.varistor import VaristorLaw
from surgesim.physics.waveforms import Heidler

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]

SURGE = Heidler(peak=2e3, correction=0.9, front=0.5e-6, tail=60e-6, exponent=10)
DELAY = 0.2e-6
STOP = 5e-6

CLOSE = 2e-3
"""A fifth of what two solvers must agree in."""


@pytest.fixture
def site(injected: MakeNetwork, line: MakeLine, law: VaristorLaw) -> Network:
    """A line with an arrester behind a lead at its end, and insulation that fires at its start."""
    return injected(
        SURGE,
        Resistor(name="earth", a="start", b=GROUND, resistance=20.0),
        Insulation(name="gap", a="start", b=GROUND, level=12e3),
        line("start", "end", impedance=150.0, delay=DELAY, resistance=0.5),
        Capacitor(name="body", a="end", b=GROUND, capacitance=5e-9),
        Inductor(name="lead", a="end", b="disc", inductance=1e-6),
        Varistor(name="arrester", a="disc", b=GROUND, law=law),
    )


def followed(
    network: Network, *, stop: float = STOP, lumped: frozenset[str] = frozenset()
) -> Waveforms:
    whole = Stretch(stop=stop, longest=DELAY / 2, lumped=lumped)
    return follow(network, finest=0.1e-9, stretches=(whole,))


def test_crests_and_charge_are_those_of_short_steps(site: Network) -> None:
    mine, fine = followed(site), solve(site, step=0.05e-9, stop=STOP)
    assert mine.voltages["gap/state"][-1] > 0.99
    for name in ("start", "end", "disc"):
        assert np.max(np.abs(mine.at(name))) == pytest.approx(
            np.max(np.abs(fine.at(name))), rel=CLOSE
        )
    charges = [np.trapezoid(each.currents["lead"], each.time) for each in (mine, fine)]
    assert charges[0] == pytest.approx(charges[1], rel=CLOSE)
    assert len(mine.time) < len(fine.time) / 5


def test_a_wave_is_not_stepped_over(injected: MakeNetwork, line: MakeLine) -> None:
    """A pulse of nanoseconds on a matched line, after a quiet microsecond in which steps grow."""
    pulse = replace(SURGE, front=5e-9, tail=10e-9)
    network = injected(
        pulse,
        Resistor(name="earth", a="start", b=GROUND, resistance=20.0),
        line("start", "end", impedance=150.0, delay=5 * DELAY),
        Resistor(name="path", a="end", b=GROUND, resistance=150.0),
    )
    mine = followed(network)
    sent, came = (float(np.max(np.abs(mine.at(name)))) for name in ("start", "end"))
    assert came == pytest.approx(sent, rel=CLOSE)
    assert mine.step > 50e-9


@pytest.mark.parametrize("longest", [2.2e-6, 2.3e-6, 2.4e-6])
def test_a_pulse_between_the_ends_of_a_step_is_noticed(
    injected: MakeNetwork, line: MakeLine, longest: float
) -> None:
    """One of 100 ns, in steps of microseconds: it comes when one has begun and has gone when it
    ends. Without a look at what came in between, nothing at all arrives."""
    delay = 10e-6
    network = injected(
        replace(SURGE, front=5e-9, tail=10e-9),
        Resistor(name="earth", a="start", b=GROUND, resistance=20.0),
        line("start", "end", impedance=150.0, delay=delay),
        Resistor(name="path", a="end", b=GROUND, resistance=150.0),
    )
    whole = Stretch(stop=1.2 * delay, longest=longest)
    mine = follow(network, finest=0.1e-9, stretches=(whole,))
    sent, came = (float(np.max(np.abs(mine.at(name)))) for name in ("start", "end"))
    assert came == pytest.approx(sent, rel=CLOSE)
    assert mine.step > 1e-6


def test_a_lumped_line_is_its_inductance_and_capacitance(
    injected: MakeNetwork, line: MakeLine
) -> None:
    """For a surge far slower than its delay; L = Z d and C = d/Z, half at either end."""
    slow, stop = replace(SURGE, front=15e-6), 60e-6
    rest = (
        Resistor(name="earth", a="start", b=GROUND, resistance=20.0),
        Resistor(name="path", a="end", b=GROUND, resistance=2.0),
        Capacitor(name="body", a="end", b=GROUND, capacitance=50e-9),
    )
    cable = line("start", "end", impedance=150.0, delay=DELAY)
    lumped = followed(injected(slow, cable, *rest), stop=stop, lumped=frozenset({"line"}))
    section = (
        Inductor(name="henry", a="start", b="end", inductance=150.0 * DELAY),
        Capacitor(name="near", a="start", b=GROUND, capacitance=DELAY / 300.0),
        Capacitor(name="far", a="end", b=GROUND, capacitance=DELAY / 300.0),
    )
    drawn = solve(injected(slow, *section, *rest), step=10e-9, stop=stop)
    for name in ("start", "end"):
        there = np.interp(drawn.time, lumped.time, lumped.at(name))
        assert there == pytest.approx(drawn.at(name), abs=CLOSE * np.max(drawn.at(name)))


def test_lumping_a_line_on_the_way_loses_nothing(site: Network) -> None:
    """What was under way becomes what the section holds: charge at the end stays within CLOSE."""
    quiet = replace(site, elements=tuple(e for e in site.elements if not isinstance(e, Insulation)))
    first = Stretch(stop=8e-6, longest=DELAY / 2)
    then = Stretch(stop=60e-6, longest=0.4e-6, lumped=frozenset({"line"}))
    mine = follow(quiet, finest=0.5e-9, stretches=(first, then))
    fine = solve(quiet, step=2e-9, stop=60e-6)
    through = np.interp(fine.time, mine.time, mine.currents["lead"])
    charges = [np.trapezoid(each, fine.time) for each in (through, fine.currents["lead"])]
    assert charges[0] == pytest.approx(charges[1], rel=CLOSE)
    assert mine.step > DELAY


def test_more_points_than_memory(site: Network, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check, "MOST_STEPS", 10.0)
    with pytest.raises(EngineError, match="takes 50 steps, more than 10"):
        followed(site)
