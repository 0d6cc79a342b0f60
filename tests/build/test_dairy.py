"""The demo installation does what two earths 89 m apart must do, whatever its exact numbers."""

from __future__ import annotations

import pytest

from surgesim.findings.case import CaseFindings
from surgesim.reading.data import data_folder
from surgesim.scenario.file import ScenarioFile, load
from surgesim.studies.run import measure, run

RODS, STROKE = 38.0, 5e3  # ohm and A of the first stroke's share
RISE = RODS * STROKE

NEVER_FIRES = {
    f"equipment.{thing}.{pole} to {to}.flashover": "10 MV"
    for thing, to in (("inverter DC input", "pe"), ("modules", "frame"))
    for pole in ("plus", "minus")
}
AS_MEASURED = {"worst of.array earth.wet.earths.array rods.measured": f"{RODS:g} ohm"}

Findings = dict[tuple[str, str], CaseFindings]


@pytest.fixture(scope="module")
def dairy() -> ScenarioFile:
    """Rods as measured, and insulation that never fires: voltages as the earths make them."""
    path = data_folder("scenarios") / "brackenmoss-dairy.yaml"
    return load(path, settings=NEVER_FIRES | AS_MEASURED)


@pytest.fixture(scope="module")
def found(dairy: ScenarioFile) -> Findings:
    """By what is fitted and the bond: the first stroke, class II, at the declared level."""
    wanted = {"array earth": ["wet"], "arrester tolerance": ["declared"], "card": ["class II"]}
    surge = "frame struck, first stroke share"
    cases = [case for case in dairy.cases(chosen=wanted) if case.surge == surge]
    keys = [(str(case.axes["fitted"]), str(case.axes["bond"])) for case in cases]
    assert len(set(keys)) == len(keys) == 8
    return {
        (str(result.case.axes["fitted"]), str(result.case.axes["bond"])): measure(result)
        for result in run(cases)
    }


def peaks(findings: CaseFindings, equipment: str) -> dict[str, float]:
    volts = {t.pair: t.peak_v for t in findings.terminals if t.equipment == equipment}
    assert None not in volts.values()
    return {pair: abs(volt) for pair, volt in volts.items() if volt is not None}


def largest_charge(findings: CaseFindings) -> float:
    return max(arrester.charge_c for arrester in findings.arresters)


@pytest.mark.parametrize("fitted", ["none", "array only"])
def test_the_rise_of_the_rods_arrives_at_the_inverter(found: Findings, fitted: str) -> None:
    """R I = 190 kV between the poles, which follow the array's frame, and the barn's earth.

    15 %: the modules' capacitance divides the rise where no arrester ties the poles to the
    frame, and the inverter's swings with the cable's inductance on a front of 10 us.
    """
    volts = peaks(found[fitted, "none"], "inverter DC input")
    assert volts["plus to pe"] == pytest.approx(RISE, rel=0.15)
    assert volts["minus to pe"] == pytest.approx(RISE, rel=0.15)


def test_an_arrester_at_the_array_alone_hands_the_rise_down(found: Findings) -> None:
    """It saves the modules, and the inverter sees more than with nothing fitted."""
    nothing, array = found["none", "none"], found["array only", "none"]
    assert peaks(array, "modules")["plus to frame"] < 4e3
    at_inverter = peaks(array, "inverter DC input")["plus to pe"]
    assert at_inverter > peaks(nothing, "inverter DC input")["plus to pe"]


def test_an_arrester_at_the_barn_alone_leaves_the_modules_the_rise(found: Findings) -> None:
    barn = found["barn only", "none"]
    assert peaks(barn, "inverter DC input")["plus to pe"] < 4e3
    assert peaks(barn, "modules")["plus to frame"] == pytest.approx(RISE, rel=0.15)


def test_the_poles_stand_half_the_voltage_from_earth(found: Findings) -> None:
    """874 V held by 2 Mohm from each pole. 0.1 %: what sound insulation and varistors leak."""
    for findings in found.values():
        standing = {(t.equipment, t.pair): t.bias_v for t in findings.terminals}
        assert standing["modules", "plus to frame"] == pytest.approx(437.0, rel=1e-3)
        assert standing["modules", "minus to frame"] == pytest.approx(-437.0, rel=1e-3)
        assert standing["inverter DC input", "plus to minus"] == pytest.approx(874.0, rel=1e-3)


def test_the_bond_takes_the_charge_off_the_arresters(found: Findings) -> None:
    """By far more than ten times: what equalises the earths no longer flows through the poles."""
    without, bonded = found["both", "none"], found["both", "in the duct"]
    assert largest_charge(bonded) < 0.05 * largest_charge(without)


def test_the_charge_without_a_bond_is_what_the_earths_share(found: Findings) -> None:
    """Two resistances in parallel: the stroke's charge that goes to the barn, over two poles.

    10/350 of 5 kA holds 2.5 C (Iimp/2 s 1e-3, IEC 62305-1, from memory); of it 38/(38 + 9)
    flows to the barn's earth. 15 %: varistors take voltage of it, the tail is cut at seven T2.
    """
    findings = found["both", "none"]
    through = sum(a.charge_c for a in findings.arresters if a.name == "inverter")
    assert through == pytest.approx(2.5 * RODS / (RODS + 9.0), rel=0.15)
