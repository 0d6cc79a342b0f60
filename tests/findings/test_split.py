"""How a current that strikes a place divides, against the conventional impedances' rule."""

from __future__ import annotations

from functools import cache

import pytest

from surgesim.build import build
from surgesim.engine import run_network
from surgesim.findings.record import Record
from surgesim.findings.split import Split, Way, measure_split
from surgesim.network.circuit import Network
from surgesim.network.halves import halved
from surgesim.scenario.file import loads
from surgesim.studies.second_solver import by_second_solver

AIR = "in air 3 m high"
STRUCK = "{shape: 10/350, peak: 5 kA, into: mast pe, returns: remote earth}"


def network(surge: str = STRUCK, *, runs: int = 1, laying: str = AIR, bonds: str = "{}") -> Network:
    """A mast on 4 ohm and two buildings on 8 ohm each, a pair of bare-ended wires beside one bond.

    The circuit of IEC 62305-1:2010 Annex E: Z = 4 ohm, Z1 = 8 ohm, two services.
    """
    text = f"""
surgesim: 1
title: Mast
site: {{soil: 100 ohm m}}
places: {{mast: {{}}, shed: {{}}, house: {{}}}}
cables:
  bond: {{from: mast, to: shed, length: 20 m, type: copper 16 mm2, laying: {AIR}, count: {runs}}}
  pipe: {{from: house, to: mast, length: 20 m, type: copper 16 mm2, laying: {laying}}}
  spare: {{from: mast, to: house, length: 20 m, type: copper 16 mm2, laid with: pipe}}
earths:
  ring:  {{at: mast,  bar: pe, measured: 4 ohm, inductance: 2 uH}}
  shed:  {{at: shed,  bar: pe, measured: 8 ohm, inductance: 2 uH}}
  house: {{at: house, bar: pe, measured: 8 ohm, inductance: 2 uH}}
bonds: {bonds}
equipment: {{radio: {{at: mast, not assessed: no ports described}}}}
surges: {{struck: {surge}}}
"""
    (case,) = loads(text).all_cases
    return build(case.scenario)


@cache
def split() -> Split:
    found = measure_split(network(), Record(*run_network(network())))
    assert found is not None
    return found


def ways(found: Split) -> dict[str, Way]:
    return {way.name: way for way in found.ways}


def test_late_shares_are_those_of_the_conventional_impedances() -> None:
    """ke = Z/(Z1 + Z n1) = 4/(8 + 4 2) = 0.25 a service, 0.5 to earth (IEC 62305-1:2010 Annex E,
    from memory). 3 %: at 100 us the routes' inductance still has a little say.
    """
    found = ways(split())
    assert found["ring"].share[2] == pytest.approx(0.5, rel=0.03)
    assert found["bond"].share[2] == pytest.approx(0.25, rel=0.03)
    pipe, spare = found["pipe"].share[2], found["spare"].share[2]
    assert pipe is not None
    assert spare is not None
    assert pipe + spare == pytest.approx(0.25, rel=0.03)
    assert pipe == pytest.approx(spare, rel=1e-3)


def test_at_the_front_more_goes_into_the_earth_beside_the_strike() -> None:
    early, late = (split().ways[0].share[k] for k in (0, 2))
    assert early is not None
    assert late is not None
    assert early > 1.2 * late


def test_what_leaves_is_what_is_injected() -> None:
    """Kirchhoff, moment by moment: nothing else leaves this mast. 0.1 %: as charge balance."""
    for moment, amps in zip(range(3), split().injected_a, strict=True):
        shares = [way.share[moment] for way in split().ways]
        assert sum(share or 0.0 for share in shares) == pytest.approx(1.0)
        assert split().ways[-1].name == "other ways"
        assert abs((shares[-1] or 0.0) * amps) < 1e-3 * 5e3


def test_the_moments_count_from_the_virtual_origin() -> None:
    """A tenth of the peak is reached a tenth of T1 after the origin, T1 being 10 us."""
    assert split().moments_s == (1e-6, 10e-6, 100e-6)
    assert split().injected_a[0] == pytest.approx(500.0, rel=0.02)


def test_every_electrode_has_its_share_of_what_reaches_the_soil() -> None:
    late = {earth.name: earth.share[2] for earth in split().earths}
    assert late["ring"] == pytest.approx(0.5, rel=0.03)
    assert late["shed"] == pytest.approx(0.25, rel=0.03)
    assert late["house"] == pytest.approx(0.25, rel=0.03)


def test_the_second_solver_divides_it_alike() -> None:
    """A percent of what is injected, as everything both solvers compute."""
    front, tail = run_network(network())
    second = by_second_solver(
        network(), steps=(front.step, tail.step), stops=(front.stop, 2 * front.stop)
    )
    other = measure_split(network(), Record(*second))
    assert other is not None
    for mine, its in zip(split().ways, other.ways, strict=True):
        for moment in (0, 1):
            assert mine.share[moment] == pytest.approx(its.share[moment], abs=0.01)


def test_lines_in_two_halves_are_read_at_the_same_ends() -> None:
    circuit = halved(network())
    found = measure_split(circuit, Record(*run_network(circuit)))
    assert found is not None
    for whole, half in zip(split().ways, found.ways, strict=True):
        assert whole.share == pytest.approx(half.share, abs=0.01)


def test_by_hand_each_run_of_a_cable_counts() -> None:
    circuit = network(runs=2)
    found = measure_split(circuit, Record(*run_network(circuit)))
    assert found is not None
    by_hand = {way.name: way.hand_rule for way in found.ways}
    assert by_hand == pytest.approx(
        {"ring": 0.5, "bond": 0.25, "pipe": 0.125, "spare": 0.125, "other ways": None}
    )


def test_metal_that_a_cable_lies_in_takes_its_share() -> None:
    """At first it takes nearly all of what goes that way, and nothing leaves unseen."""
    bonds = ", ".join(
        f"{place}: {{from: {place} tray, to: {place} pe, length: 0.1 m, type: copper 50 mm2}}"
        for place in ("mast", "house")
    )
    circuit = network(laying="galvanised tray 200 mm 3 m high", bonds=f"{{{bonds}}}")
    found = measure_split(circuit, Record(*run_network(circuit)))
    assert found is not None
    wire, tray = ways(found)["pipe"].conductors
    assert (wire.name, tray.name) == ("pe", "tray")
    for its, of_wire in zip(tray.share, wire.share, strict=True):
        assert its is not None
        assert of_wire is not None
        assert its > of_wire
    first = ways(found)["pipe"].share[1], ways(found)["spare"].share[1], tray.share[1]
    pipe, spare, in_tray = (share or 0.0 for share in first)
    assert in_tray > 0.75 * (pipe + spare)
    assert ways(found)["other ways"].share == pytest.approx((0.0, 0.0, 0.0), abs=1e-3)


@pytest.mark.parametrize(
    "surge",
    [
        STRUCK.replace("10/350, peak: 5 kA", "1.2/50, peak: 6 kV, source impedance: 2 ohm"),
        "{shape: 8/20, peak: 1 kA, into: mast pe, returns: shed pe}",
        "{generator: combination wave 2 ohm, peak: 6 kV, into: mast pe, returns: remote earth}",
    ],
)
def test_what_is_no_stroke_has_no_split(surge: str) -> None:
    assert network(surge).struck is None
