"""Peaks taken apart, and arresters failed one element at a time, on a case known by hand."""

from __future__ import annotations

import io
import json
from typing import Any

import jsonschema
import numpy as np
import pytest

from surgesim.build.arrester_elements import varistor_law
from surgesim.catalogue.cards import VaristorArrester
from surgesim.catalogue.library import built_in
from surgesim.findings.schema import schema
from surgesim.physics.waveforms import CubicExponential
from surgesim.scenario.file import ScenarioFile, loads
from surgesim.studies import breakdown as apart
from surgesim.studies.bench import same_aside
from surgesim.studies.breakdown import adds_up, breakdown, entries_of
from surgesim.studies.failed_arresters import failed_arresters, number_of_runs
from surgesim.studies.lead_cautions import in_the_way, lead_cautions
from surgesim.studies.study import study

CARD = "pv 1000 class II"
AMPS = 5e3

SITE = """
surgesim: 1
title: Bench
site: {soil: 100 ohm m}
places: {far: {}, bench: {}}
cables: {line: {from: far, to: bench, length: 30 m, type: line}}
earths:
  far earth:   {at: far,   bar: pe,   measured: 1 mohm, inductance: 0 H}
  termination: {at: far,   bar: plus, measured: 100 kohm, inductance: 0 H}
  bench earth: {at: bench, bar: pe,   measured: 1 mohm, inductance: 0 H}
equipment:
  device:
    at: bench
    plus to pe: {withstand: 12 kV, from: guess, capacitance: 0 F, flashover: 50 MV}
arresters:
  box: {at: bench, across: plus to pe, card: pv 1000 class II,
        leads: {line: 0.5 m, earth: 0.5 m to pe, inductance: 1 uH/m}}
surges:
  surge: {shape: 8/20, peak: 5 kA, channel: 1 Mohm, into: bench plus, returns: bench pe}
cards:
  line:
    kind: textbook line
    about: Lossless line
    cores: [plus]
    surge impedance: {value: 10 kohm, source: chosen}
    velocity: {value: 300 m/us, source: chosen}
"""


@pytest.fixture(scope="module")
def site() -> ScenarioFile:
    return loads(SITE)


@pytest.fixture(scope="module")
def findings(site: ScenarioFile) -> dict[str, Any]:
    return dict(study(site, workers=1))


@pytest.fixture(scope="module")
def taken_apart(site: ScenarioFile, findings: dict[str, Any]) -> dict[str, Any]:
    return breakdown(findings, site.cases(), workers=1)


def parts_of(told: dict[str, Any]) -> dict[str, float]:
    (terminal,) = told["terminals"]
    assert terminal["reason"] is None
    return {part["what"]: part["volts"] for part in terminal["parts"]}


def by_hand() -> tuple[float, float, float]:
    """Printed level, peak at the device's terminals, peak with a metre of lead at 1 uH/m.

    The law and the 8/20 of IEEE C62.41.2-2002 (from memory), v = law(i) + L di/dt.
    """
    card = built_in()[CARD]
    assert isinstance(card, VaristorArrester)
    wave = CubicExponential(peak=AMPS, scale=0.01243e18, time_constant=3.911e-6)
    time = np.linspace(0.0, 40e-6, 20001)
    amps = wave.value(time)
    rate = np.gradient(amps, time)
    device = varistor_law(card, "declared").voltage(amps) + card.inductance.value * rate
    return card.Up.value, float(np.max(device)), float(np.max(device + 1e-6 * rate))


def test_the_parts_are_those_of_the_closed_form(taken_apart: dict[str, Any]) -> None:
    level, device, whole = by_hand()
    parts = parts_of(taken_apart)
    assert parts[apart.UP] == level
    # 1 %: the line and the two resistances beside it take some ten amperes, and steps
    assert parts[apart.CURRENT] == pytest.approx(device - level, abs=0.01 * device)
    assert parts[apart.LEADS] == pytest.approx(whole - device, abs=0.01 * device)
    assert parts[apart.WAY] == pytest.approx(0.0, abs=1.0)
    assert taken_apart["terminals"][0]["peak_v"] == pytest.approx(whole, rel=0.01)
    # nothing stood on the wire, no loop is described
    assert list(parts) == [apart.UP, apart.CURRENT, apart.WAY, apart.LEADS]


def test_the_parts_add_up_to_the_peak_that_was_reported(
    taken_apart: dict[str, Any], findings: dict[str, Any]
) -> None:
    assert adds_up(taken_apart)
    (terminal,) = taken_apart["terminals"]
    # two solvers
    assert terminal["peak_v"] == pytest.approx(findings["summary"][0]["worst"]["peak_v"], rel=0.005)
    assert terminal["guard"] == "box, plus to pe"
    assert terminal["low_v"] < terminal["declared_v"] == pytest.approx(terminal["peak_v"])
    broken = json.loads(json.dumps(taken_apart))
    broken["terminals"][0]["parts"][1]["volts"] += 10.0
    assert not adds_up(broken)
    broken["terminals"][0]["verdict"] = "void"
    assert same_aside(taken_apart, taken_apart)
    assert not same_aside(taken_apart, broken)


def test_an_element_taken_off_and_an_element_punctured(
    site: ScenarioFile, findings: dict[str, Any]
) -> None:
    told = failed_arresters(findings, site.cases(), workers=1)
    (entry,) = told["alternatives"]
    assert number_of_runs(findings, site.cases()) == 3
    opened, shorted = entry["failed"]
    assert (opened["how"], shorted["how"]) == ("open", "shorted")
    # 5 kA into 10 kohm of line beside the channel: far beyond 12 kV
    assert opened["verdict"] == "exceeded"
    # 0.1 ohm and a metre of lead: the peak of R i + L di/dt
    wave = CubicExponential(peak=AMPS, scale=0.01243e18, time_constant=3.911e-6)
    time = np.linspace(0.0, 40e-6, 20001)
    amps = wave.value(time)
    volts = float(np.max(0.1 * amps + 1e-6 * np.gradient(amps, time)))
    assert shorted["peak_v"] == pytest.approx(volts, rel=0.01)
    assert entry["sound"]["verdict"] == "holds"


def test_both_obey_the_schema(
    site: ScenarioFile, findings: dict[str, Any], taken_apart: dict[str, Any]
) -> None:
    told = failed_arresters(findings, site.cases(), workers=1)
    whole = {**findings, "breakdown": taken_apart, "failed_arresters": told}
    jsonschema.Draft202012Validator(schema()).validate(json.loads(json.dumps(whole)))
    assert entries_of(taken_apart, findings) == findings["summary"]


def test_tables_and_chart(findings: dict[str, Any], taken_apart: dict[str, Any]) -> None:
    from rich.console import Console

    from surgesim.report import breakdown as table
    from surgesim.report.figures import breakdown_chart
    from surgesim.report.view import View

    whole = {**findings, "breakdown": taken_apart}
    console = Console(width=80, record=True, file=io.StringIO())
    for block in table.table(View(whole)):
        console.print(block)
    text = console.export_text()
    assert "printed Up" in text
    assert "leads of the arrester" in text
    assert "add up to the peak" in text
    (figure,) = breakdown_chart(whole)
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels[0] == "printed on the arrester (Up)"
    assert labels[-1] == "= peak at device"


@pytest.mark.parametrize(
    ("wiring", "length"),
    [
        ("", 1.0),
        ("wiring: V, ", 0.5),
        ("earth wiring: V, ", 0.5),
        ("wiring: V, earth wiring: V, ", 0.0),
    ],
)
def test_leads_longer_than_half_a_metre_are_told(wiring: str, length: float) -> None:
    """0.5 m in all, IEC 60364-5-53 cl. 534 (from memory); what is wired as a V does not count."""
    (case,) = loads(SITE.replace("across: plus to pe, ", f"across: plus to pe, {wiring}")).all_cases
    told = list(lead_cautions(case.scenario))
    assert in_the_way(case.scenario.arresters["box"]) == length
    assert len(told) == (length > 0.5)
    assert all("1 m of leads" in words for words in told)
