"""Wiring of arresters: sections of leads, the earth lead as a V, a fuse or breaker in series."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.build import build
from surgesim.build.arresters import arresters
from surgesim.findings.case import CaseFindings, CaseInfo, measure
from surgesim.network.circuit import Network
from surgesim.network.elements import Inductor, Resistor
from surgesim.scenario.schema import Scenario
from tests.verification.solvers import SOLVERS, Solver

MakeScenario = Callable[..., Scenario]


CLAMPED = 1000.0
"""Level of the bench's limiter, V."""


def slot(leads: str, more: str = "") -> str:
    return f"{{at: bench, across: plus to pe, card: limiter, leads: {{{leads}}}{more}}}"


# --- sections --------------------------------------------------------------------------------


def test_leads_with_a_section_are_straight_wires(bench: MakeScenario) -> None:
    leads = "line: 1 m, earth: 0.5 m to pe, line section: 6 mm2, earth section: 16 mm2"
    (parts,) = arresters(bench(arrester=slot(leads)))
    found = {e.name: e.inductance for e in parts.elements if isinstance(e, Inductor)}
    # Rosa 1908, 0.2 uH/m (ln(2 l/r) - 1): radius 1.382 mm, 2.257 mm
    assert found == pytest.approx(
        {"arrester/slot/plus lead": 1.2555e-6, "arrester/slot/earth lead": 0.5094e-6}, rel=1e-3
    )


def test_a_lead_without_a_section_has_a_microhenry_a_metre(bench: MakeScenario) -> None:
    scenario = bench(arrester=slot("line: 0.3 m, earth: 0.5 m to pe, earth section: 16 mm2"))
    leads = scenario.arresters["slot"].leads
    assert leads.line_inductance == pytest.approx(0.3e-6)
    assert leads.earth_inductance == pytest.approx(0.5094e-6, rel=1e-3)
    assert "arrester leads 1 uH/m (common practice, no source) [slot]" in scenario.assumed


def test_of_sections_nothing_is_assumed(bench: MakeScenario) -> None:
    leads = "line: 0.3 m, earth: 0.5 m to pe, line section: 6 mm2, earth section: 16 mm2"
    scenario = bench(arrester=slot(leads))
    assert not any(words.startswith("arrester leads") for words in scenario.assumed)


# --- the earth lead as a V -------------------------------------------------------------------


@pytest.mark.parametrize("solver", SOLVERS.values(), ids=list(SOLVERS))
def test_an_earth_lead_as_a_v_leaves_its_coupling(bench: MakeScenario, solver: Solver) -> None:
    """Of 1 uH of a metre's lead the equipment sees the 0.15 uH that its halves share."""
    drops = []
    for wiring in ("tee", "V"):
        more = f", earth wiring: {wiring}"
        network = build(bench(arrester=slot("line: 0 m, earth: 1 m to pe", more)))
        waves = solver(network, 40e-6)
        (probe,) = network.terminals
        drops.append(float(np.max(waves.across(probe.a, probe.b))) - CLAMPED)
    # 149 V per kA and uH of 8/20 (closed form, IEEE C62.41.2-2002): 745 V at 5 kA; 1 % for the
    # limiter's own 1 mohm
    assert drops[0] == pytest.approx(745.0, rel=0.01)
    # of which 5 V at the limiter
    assert drops[1] == pytest.approx(0.15 * 745.0, rel=0.05)


def test_equipment_stands_behind_the_earth_v_and_electrodes_before_it(bench: MakeScenario) -> None:
    network = build(bench(arrester=slot("line: 0 m, earth: 1 m to pe", ", earth wiring: V")))
    (probe,) = network.terminals
    assert (probe.b, probe.bar) == ("bench/pe/equipment side", "bench/pe")
    assert {earth.name: earth.node for earth in network.earths}["bench earth"] == "bench/pe"


# --- in series -------------------------------------------------------------------------------


def findings(network: Network, solver: Solver) -> CaseFindings:
    waves = solver(network, 120e-6)
    info = CaseInfo(id="c0001", axes={}, surge="surge")
    return measure(network, waves, waves, info=info, asked_margin_percent=25.0)


def fused(device: str) -> str:
    return slot("line: 0 m, earth: 0 m to pe", f", {device}")


@pytest.mark.parametrize("solver", SOLVERS.values(), ids=list(SOLVERS))
@pytest.mark.parametrize(
    ("rating", "state"),
    # 5 kA 8/20 is 12.164 us Ip^2 = 304 A2s; a fuse of 16 A may melt from 300 A2s on and has at
    # 1000, one of 20 A stays up to 500 A2s (IEC 60269-1, from memory)
    [("gG 16 A", "may open"), ("gG 20 A", "stays")],
)
def test_what_a_fuse_does_under_a_surge(
    bench: MakeScenario, solver: Solver, rating: str, state: str
) -> None:
    found = findings(build(bench(arrester=fused(f"fuse: {rating}"))), solver)
    (arrester,) = found.arresters
    (fuse,) = arrester.series
    # 2 %: what the line and its 400 ohm take of the current, and the record's end
    assert fuse.specific_energy_j_per_ohm == pytest.approx(12.164e-6 * 5e3**2, rel=0.02)
    assert fuse.state == state
    assert arrester.shares["in_series"] == fuse.share
    (terminal,) = found.terminals
    if state == "stays":
        assert (arrester.verdict, terminal.verdict, fuse.from_s) == ("holds", "holds", None)
    else:
        assert (arrester.verdict, arrester.rated_by) == ("exceeded", "in_series")
        assert terminal.verdict == "void"
        assert "what its fuse or breaker carries" in terminal.conditional_on[0]
        assert fuse.from_s is not None
        assert 20e-6 < fuse.from_s < 40e-6


def test_a_breaker_opens_by_its_own_figure(bench: MakeScenario) -> None:
    device = "breaker: {resistance: 3 mohm, inductance: 0.6 uH, opens at: 200 A2s}"
    found = findings(build(bench(arrester=fused(device))), SOLVERS["ngspice"])
    (breaker,) = found.arresters[0].series
    assert (breaker.what, breaker.state) == ("breaker", "opens")
    # its 0.6 uH under 745 A/us, in the arrester's way
    assert found.terminals[0].peak_v == pytest.approx(CLAMPED + 0.6 * 745.0, rel=0.02)


def test_a_fuse_stands_in_each_line_lead(bench: MakeScenario) -> None:
    network = build(bench(arrester=fused("fuse: gG 63 A")))
    ohms = {e.name: e.resistance for e in network.elements if isinstance(e, Resistor)}
    # 70 mV at 63 A
    assert ohms["arrester/slot/plus fuse gG 63 A"] == pytest.approx(1.1e-3)
    choke = {e.name: e.inductance for e in network.elements if isinstance(e, Inductor)}
    assert choke["arrester/slot/plus fuse gG 63 A/inductance"] == pytest.approx(100e-9)
