"""Every invariant on what ngspice answers: held by the circuit that ran, broken by any other.

One small circuit holds every kind of element. Its answer is measured with circuits that differ
from it, and the answers of circuits that lack one element are measured with the whole.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.engine import run_network
from surgesim.errors import ResultRefused
from surgesim.findings.case import CaseFindings, CaseInfo, measure
from surgesim.findings.energy import energy_balance
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
    SparkGap,
    Varistor,
    VoltageSource,
)
from surgesim.network.probes import ArresterProbe, Limit, Rating, TerminalProbe
from surgesim.network.waveforms import Waveforms
from surgesim.physics.spark_gap import GapLaw
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Heidler

STEEP = Heidler(peak=2.5e3, correction=0.986, front=1.82e-6, tail=285e-6, exponent=10)
LAW = fit_three_numbers(reference_voltage=1250.0, nominal_current=20e3, level=3500.0)
TUBE = GapLaw(sparkover=900.0, collapse=30e-9)
INFO = CaseInfo(id="c0001", axes={}, surge="frame struck")

PARTS: tuple[AnyElement, ...] = (
    CurrentSource(name="stroke", a=GROUND, b="array/frame", waveform=STEEP),
    Resistor(name="rods", a="array/frame", b=GROUND, resistance=38.0),
    PhotovoltaicSource(
        name="strings", a="array/plus", b="array/minus", open_circuit_voltage=874.0,
        short_circuit_current=55.6, resistance=0.8,
    ),
    Resistor(name="plus leak", a="array/plus", b="array/frame", resistance=2e6),
    Resistor(name="minus leak", a="array/minus", b="array/frame", resistance=2e6),
    Capacitor(name="plus body", a="array/plus", b="array/frame", capacitance=155e-9),
    Capacitor(name="minus body", a="array/minus", b="array/frame", capacitance=155e-9),
    Insulation(name="modules", a="array/plus", b="array/frame", level=10e3),
    Line(
        name="run", group="cable field run", near=("array/plus", "array/minus"),
        far=("wall/plus", "wall/minus"), voltage_modes=((1.0, 0.5), (1.0, -0.5)),
        impedance=(120.0, 90.0), delay=(0.5e-6, 0.33e-6), resistance=(0.1, 0.4),
        near_reference="soil",
    ),
    Resistor(name="soil loss", a="soil", b=GROUND, resistance=10.0),
    Inductor(name="soil lag", a="soil", b=GROUND, inductance=15e-6),
    Capacitor(name="plus input", a="wall/plus", b="wall/pe", capacitance=22e-9),
    Capacitor(name="minus input", a="wall/minus", b="wall/pe", capacitance=22e-9),
    Insulation(name="input", a="wall/plus", b="wall/pe", level=20e3),
    Ammeter(name="meter", a="wall/plus", b="inverter/plus"),
    Inductor(name="lead", a="inverter/plus", b="inverter/bend", inductance=0.8e-6),
    Resistor(name="damping", a="inverter/plus", b="inverter/bend", resistance=1000.0),
    Inductor(name="leg", a="inverter/bend", b="inverter/core", inductance=0.5e-6),
    Coupling(name="bent", first="lead", second="leg", mutual=-0.1e-6),
    Varistor(name="disc", a="inverter/core", b="wall/pe", law=LAW),
    Capacitor(name="disc body", a="inverter/core", b="wall/pe", capacitance=1e-9),
    Resistor(name="tap", a="wall/minus", b="wall/tube", resistance=20.0),
    SparkGap(name="tube", a="wall/tube", b="wall/pe", law=TUBE),
    Clamp(name="limiter", a="wall/minus", b="wall/pe", voltage=1500.0, resistance=0.5),
    Resistor(name="foundation", a="wall/pe", b=GROUND, resistance=9.0),
    VoltageSource(name="battery", a="alarm", b="wall/pe", offset=48.0),
    IonisingSoil(name="clay", a="alarm", b=GROUND, resistance=200.0, critical=10.0),
    Resistor(name="loop", a="alarm", b=GROUND, resistance=100.0),
)  # fmt: skip
"""Two earths, an array, a cable, a varistor and a limiter, an alarm fed by a battery."""

UNRATED = Rating(
    device_class="textbook", continuous=None, nominal_current=None, peak=None, charge=None,
    specific_energy=None, basis="",
)  # fmt: skip
PROBE = TerminalProbe(
    equipment="inverter", pair="plus to pe", place="wall", a="wall/plus", b="wall/pe",
    limit=Limit(kind="withstand", volts=6e3, origin="guess"), bar="wall/pe",
)  # fmt: skip
ARRESTER = ArresterProbe(
    slot="box", element="plus to pe", card="disc", place="wall", a="wall/plus", b="wall/pe",
    ammeter="meter", rating=UNRATED,
)  # fmt: skip

Array = NDArray[np.float64]
Windows = tuple[Waveforms, Waveforms]


def network(elements: Iterable[AnyElement] = PARTS) -> Network:
    return Network(
        title="two earths", elements=tuple(elements), waveform=STEEP, terminals=(PROBE,),
        arresters=(ARRESTER,),
    )  # fmt: skip


@functools.cache
def answer() -> Windows:
    return run_network(network())


def measured(circuit: Network, windows: Windows) -> CaseFindings:
    return measure(circuit, *windows, info=INFO, asked_margin_percent=25.0)


def test_all_hold_for_the_circuit_that_ran() -> None:
    invariants = measured(network(), answer()).invariants
    exact = {"complete", "steps", "peaks"}
    nearest = {name: one.worst / one.limit for name, one in invariants.items() if name not in exact}
    # none of them is near: a tenth of a limit is more than ten times what any has come to here
    assert max(nearest.values()) < 0.1, nearest
    assert invariants["steps"].worst == pytest.approx(1.0)


# --- broken by a circuit that did not run ---------------------------------------------------------

Change = Callable[[Network], Network]


def _with(name: str, **values: Any) -> Change:
    """The circuit with one element's values replaced."""

    def change(circuit: Network) -> Network:
        parts = [replace(e, **values) if e.name == name else e for e in circuit.elements]
        return replace(circuit, elements=tuple(parts))

    return change


def _scaled(name: str, key: str, factor: float) -> Change:
    def change(circuit: Network) -> Network:
        (old,) = (getattr(e, key) for e in circuit.elements if e.name == name)
        return _with(name, **{key: old * factor})(circuit)

    return change


@pytest.mark.parametrize(
    ("change", "told"),
    [
        # values
        (_scaled("rods", "resistance", 1.01), "charge balance at 'array/frame', 'array/minus', "),
        (_scaled("foundation", "resistance", 1.01), "charge balance at 'inverter/core', 'wall/"),
        (_scaled("plus input", "capacitance", 1.05), "charge balance at 'wall/plus', "),
        (_scaled("lead", "inductance", 1.02), "voltage balance at lead, "),
        (_scaled("bent", "mutual", 0.5), "voltage balance at leg, "),
        (_scaled("bent", "mutual", -1.0), "voltage balance at leg, "),
        (_scaled("plus leak", "resistance", 1.02), "state before the surge at "),
        (_with("disc", law=replace(LAW, scale=1.1)), "charge balance at 'inverter/core', "),
        (_with("limiter", voltage=1800.0), "charge balance at 'wall/minus', "),
        (_with("strings", open_circuit_voltage=900.0), "state before the surge at "),
        (_with("battery", offset=50.0), "state before the surge at "),
        (_with("modules", resistance=0.2), "charge balance at 'array/"),
        # a bar swapped, an element turned around
        (_with("meter", a="wall/minus"), "state before the surge at "),
        (_with("foundation", a="array/frame"), "state before the surge at "),
        (_with("disc", b=GROUND), "charge balance at "),
        (_with("stroke", a="array/frame", b=GROUND), "charge balance at "),
        (_with("battery", a="wall/pe", b="alarm"), "state before the surge at "),
        (_with("strings", a="array/minus", b="array/plus"), "state before the surge at "),
        (_with("run", far=("wall/minus", "wall/plus")), "state before the surge at "),
        # the line's own numbers
        (_with("run", voltage_modes=((1.0, 1.0), (0.5, -0.5))), "charge balance at "),
        (_with("run", voltage_modes=((1.0, 0.5), (1.0, -0.6))), "charge balance at "),
        (_with("run", impedance=(122.0, 90.0)), "voltage balance at cable field run, mode 1, "),
        (_with("run", impedance=(120.0, 100.0)), "voltage balance at cable field run, mode 2, "),
        (_with("run", delay=(0.53e-6, 0.33e-6)), "voltage balance at cable field run, mode 1, "),
        (_with("run", resistance=(1.0, 0.4)), "voltage balance at cable field run, mode 1, "),
        (_with("run", near_reference=GROUND), "charge balance at "),
        (_with("soil loss", resistance=11.0), "charge balance at 'soil', "),
        (_with("soil lag", inductance=16e-6), "voltage balance at soil lag, "),
    ],
)  # fmt: skip
def test_another_circuit_is_refused(change: Change, told: str) -> None:
    with pytest.raises(ResultRefused) as caught:
        measured(change(network()), answer())
    assert caught.value.message.startswith(f"c0001: {told}")
    assert ", more than " in caught.value.message
    assert caught.value.hint
    assert caught.value.exit_code == 3


# --- broken by waveforms that are not the circuit's -----------------------------------------------

Spoil = Callable[[Waveforms, Waveforms], Windows]


def _front(**changes: Any) -> Spoil:
    return lambda front, tail: (replace(front, **changes), tail)


def _volts(name: str, change: Callable[[Array], Array]) -> Spoil:
    """The front with one of its voltages changed."""
    return lambda front, tail: (
        replace(front, voltages={**front.voltages, name: change(front.voltages[name])}),
        tail,
    )


def _amps(name: str, change: Callable[[Array], Array]) -> Spoil:
    """The front with one of its currents changed."""
    return lambda front, tail: (
        replace(front, currents={**front.currents, name: change(front.currents[name])}),
        tail,
    )


def _without(*, volts: str = "", amps: str = "") -> Spoil:
    """A tail that lacks a series."""
    return lambda front, tail: (
        front,
        replace(
            tail,
            voltages={name: series for name, series in tail.voltages.items() if name != volts},
            currents={name: series for name, series in tail.currents.items() if name != amps},
        ),
    )


def _picked(waves: Waveforms, points: Any) -> Waveforms:
    """Only some points of time; what was recorded of the run stays."""
    return replace(
        waves,
        time=waves.time[points],
        voltages={name: values[points] for name, values in waves.voltages.items()},
        currents={name: values[points] for name, values in waves.currents.items()},
    )


def _coarser(front: Waveforms, tail: Waveforms) -> Windows:
    return _picked(front, slice(None, None, 2)), tail


def _coarser_and_said_so(front: Waveforms, tail: Waveforms) -> Windows:
    every = _picked(front, slice(None, None, 200))
    return replace(every, step=float(np.max(np.diff(every.time)))), tail


def _cut(front: Waveforms, _: Waveforms) -> Windows:
    """Both windows end while the voltage at the inverter still rises."""
    # the tail in the front's steps: its own are too coarse for the energy of so short a time
    longer = replace(_picked(front, front.time < 1.8e-6), window="tail")
    return _picked(front, front.time < 1.2e-6), longer


def _swapped(front: Waveforms, tail: Waveforms) -> Windows:
    volts = dict(front.voltages)
    volts["wall/plus"], volts["wall/minus"] = volts["wall/minus"], volts["wall/plus"]
    return replace(front, voltages=volts), tail


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (_without(volts="wall/pe"), "nothing dropped at the tail window: the answer lacks "
         "node 'wall/pe'"),
        (_without(amps="meter"), "nothing dropped at the tail window: the answer lacks the "
         "current of 'meter'"),
        (_without(volts="modules/state"), "nothing dropped at the tail window: the answer "
         "lacks the state of 'modules'"),
        (_without(amps="run/far/1"), "nothing dropped at the tail window: the answer lacks "
         "the current of 'run/far/1' (cable field run)"),
        (_volts("wall/pe", lambda volts: volts[:-1]), "nothing dropped at the front "),
        (_coarser, "step rule at the front window: a step of "),
        (_coarser_and_said_so, "step rule at cable field run, the front window: a step of "),
        (_front(lumped=("run",)), "step rule at cable field run, the front window: lumped, "),
        (_front(lumped=("hedge",)), "step rule at the front window: no line is named hedge"),
        (_swapped, "state before the surge at "),
        (_volts("wall/plus", lambda volts: volts + 1.0), "state before the surge at "
         "'wall/plus' in the front: 437.6 V stood there by the engine, 436.6 V by a linear "),
        (_amps("lead", np.negative), "charge balance at 'inverter/"),
        (_amps("meter", np.negative), "charge balance at 'inverter/plus', "),
        (_amps("battery", lambda amps: 0.0 * amps), "charge balance at 'alarm', "),
        (_amps("run/near/0", lambda amps: 1.01 * amps), "charge balance at "),
        (_volts("run/far/1", lambda volts: 1.02 * volts), "voltage balance at cable "
         "field run, mode 2, "),
        (_cut, "peak within the window at inverter, plus to pe: the voltage is still rising at "),
    ],
)  # fmt: skip
def test_spoiled_waveforms_are_refused(spoil: Spoil, told: str) -> None:
    with pytest.raises(ResultRefused) as caught:
        measured(network(), spoil(*answer()))
    assert caught.value.message.startswith(f"c0001: {told}")
    assert caught.value.hint


def test_a_probe_of_what_is_not_in_the_network_is_refused() -> None:
    lost = tuple(replace(probe, a="wall/gone") for probe in network().terminals[:1])
    with pytest.raises(ResultRefused) as caught:
        measured(replace(network(), terminals=lost), answer())
    told = f"node 'wall/gone' of {lost[0].equipment}, {lost[0].pair}"
    assert told in caught.value.message


def test_a_missing_series_is_refused_by_name_without_the_check() -> None:
    front, tail = _without(volts="wall/pe", amps="meter")(*answer())
    with pytest.raises(ResultRefused, match=r"^nothing dropped: the answer lacks 'meter'"):
        tail.currents["meter"]
    with pytest.raises(ResultRefused, match=r"^nothing dropped: the answer lacks 'wall/pe'"):
        energy_balance(network(), tail, since=float(front.time[-1]))


# --- broken by an engine that drops an element ----------------------------------------------------

AS_GOOD_AS_NOTHING = 1e12
"""ohm. Where an element was, so that what hung on it has a state at rest all the same."""

CAUGHT = {
    "stroke": "charge balance at ",
    "rods": "state before the surge at ",
    "strings": "state before the surge at ",
    "plus leak": "state before the surge at ",
    "minus leak": "state before the surge at ",
    "plus body": "charge balance at ",
    "minus body": "charge balance at ",
    "modules": "nothing dropped at ",
    "run": "nothing dropped at ",
    "soil loss": "charge balance at ",
    "soil lag": "nothing dropped at ",
    "plus input": "charge balance at ",
    "minus input": "charge balance at ",
    "input": "nothing dropped at ",
    "meter": "nothing dropped at ",
    "lead": "nothing dropped at ",
    "leg": "nothing dropped at ",
    "bent": "voltage balance at ",
    "disc": "charge balance at ",
    "disc body": "charge balance at ",
    "tap": "state before the surge at ",
    "tube": "nothing dropped at ",
    "limiter": "charge balance at ",
    "foundation": "state before the surge at ",
    "battery": "nothing dropped at ",
    "clay": "state before the surge at ",
    "loop": "state before the surge at ",
}
"""What each element's absence is caught by."""


ELEMENTS = Element.__module__

UNSEEN = ("damping", "input")
"""What cannot be missed, for want of doing anything. The resistor across a lead carries half a
permille of what the lead does; insulation that does not flash over is 10 gigohm, and only its
series is missed."""


@functools.cache
def answer_without(name: str) -> Windows:
    kept = [e for e in PARTS if e.name != name and not _coupled_to(e, name)]
    (gone,) = (e for e in PARTS if e.name == name)
    ends: list[tuple[str, str]] = []
    if isinstance(gone, Line):
        ends = list(zip(gone.near, gone.far, strict=True))
    elif isinstance(gone, Element):
        ends = [(gone.a, gone.b)]
    kept += [
        Resistor(name=f"nothing {k}", a=a, b=b, resistance=AS_GOOD_AS_NOTHING)
        for k, (a, b) in enumerate(ends)
    ]
    return run_network(replace(network(kept), terminals=(), arresters=()))


def _coupled_to(element: AnyElement, name: str) -> bool:
    return isinstance(element, Coupling) and name in (element.first, element.second)


def test_the_table_names_every_element_and_the_circuit_has_every_kind() -> None:
    assert {element.name for element in PARTS} == CAUGHT.keys() | set(UNSEEN)
    kinds = {type(element).__name__ for element in PARTS}
    known = {kind.__name__ for kind in Element.__subclasses__() if kind.__module__ == ELEMENTS}
    assert kinds == {"Coupling", "Line"} | known


@pytest.mark.parametrize("name", CAUGHT)
def test_an_element_that_the_engine_dropped_is_missed(name: str) -> None:
    with pytest.raises(ResultRefused) as caught:
        measured(network(), answer_without(name))
    assert caught.value.message.startswith(f"c0001: {CAUGHT[name]}")


BY_WHAT_IT_DOES = {
    "modules": "insulation at modules: stood beyond its level of 1e+04 V for ",
    "run": "state before the surge at ",
    "meter": "state before the surge at ",
    "lead": "voltage balance at lead, ",
    "leg": "state before the surge at ",
    "battery": "state before the surge at ",
}
"""What catches elements whose series are missing, if the answer has zeros in their place."""


def _padded(windows: Windows) -> Windows:
    """The windows with zeros for every series the whole circuit would have."""
    front, tail = windows
    return _filled(front, answer()[0]), _filled(tail, answer()[1])


def _filled(waves: Waveforms, whole: Waveforms) -> Waveforms:
    nought = np.zeros_like(waves.time)
    return replace(
        waves,
        lumped=whole.lumped,
        voltages={name: waves.voltages.get(name, nought) for name in whole.voltages},
        currents={name: waves.currents.get(name, nought) for name in whole.currents},
    )


@pytest.mark.parametrize("name", BY_WHAT_IT_DOES)
def test_a_dropped_element_is_missed_by_what_it_does_as_well(name: str) -> None:
    with pytest.raises(ResultRefused) as caught:
        measured(network(), _padded(answer_without(name)))
    print(caught.value)
    assert caught.value.message.startswith(f"c0001: {BY_WHAT_IT_DOES[name]}")


@pytest.mark.parametrize("name", UNSEEN)
def test_what_is_not_missed_does_nothing(name: str) -> None:
    without = measured(network(), _padded(answer_without(name)))
    whole = measured(network(), answer())
    # two permille is what the steps leave open
    assert without.terminals[0].peak_v == pytest.approx(whole.terminals[0].peak_v, rel=2e-3)
    assert without.arresters[0].charge_c == pytest.approx(whole.arresters[0].charge_c, rel=1e-3)
