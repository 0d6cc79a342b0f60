"""What an array by its modules, a battery, a join and a cable's end become in the circuit."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.build import build
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Capacitor,
    Element,
    Inductor,
    Insulation,
    PhotovoltaicSource,
    Resistor,
    VoltageSource,
)
from surgesim.scenario.file import load, loads

FILE = Path(__file__).parents[1] / "scenarios" / "valid" / "supply.yaml"


@pytest.fixture(scope="module")
def network() -> Network:
    """The low level of insulation, dry, without a fault."""
    return build(load(FILE).all_cases[0].scenario)


def only(network: Network, kind: type[Element], start: str) -> Element:
    (found,) = (e for e in network.elements if isinstance(e, kind) and e.name.startswith(start))
    return found


def test_an_array_has_its_capacitance_half_at_each_pole(network: Network) -> None:
    array = only(network, PhotovoltaicSource, "supply/strings")
    assert isinstance(array, PhotovoltaicSource)
    assert array.open_circuit_voltage == pytest.approx(1083.6, abs=0.06)
    for pole in ("plus", "minus"):
        half = only(network, Capacitor, f"supply/strings/{pole} to frame")
        assert isinstance(half, Capacitor)
        assert (half.a, half.b) == (f"array/{pole}", "array/frame")
        assert half.capacitance == pytest.approx(20e-9)
    frames = only(network, Capacitor, "supply/strings/frame to earth")
    assert isinstance(frames, Capacitor)
    assert (frames.a, frames.b) == ("array/frame", GROUND)
    assert frames.capacitance == pytest.approx(40 * 50e-12)


def test_a_battery_is_a_voltage_behind_resistance_and_inductance(network: Network) -> None:
    cells = only(network, VoltageSource, "battery/bank")
    assert isinstance(cells, VoltageSource)
    assert (cells.offset, cells.waveform, cells.b) == (52.0, None, "hut/battery minus")
    links = only(network, Inductor, "battery/bank")
    assert isinstance(links, Inductor)
    assert (links.inductance, links.b) == (1e-6, "hut/battery plus")
    tie = only(network, Resistor, "battery/bank/battery plus to pe")
    assert isinstance(tie, Resistor)
    assert (tie.a, tie.b, tie.resistance) == ("hut/battery plus", "hut/pe", 1e-3)


def test_what_a_converter_joins(network: Network) -> None:
    join = only(network, Inductor, "equipment/controller/joins minus to battery minus")
    assert isinstance(join, Inductor)
    assert (join.inductance, join.b) == (1e-7, "hut/battery minus")


def test_an_earth_fault_lies_where_it_says() -> None:
    case = next(c for c in load(FILE).all_cases if c.axes["coefficient"] == "fault at the hut")
    fault = only(build(case.scenario), Resistor, "supply/strings/earth fault")
    assert isinstance(fault, Resistor)
    assert (fault.a, fault.b, fault.resistance) == ("hut/minus", "hut/pe", 1.0)


def test_insulation_has_its_level_and_what_its_arc_holds(network: Network) -> None:
    gap = only(network, Insulation, "equipment/controller/plus to pe")
    assert isinstance(gap, Insulation)
    assert (gap.a, gap.b, gap.level, gap.arc_voltage) == ("hut/plus", "hut/pe", 7875.0, 60.0)
    bare = only(network, Insulation, "equipment/controller/battery minus to pe")
    assert isinstance(bare, Insulation)
    assert (bare.level, bare.arc_voltage) == (2000.0, 0.0)
    (probe,) = (
        probe
        for probe in network.terminals
        if (probe.equipment, probe.pair) == ("controller", "plus to pe")
    )
    assert (probe.a, probe.b, probe.flashover) == ("hut/plus", "hut/pe", 7875.0)


def test_a_cable_ends_before_an_arrester_that_it_runs_through() -> None:
    slot = (
        "arresters: {box: {at: hut, across: each pole to pe, wiring: V, card: pv 1000 class II,"
        " leads: {line: 0.4 m, earth: 0.5 m to pe}}}\n"
    )
    network = build(loads(FILE.read_text() + slot).all_cases[0].scenario)
    gap = only(network, Insulation, "equipment/field run at the hut/minus to pe")
    assert (gap.a, gap.b) == ("hut/minus/cable side", "hut/pe")
    assert only(network, Insulation, "equipment/controller/plus to pe").a == "hut/plus"
