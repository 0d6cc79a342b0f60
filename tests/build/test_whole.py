"""Every case of every shipped scenario builds into a sound network, always the same one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from surgesim.build import build
from surgesim.build.whole import band_of
from surgesim.engine import deck
from surgesim.engine.validate import validate
from surgesim.network.elements import GROUND, Ammeter, Insulation
from surgesim.network.waveforms import Window
from surgesim.physics.waveforms import CubicExponential, Ramp
from surgesim.reading.data import data_folder
from surgesim.scenario.file import ScenarioFile, load

SHIPPED = sorted(data_folder("scenarios").glob("*.yaml"))


def stem(path: Path) -> str:
    return path.stem


@pytest.fixture(scope="module", params=SHIPPED, ids=stem)
def shipped(request: pytest.FixtureRequest) -> ScenarioFile:
    return load(request.param)


def test_some_scenarios_are_shipped() -> None:
    assert SHIPPED


def test_every_case_builds_and_passes_the_engines_checks(shipped: ScenarioFile) -> None:
    for case in shipped.all_cases:
        validate(build(case.scenario))


def test_probes_point_at_what_is_there(shipped: ScenarioFile) -> None:
    for case in shipped.all_cases:
        network = build(case.scenario)
        nodes = {*network.nodes(), GROUND}
        meters = {e.name for e in network.elements if isinstance(e, Ammeter)}
        insulation = {e.name: e.level for e in network.elements if isinstance(e, Insulation)}
        for terminal in network.terminals:
            assert {terminal.a, terminal.b, terminal.bar or GROUND} <= nodes
            if terminal.insulation is not None:
                assert insulation[terminal.insulation] == terminal.flashover
        for arrester in network.arresters:
            assert {arrester.a, arrester.b} <= nodes
            assert arrester.ammeter in meters
        for earth in network.earths:
            assert earth.node in nodes
            assert earth.ammeter in meters


def test_every_fitted_element_and_electrode_is_read(shipped: ScenarioFile) -> None:
    for case in shipped.all_cases:
        network, scenario = build(case.scenario), case.scenario
        fitted = {(n, pair) for n, slot in scenario.arresters.items() for pair in slot.across}
        assert {(a.slot, a.element) for a in network.arresters} == fitted
        bare = {f"bond {n}" for n, bond in scenario.bonds.items() if bond.bare_in_soil is not None}
        assert {earth.name for earth in network.earths} == {*scenario.earths, *bare}
        pairs = {(n, pair) for n, thing in scenario.equipment.items() for pair in thing.pairs}
        assert {(t.equipment, t.pair) for t in network.terminals} == pairs


def test_every_element_belongs_to_something(shipped: ScenarioFile) -> None:
    for case in shipped.all_cases:
        assert all(element.group for element in build(case.scenario).elements)


@pytest.mark.parametrize("peak", [1.0, -20e3])
def test_frequencies_of_front_and_tail(peak: float) -> None:
    """8/20: 39.8 kHz and 8.0 kHz.

    The spectrum of a ramp of length T1 falls from 1/(pi T1) on, that of exp(-t/T2) from
    1/(2 pi T2) on (corner frequencies; Paul, Introduction to Electromagnetic Compatibility,
    from memory). 1 %: the formula's T1 and T2 are 8.02 and 20.0 us.
    """
    shape = CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)
    band = band_of(shape, "current")
    assert band.front == pytest.approx(39.8e3, rel=0.01)
    assert band.tail == pytest.approx(7.96e3, rel=0.01)


def test_frequencies_of_a_surge_without_end() -> None:
    """A ramp of 1 us: 318 kHz; without a tail it counts as 100 us long, 1.59 kHz."""
    band = band_of(Ramp(peak=1.0, rise=1e-6), "voltage")
    assert band.front == pytest.approx(318.3e3, rel=1e-3)
    assert band.tail == pytest.approx(1.592e3, rel=1e-3)


def test_building_twice_gives_equal_networks(shipped: ScenarioFile) -> None:
    """Down to the sign and order of every line's modes, which have no unique basis."""
    case = shipped.all_cases[-1]
    assert build(case.scenario) == build(case.scenario)


@pytest.mark.parametrize("window", ["front", "tail"])
@pytest.mark.parametrize("path", SHIPPED, ids=stem)
def test_golden_deck(path: Path, window: Window, golden: Callable[[str, str], None]) -> None:
    """The last case: the last level of every factor, where the most is fitted."""
    case = load(path).all_cases[-1]
    golden(f"{path.stem}-{window}.cir", deck(build(case.scenario), window=window))
