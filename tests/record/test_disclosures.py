"""The disclosures hold what the circuit is made of, and print it plainly."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import pytest

from surgesim import load, loads
from surgesim.build import build
from surgesim.report.disclosures import as_text
from surgesim.studies.disclosures import NOT_MODELLED, SECTIONS, disclosures
from surgesim.studies.disclosures_circuit import lines
from surgesim.studies.record_reading import RecordReader
from tests.record.records import SMALL, Made, manifest_of

Disclosed = dict[str, Any]


@pytest.fixture
def disclosed(small: Made) -> Disclosed:
    found: Disclosed = manifest_of(small.parts)["disclosures"]
    return found


def test_lines_are_those_of_the_network(disclosed: Disclosed) -> None:
    (line,) = build(load(SMALL).all_cases[0].scenario).lines
    (shown,) = disclosed["lines"]
    assert shown["cables"] == ["run", "earth wire"]
    assert shown["cases"] == 3
    for mode, impedance in zip(shown["modes"], line.impedance, strict=True):
        assert mode["impedance_ohm"] == pytest.approx(impedance, rel=1e-5)
    constants = shown["constants"]
    assert constants["conductors"] == ["run plus", "run minus", "earth wire pe"]
    assert len(constants["inductance_h_per_m"]) == len(constants["capacitance_f_per_m"]) == 3


def test_a_wire_over_soil_has_the_capacitance_of_its_image() -> None:
    """2 pi eps0 / (ln(2h/r_out) + ln(r_out/r)/eps_r) for one wire alone, closed form."""
    text = SMALL.read_text().replace("laid with: run", "laying: in air 0.5 m high")
    shown = list(lines(loads(text).all_cases[0].scenario))[1]
    radius, outer, permittivity = math.sqrt(16e-6 / math.pi), 3.5e-3, 2.5
    layers = math.log(2 * 0.5 / outer) + math.log(outer / radius) / permittivity
    expected = 2 * math.pi * 8.8541878e-12 / layers
    assert shown["constants"]["capacitance_f_per_m"] == [[pytest.approx(expected, rel=1e-5)]]


def test_the_arrester_s_law_passes_its_declared_level(disclosed: Disclosed) -> None:
    """At In the declared element shows Up, 4 kV at 20 kA on its card."""
    (arrester,) = disclosed["arresters"]
    law = arrester["law"]
    grains = law["reference_voltage"] * (20e3 / law["reference_current"]) ** (1 / law["exponent"])
    level = law["scale"] * (grains + law["upturn"])
    assert level == pytest.approx(4000.0, rel=1e-3)  # the leak and the rounding of the upturn
    assert [entry["level"] for entry in disclosed["arrester_tolerances"]] == ["low", "declared"]


def test_surge_earth_supply_and_limits_with_where_they_are_from(disclosed: Disclosed) -> None:
    (surge,), (earth,), (supply,) = (disclosed[key] for key in ("surges", "earths", "supplies"))
    assert surge["formula"].startswith("cubic")
    # 8/20, IEC 60060-1:2010: T1 8 us +- 20 %, T2 20 us +- 20 %, from memory
    assert surge["t1_s"] == pytest.approx(8e-6, rel=0.2)
    assert surge["t2_s"] == pytest.approx(20e-6, rel=0.2)
    assert (surge["impedance_ohm"], earth["resistance_ohm"]) == (400.0, 20.0)
    assert earth["obtained"] == "measured, May"
    assert supply["reference"] == "each pole 1 Mohm to pe"
    origins = {entry["pair"]: entry["origin"] for entry in disclosed["terminals"]}
    assert origins == {"plus to pe": "table", "minus to pe": "guess"}
    assert {entry["capacitance_f"] for entry in disclosed["terminals"]} == {20e-9}


def test_guesses_are_counted_and_ranked(disclosed: Disclosed) -> None:
    guesses = disclosed["guesses"]
    kinds = [item["kind"] for item in guesses["list"]]
    assert guesses["count"] == kinds.count("guess") > 2
    assert guesses["without_source"] == kinds.count("no source")
    assert guesses["from_memory"] == kinds.count("from memory")
    assert guesses["ranking"].startswith("ranked by")
    what = [item["what"] for item in guesses["list"] if item["kind"] == "guess"]
    assert "withstand of inverter, minus to pe" in what
    assert not any("plus to pe" in words for words in what)
    ranked = guesses["influence"]
    assert len(ranked["varied"]) > 10
    text = " ".join(as_text(disclosed).split())
    assert "GUESSES, BY HOW MUCH THE DECIDING MARGIN MOVES" in text
    assert f"rests on case {ranked['case']}" in text


def test_guesses_that_were_not_varied_are_said_not_to_be_ranked(small: Made) -> None:
    with RecordReader(small.path) as record:
        scenarios = [recorded.case.scenario for recorded in record.cases]
        findings = {**record.findings, "influence": None}
        guesses = disclosures(scenarios, [], findings)["guesses"]
    assert "not ranked" in guesses["ranking"]
    assert guesses["influence"] is None


def test_every_number_of_every_card_has_its_source(disclosed: Disclosed) -> None:
    names = {card["name"] for card in disclosed["cards"]}
    assert names == {"pv pair 6 mm2", "copper 16 mm2", "pv 1000 class II", "8/20"}
    for card in disclosed["cards"]:
        for number in card["numbers"]:
            words = ("cores", "test class", "measured as", "formula")
            assert number["source"] or number["field"] in words


def test_engine_and_errors(disclosed: Disclosed) -> None:
    engine = disclosed["engine"]
    assert engine["name"] == "ngspice"
    assert engine["windows"].keys() == {"front", "tail"}
    assert all(sum(w["options"].values()) == 3 for w in engine["windows"].values())
    closures = disclosed["errors"]["energy_closure"]
    assert all(0.0 <= closures[w]["share"] < 0.005 for w in ("front", "tail"))
    assert disclosed["not_modelled"] == list(NOT_MODELLED)


def test_entries_say_in_how_many_cases_they_stand(disclosed: Disclosed) -> None:
    assert [entry["cases"] for entry in disclosed["arresters"]] == [2]
    assert [entry["cases"] for entry in disclosed["arrester_tolerances"]] == [1, 1]
    assert {entry["cases"] for entry in disclosed["terminals"]} == {3}


def test_they_do_not_depend_on_the_order_of_the_runs(small: Made) -> None:
    """Runs come as they finish."""
    with RecordReader(small.path) as record:
        scenarios = [recorded.case.scenario for recorded in record.cases]
        runs = [inputs for recorded in record.cases for inputs in recorded.inputs]
        one = disclosures(scenarios, runs, record.findings)
        other = disclosures(scenarios, reversed(runs), record.findings)
    assert json.dumps(one) == json.dumps(other)


def test_text_has_every_section_and_fits_eighty_columns(disclosed: Disclosed) -> None:
    text = as_text(disclosed)
    rows = text.splitlines()
    assert max(map(len, rows)) <= 80
    for title in (
        "SURGES", "ARRESTERS", "TOLERANCE OF THE ARRESTERS", "CABLES", "EARTHS", "SUPPLY",
        "TERMINALS", "NOT ASSESSED", "CARDS", "ASSUMPTIONS", "GUESSES", "NOT MODELLED", "ENGINE",
        "ERRORS", "CAUTIONS",
    ):  # fmt: skip
        assert any(row.startswith(title) for row in rows), title
    for word in ("safe", "protected", "compliant", "guaranteed"):
        assert word not in text.lower().replace("safety", "")


def test_text_of_a_study_without_results(disclosed: Disclosed) -> None:
    bare = copy.deepcopy(disclosed)
    for key in SECTIONS:
        bare[key] = []
    bare["engine"].update(windows={}, lumped_on_the_tail={})
    bare["errors"]["energy_closure"] = {}
    assert "GUESSES" in as_text(bare)
