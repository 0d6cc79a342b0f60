"""Networks that stop the real engine, each for a reason of its own: is it the one that is named?

ngspice runs all of these with the options it is given otherwise. It is brought to fail by
demanding more digits than there are, which stops it first where the circuit is at its worst; by
a limit too short for the steps the network asks for; or by a network that has no state at rest.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from surgesim.engine import simulate, simulation
from surgesim.engine.evidence import evidence
from surgesim.engine.run import EngineTimeout
from surgesim.engine.suspects import Suspect, ringing_advice, suspects
from surgesim.engine.windows import front_plan
from surgesim.engine.writer import write_deck
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    Capacitor,
    Inductor,
    Insulation,
    Resistor,
    Varistor,
)
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Waveform

MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., object]
Ten350 = Callable[[float], Waveform]

TOO_STRICT = "reltol=1e-12 abstol=1e-20 vntol=1e-20 chgtol=1e-30 trtol=1e-6 method=trap"
"""Twelve digits of every voltage: more than the sums in a step have."""


@pytest.fixture
def strict(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulation, "OPTIONS", {"front": TOO_STRICT, "tail": TOO_STRICT})
    monkeypatch.setattr(simulation, "planned_options", lambda *_: TOO_STRICT)


def failure(network: Network, **how: float) -> EngineError:
    with pytest.raises(EngineError) as caught:
        simulate(network, window="front", **how)  # type: ignore[arg-type]
    return caught.value


def first(error: EngineError) -> str:
    """The first suspect of a message: its kind and what was seen."""
    words = error.message.partition("Suspected: ")[2]
    return words.removeprefix("(1) ").partition("; (2)")[0]


@pytest.mark.usefixtures("strict")
def test_an_undamped_lead(injected: MakeNetwork, ten_350: Ten350) -> None:
    """A current forced into an inductor, an arrester behind it, and nothing that takes a swing."""
    network = injected(
        ten_350(5e3),
        Inductor(name="lead", a="start", b="hot", inductance=1e-6),
        Varistor(name="disc", a="hot", b=GROUND, law=fit_three_numbers(1250.0, 20e3, 3875.0)),
    )
    error = failure(network)
    assert first(error).startswith("undamped lead: 'lead'")
    assert error.hint.startswith("put a resistance across 'lead'; 1000 ohm")  # 1 uH / 1 ns
    assert error.message.count("steps of") == 3


@pytest.mark.usefixtures("strict")
def test_a_swing_that_no_step_can_follow(injected: MakeNetwork, ten_350: Ten350) -> None:
    """1 nH with 0.1 pF swings in 2 pi sqrt(LC) = 63 ps; the steps are a thousand times that."""
    network = injected(
        ten_350(5e3),
        Resistor(name="rods", a="start", b=GROUND, resistance=10.0),
        Inductor(name="stub", a="start", b="end", inductance=1e-9),
        Capacitor(name="stray", a="end", b=GROUND, capacitance=1e-13),
    )
    error = failure(network)
    assert first(error).startswith("step against swing: 'stub' swings with 'stray' in 62.8 ps")
    assert "leave 'stray' out" in error.hint


def two_gaps(injected: MakeNetwork, surge: Waveform, *levels: float) -> Network:
    """Insulation of two poles on nearly equal resistances from one struck frame."""
    poles = [
        element
        for pole, level in zip(("plus", "minus"), levels, strict=True)
        for element in (
            Resistor(name=f"{pole} feed", a="start", b=pole, resistance=1.0),
            Resistor(name=f"{pole} load", a=pole, b=GROUND, resistance=1e4),
            Insulation(name=f"{pole} gap", a=pole, b=GROUND, level=level),
        )
    ]
    rods = Resistor(name="rods", a="start", b=GROUND, resistance=100.0)
    return injected(surge, rods, *poles)


@pytest.mark.usefixtures("strict")
def test_two_gaps_that_relieve_each_other(injected: MakeNetwork, ten_350: Ten350) -> None:
    error = failure(two_gaps(injected, ten_350(5e3), 10e3, 10e3))
    assert first(error).startswith("gap chatter: 'plus gap' and 'minus gap'")
    assert "level of one of them" in error.hint


@pytest.mark.usefixtures("strict")
def test_one_gap_near_its_level(injected: MakeNetwork, ten_350: Ten350) -> None:
    """The other stands so high that it has no part in it."""
    error = failure(two_gaps(injected, ten_350(5e3), 10e3, 90e3))
    assert first(error).startswith("insulation near its level: 'plus gap'")
    assert "'plus gap' a few percent lower or higher" in error.hint


@pytest.mark.usefixtures("strict")
def test_nothing_special_is_told_by_where_it_stopped(
    injected: MakeNetwork, ten_350: Ten350
) -> None:
    """Without another cause the elements are named that meet where things moved most."""
    network = injected(
        ten_350(5e3),
        Inductor(name="lead", a="start", b="foot", inductance=1e-6),
        Resistor(name="rods", a="foot", b=GROUND, resistance=10.0),
    )
    error = failure(network)
    assert first(error).startswith("stalling element: at 'start'")
    assert "'surge', 'lead' meet" in error.message
    assert "It came to" in error.message
    assert "too small" in error.message


def test_a_line_too_short_for_the_time_given(
    injected: MakeNetwork, line: MakeLine, ten_350: Ten350
) -> None:
    """0.2 ns of line ask for 0.1 ns steps: 800,000 of them, several seconds of work."""
    network = injected(
        ten_350(5e3),
        Resistor(name="rods", a="start", b=GROUND, resistance=30.0),
        line("start", "end", impedance=300.0, delay=0.2e-9, name="tap"),
        Resistor(name="load", a="end", b=GROUND, resistance=300.0),
    )
    error = failure(network, timeout=0.4)
    assert isinstance(error, EngineTimeout)
    assert "still running after 0.4 s" in error.message
    assert first(error).startswith("step against delay")
    assert "line 'tap', crossed in 200 ps" in error.message
    assert "give each run more time, or lengthen 'tap'" in error.hint


def test_a_node_that_hangs_in_the_air(injected: MakeNetwork, ten_350: Ten350) -> None:
    network = injected(
        ten_350(5e3),
        Resistor(name="rods", a="start", b=GROUND, resistance=10.0),
        Capacitor(name="input", a="start", b="loose", capacitance=1e-9),
    )
    error = failure(network)
    assert "node 'loose' has no conducting path" in error.message
    assert error.hint.startswith("floating node: give 'loose'")


def test_a_loop_without_loss(injected: MakeNetwork, ten_350: Ten350) -> None:
    network = injected(
        ten_350(5e3),
        Inductor(name="first", a="start", b="foot", inductance=1e-6),
        Inductor(name="second", a="start", b="foot", inductance=2e-6),
        Resistor(name="rods", a="foot", b=GROUND, resistance=10.0),
    )
    error = failure(network)
    assert "'first', 'second' form a loop" in error.message
    assert "loop without loss: put the resistance of its metal beside 'second'" in error.hint


def test_a_node_held_by_next_to_nothing(injected: MakeNetwork, ten_350: Ten350) -> None:
    """One that passes the checks, and that ngspice's matrix then calls singular."""
    network = injected(
        ten_350(5e3),
        Resistor(name="rods", a="start", b=GROUND, resistance=10.0),
        Resistor(name="skin", a="pole", b=GROUND, resistance=1e12),
        Capacitor(name="input", a="start", b="pole", capacitance=1e-9),
    )
    (told, *_) = told_by(network, log="Warning: singular matrix:  check node n2_pole")
    assert told.kind == "floating node"
    assert "'pole'" in told.finding


def test_an_element_that_the_log_blames(injected: MakeNetwork, ten_350: Ten350) -> None:
    network = injected(
        ten_350(5e3),
        Ammeter(name="rods current", a="start", b="foot"),
        Resistor(name="rods", a="foot", b=GROUND, resistance=10.0),
    )
    deck = write_deck(network, front_plan(network))
    name = deck.names.element("rods")
    told = told_by(network, log=f"timestep = 1e-19: trouble with Resistor-instance r{name}")
    (stalling,) = (suspect for suspect in told if suspect.kind == "stalling element")
    assert "at 'foot' (ngspice names 'rods')" in stalling.finding


def told_by(network: Network, *, log: str) -> tuple[Suspect, ...]:
    deck = write_deck(network, front_plan(network))
    return suspects(evidence(network, deck, log=log, raw=b""))


def test_what_rings_on_is_named(injected: MakeNetwork, ten_350: Ten350) -> None:
    surge = ten_350(5e3)
    ringing = injected(
        surge,
        Inductor(name="lead", a="start", b="end", inductance=1e-6),
        Capacitor(name="body", a="end", b=GROUND, capacitance=1e-9),
    )
    assert "undamped lead: 'lead'" in ringing_advice(ringing, step=1e-8)
    quiet = injected(surge, Resistor(name="rods", a="start", b=GROUND, resistance=10.0))
    assert "rings long after the surge" in ringing_advice(quiet, step=1e-8)


def test_the_deck_and_the_log_of_a_run_that_was_ended_are_kept(
    injected: MakeNetwork, line: MakeLine, ten_350: Ten350, tmp_path: Path
) -> None:
    network = injected(
        ten_350(5e3),
        Resistor(name="rods", a="start", b=GROUND, resistance=30.0),
        line("start", "end", impedance=300.0, delay=0.2e-9, name="tap"),
        Resistor(name="load", a="end", b=GROUND, resistance=300.0),
    )
    with pytest.raises(EngineTimeout) as caught:
        simulate(network, window="front", timeout=0.4, keep=tmp_path)
    assert (tmp_path / "front.cir").read_text() == caught.value.deck
    assert (tmp_path / "front.log").exists()
    assert ".tran" in caught.value.deck
