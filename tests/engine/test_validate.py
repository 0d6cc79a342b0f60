"""What a network must satisfy before a deck is written, one fault at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from surgesim.engine import deck, simulate
from surgesim.engine.emit import lower
from surgesim.engine.validate import validate, values
from surgesim.errors import EngineError
from surgesim.network import elements
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    Coupling,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
    VoltageSource,
)
from surgesim.network.probes import TerminalProbe
from surgesim.physics.waveforms import Step

MakeNetwork = Callable[..., Network]

STRINGS = PhotovoltaicSource(
    name="strings",
    a="start",
    b=GROUND,
    open_circuit_voltage=874.0,
    short_circuit_current=55.6,
    resistance=2.0,
)
CABLE = Line(
    name="field run",
    near=("start", "one"),
    far=("two", "three"),
    voltage_modes=((1.0, 1.0), (1.0, -1.0)),
    impedance=(200.0, 50.0),
    delay=(1e-6, 1e-6),
    resistance=(0.1, 0.1),
)
EARTHED = tuple(
    Resistor(name=f"earth of {node}", a=node, b=GROUND, resistance=10.0)
    for node in ("one", "two", "three")
)
COILS = (
    Inductor(name="first", a="start", b=GROUND, inductance=1e-6),
    Inductor(name="second", a="one", b=GROUND, inductance=4e-6),
    Inductor(name="third", a="two", b=GROUND, inductance=1e-6),
)


def coupled(*mutuals: tuple[str, str, float]) -> tuple[AnyElement, ...]:
    pairs = (Coupling(name=f"{a} {b}", first=a, second=b, mutual=m) for a, b, m in mutuals)
    return (*COILS, *pairs)


def resistor(value: float, *, name: str = "rods", a: str = "start", b: str = GROUND) -> Resistor:
    return Resistor(name=name, a=a, b=b, resistance=value)


NAN, INF = float("nan"), float("inf")

FAULTS: list[tuple[tuple[AnyElement, ...], str]] = [
    ((resistor(0.0),), "resistor 'rods': resistance is 0.0"),
    ((resistor(-1.0),), "resistor 'rods': resistance is -1.0"),
    ((resistor(NAN),), "resistor 'rods': resistance is nan"),
    ((resistor(INF),), "resistor 'rods': resistance is inf"),
    (
        (resistor(1.0), Inductor(name="lead", a="start", b="x", inductance=0.0)),
        "inductor 'lead': inductance is 0.0",
    ),
    (
        (resistor(1.0), Capacitor(name="body", a="start", b=GROUND, capacitance=-1e-9)),
        "capacitor 'body': capacitance is -1e-09",
    ),
    (
        (VoltageSource(name="battery", a="start", b=GROUND, offset=NAN),),
        "voltagesource 'battery': offset is nan",
    ),
    (
        (resistor(1.0), Clamp(name="limiter", a="start", b=GROUND, voltage=1.0, resistance=0.0)),
        "clamp 'limiter': resistance is 0.0",
    ),
    (
        (IonisingSoil(name="soil", a="start", b=GROUND, resistance=10.0, critical=0.0),),
        "ionisingsoil 'soil': critical is 0.0",
    ),
    (
        (resistor(1.0), Insulation(name="gap", a="start", b=GROUND, level=0.0)),
        "insulation 'gap': level is 0.0",
    ),
    (
        (resistor(1.0), Insulation(name="gap", a="start", b=GROUND, level=1e3, lag=0.0)),
        "insulation 'gap': lag is 0.0",
    ),
    ((replace(STRINGS, resistance=20.0),), "drops more than the open-circuit voltage"),
    ((replace(STRINGS, open_circuit_voltage=0.0),), "open_circuit_voltage is 0.0"),
    ((resistor(1.0), resistor(2.0)), "2 elements are named 'rods'"),
    ((resistor(1.0, name=""),), "an element has no name"),
    ((resistor(1.0), resistor(1.0, name="loop", b="start")), "'loop': both ends at 'start'"),
    (
        (resistor(1.0), Capacitor(name="body", a="start", b="island", capacitance=1e-9)),
        "node 'island' has no conducting path to remote earth",
    ),
    (
        (
            resistor(1.0),
            CurrentSource(name="in", a="far", b="start", waveform=Step(peak=1, rise=1)),
        ),
        "node 'far' has no conducting path",
    ),
    (
        (resistor(1.0), Insulation(name="gap", a="start", b="island", level=1e3)),
        "node 'island' has no conducting path",
    ),
    (
        (
            resistor(1.0),
            Ammeter(name="one way", a="start", b="x"),
            Inductor(name="other way", a="x", b="start", inductance=1e-6),
        ),
        "'one way', 'other way' form a loop without any resistance",
    ),
    (
        (VoltageSource(name="battery", a="start", b=GROUND), COILS[0]),
        "'battery', 'first' form a loop",
    ),
    ((*EARTHED, CABLE, replace(CABLE, name="x", delay=(0.0, 1e-6))), "line 'x': delay is 0.0"),
    ((*EARTHED, replace(CABLE, impedance=(0.0, 50.0))), "impedance is 0.0"),
    ((*EARTHED, replace(CABLE, resistance=(-0.1, 0.1))), "resistance is -0.1"),
    ((*EARTHED, replace(CABLE, resistance=(INF, 0.0))), "resistance is inf"),
    ((*EARTHED, replace(CABLE, near_reference="nowhere")), "nowhere"),
    ((*EARTHED, replace(CABLE, far=("two",))), "2 near ends but 1 of far"),
    ((*EARTHED, replace(CABLE, delay=(1e-6,))), "2 near ends but 1 of delay"),
    ((*EARTHED, replace(CABLE, voltage_modes=((1.0,),))), "voltage_modes is not 2 by 2"),
    (
        (*EARTHED, replace(CABLE, voltage_modes=((1.0, 1.0), (1.0, 1.0)))),
        "voltage_modes cannot be inverted",
    ),
    ((*EARTHED, replace(CABLE, near=(), far=())), "has no conductor"),
    (coupled(("first", "second", 2e-6)), "coupling 'first second': factor 1 is not below 1"),
    (coupled(("first", "fourth", 1e-6)), "no inductor is named 'fourth'"),
    (coupled(("first", "first", 1e-7)), "couples 'first' with itself"),
    (coupled(("first", "second", NAN)), "mutual is nan"),
    (
        coupled(
            ("first", "second", 1.8e-6), ("second", "third", 1.8e-6), ("first", "third", -0.9e-6)
        ),
        "would store negative energy",
    ),
]


@pytest.mark.parametrize(("faulty", "message"), FAULTS, ids=[fault for _, fault in FAULTS])
def test_faults_are_refused(
    injected: MakeNetwork, faulty: tuple[AnyElement, ...], message: str
) -> None:
    network = injected(Step(peak=1.0, rise=1e-6), *faulty)
    with pytest.raises(EngineError) as caught:
        validate(network)
    assert message in str(caught.value)
    for run in (simulate, deck):
        with pytest.raises(EngineError, match="cannot be simulated"):
            run(network, window="front")


def test_all_faults_are_named_at_once(injected: MakeNetwork) -> None:
    network = injected(
        Step(peak=1.0, rise=1e-6),
        resistor(0.0),
        resistor(1.0, name="loop", b="start"),
        Capacitor(name="body", a="start", b="island", capacitance=-1.0),
    )
    with pytest.raises(EngineError) as caught:
        validate(network)
    for part in ("resistance is 0.0", "both ends at 'start'", "capacitance is -1.0", "'island'"):
        assert part in str(caught.value)


def test_a_surge_of_nothing_is_refused(injected: MakeNetwork) -> None:
    with pytest.raises(EngineError, match="the surge's peak is 0"):
        validate(injected(Step(peak=0.0, rise=1e-6), resistor(1.0)))


def test_a_probe_on_no_node_is_refused(
    injected: MakeNetwork, probe: Callable[..., TerminalProbe]
) -> None:
    network = injected(
        Step(peak=1.0, rise=1e-6), resistor(1.0), terminals=(probe("start", "nowhere"),)
    )
    with pytest.raises(EngineError, match="'inverter', 'plus to pe': no node is named 'nowhere'"):
        validate(network)


def test_sound_networks_pass(injected: MakeNetwork) -> None:
    surge = Step(peak=1.0, rise=1e-6)
    for sound in (
        (STRINGS,),
        (CABLE, *EARTHED),
        coupled(("first", "second", 1.9e-6)),
        (resistor(1.0), COILS[0], replace(COILS[0], name="parallel", a="one"), *EARTHED),
    ):
        validate(injected(surge, *sound))


def test_an_unknown_kind_of_element_is_refused(injected: MakeNetwork) -> None:
    @dataclass(frozen=True, slots=True, kw_only=True)
    class Novelty(Element):
        pass

    novelty = Novelty(name="new", a="start", b=GROUND)
    with pytest.raises(TypeError, match="no check is registered for Novelty"):
        values(novelty)
    with pytest.raises(TypeError, match="no check is registered for Novelty"):
        validate(injected(Step(peak=1.0, rise=1e-6), novelty))


def test_every_kind_of_element_is_registered() -> None:
    named = vars(elements).values()
    kinds = [kind for kind in named if isinstance(kind, type) and issubclass(kind, AnyElement)]
    kinds.remove(Element)
    assert len(kinds) > 10
    for kind in kinds:
        assert kind in lower.registry
        assert kind in values.registry
