"""What each file in ``tests/scenarios/valid`` resolves to: together they are the language."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import SurgeShape, TextbookLimiter, TextbookLine, VaristorArrester
from surgesim.physics.waveforms import Step
from surgesim.scenario.equipment import Flashover
from surgesim.scenario.file import Case, ScenarioFile, load, loads
from surgesim.scenario.schema import Scenario
from surgesim.scenario.terminals import Terminal, Terminals

FOLDER = Path(__file__).resolve().parents[1] / "scenarios" / "valid"
FILES = sorted(FOLDER.glob("*.yaml"))


def read(name: str) -> ScenarioFile:
    return load(FOLDER / f"{name}.yaml")


def only(name: str) -> Scenario:
    """The scenario of a file that stands for one case."""
    (case,) = read(name).all_cases
    return case.scenario


def fires(level: str, *, spread: float = 0.0) -> Flashover:
    """Insulation that fires at ``level``."""
    return Flashover.model_validate({"level": level, "spread": spread})


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_case_has_one_surge_and_only_the_cards_it_uses(path: Path) -> None:
    for case in load(path).all_cases:
        scenario = case.scenario
        assert list(scenario.surges) == [case.surge] == [scenario.surge_name]
        used: set[str | None] = {cable.type for cable in scenario.cables.values()}
        used |= {bond.type for bond in scenario.bonds.values()}
        used |= {way.card for cable in scenario.cables.values() for way in cable.laying or ()}
        used -= {None}
        used |= {slot.card for slot in scenario.arresters.values()} | {scenario.surge.card}
        assert set(scenario.cards) == used


def test_what_the_smallest_file_leaves_out_is_assumed_and_said() -> None:
    scenario = only("smallest")
    assert scenario.asked_margin == 0.25
    assert scenario.arrester_tolerance == "declared"
    assert scenario.polarity == "positive"
    assert scenario.equipment["relay"].pairs["rail to pe"].flashover == fires("5 kV")
    assert scenario.assumed == (
        "asked margin 25 %: peak at most 0.8 of withstand (IEC 60364-5-53 cl. 534, from memory)",
        "arresters at their declared level, the highest the card allows",
        "surges of positive polarity",
        "insulation flashes over at twice its withstand where no level is given (a guess) [relay]",
    )


def test_cables() -> None:
    scenario = only("cables")
    run = scenario.cables["field run"]
    assert (run.from_, run.to, run.length, run.count) == ("array", "barn", 62.0, 4)
    assert run.laying is not None
    (way,) = run.laying
    assert (way.in_, way.distance, way.width) == ("plastic duct", 0.7, 0.075)
    bond = scenario.cables["bond"]
    assert (bond.laid_with, bond.laying, bond.count) == ("field run", None, 1)
    feed = scenario.cables["feed"]
    assert feed.carries == ("pe",)
    assert feed.laying is not None
    (way,) = feed.laying
    assert (way.in_, way.distance, way.width) == ("air", 0.5, None)
    assert scenario.site.flash_density == 1.3
    assert scenario.site.lowest_air_temperature == pytest.approx(259.15, abs=1e-9)  # K


def test_a_duct_without_a_width_is_assumed_to_have_one() -> None:
    scenario = only("cables")
    assert scenario.written()["cables"]["spare"]["laying"] == "plastic duct 5 cm wide 60 cm deep"
    words = "duct 50 mm wide inside (common practice, no source) [spare]"
    assert words in scenario.assumed


def test_terminals_are_what_is_brought_to_a_place() -> None:
    terminals = Terminals.of(only("cables"))
    assert terminals.complete
    names: dict[str, set[str]] = {place: set() for place in ("array", "barn", "board")}
    for terminal in terminals.present:
        names[terminal.place].add(terminal.name)
    # the AC cores of the feed are not carried, so nothing brings them to the board
    assert names == {"array": {"plus", "minus", "pe"}, "barn": {"plus", "minus", "pe"},
                     "board": {"pe"}}  # fmt: skip


def test_earths() -> None:
    scenario = only("earths")
    ring, rod = scenario.earths["ring earth"], scenario.earths["rod"]
    assert (ring.bar, ring.measured, ring.measured_on, ring.rod) == ("ring", 6.0, "12 March", None)
    assert rod.measured is None
    assert rod.rod is not None
    assert (rod.rod.length, rod.rod.diameter) == (2.4, 0.016)
    supply = scenario.supply["strings"]
    assert (supply.state, supply.resistance) == ("dark", 0.2)
    reference = supply.reference
    assert (reference.earthed_pole, reference.through, reference.each_pole) == ("plus", 1.0, None)
    assert not any("array" in words for words in scenario.assumed)


def test_electrodes_by_their_shape() -> None:
    earths = only("electrodes").earths
    rods = earths["rods"]
    assert rods.rod is not None
    assert (rods.measured, rods.seasonal_factor) == (38.0, 1.5)
    assert (rods.rod.count, rods.rod.spacing, rods.shape) == (2, 5.0, rods.rod)
    assert earths["row"].rod is not None
    assert (earths["row"].rod.count, earths["row"].rod.spacing) == (1, None)
    assert earths["tape"].strip is not None
    assert earths["tape"].strip.radius == pytest.approx(0.0075)  # a quarter of 30 mm
    assert earths["star"].radials is not None
    assert (earths["star"].radials.count, earths["star"].radials.radius) == (3, 0.005)
    assert earths["table"].posts is not None
    assert earths["table"].posts.radius == pytest.approx(0.4 / 6.2832, rel=1e-4)
    assert (earths["loop"].soil, earths["lake"].water) == (2500.0, 38.0)


def test_bonds() -> None:
    sound, corroded = (case.scenario.bonds for case in read("bonds").all_cases)
    assert (sound["strap"].joint, corroded["strap"].joint) == (None, 2.2)
    tape = sound["tape"]
    assert (tape.length, tape.bare_in_soil, tape.width) == (62.0, 0.6, 0.016)


def test_inductance_from_the_shape() -> None:
    scenario = only("electrodes")
    earths = scenario.earths
    assert [name for name, earth in earths.items() if earth.lumped is None] == [
        "row", "tape", "loop", "star", "table",
    ]  # fmt: skip
    assert earths["lake"].lumped == 3.5e-6
    assert earths["tape"].strip is not None
    assert earths["tape"].strip.joined == "end"
    (words,) = (w for w in scenario.assumed if w.startswith("inductance along electrodes"))
    assert words.endswith("[row, tape, loop, table]")  # the star says so itself
    assert "strips in the soil joined at their end [tape]" in scenario.assumed


def test_two_bars_at_one_place_are_two_terminals() -> None:
    terminals = Terminals.of(only("earths"))
    assert {Terminal("mast", "ring"), Terminal("mast", "pe")} <= terminals.present


def test_arresters() -> None:
    slots = only("arresters").arresters
    tee = slots["both poles"]
    assert tee.across == ("plus to pe", "minus to pe")
    assert (tee.wiring, tee.leads.line, tee.leads.inductance) == ("tee", 0.3, 1e-6)
    assert tee.leads.earth is not None
    assert (tee.leads.earth.length, tee.leads.earth.to) == (0.5, "pe")
    through = slots["run through"]
    assert through.across == ("plus to rack bar", "minus to rack bar", "plus to minus")
    assert (through.wiring, through.leads.line, through.leads.inductance) == ("V", 0.0, 8e-7)
    assert through.leads.earth is not None
    assert (through.leads.earth.length, through.leads.earth.to) == (0.0, "rack bar")
    between = slots["between poles"]
    assert (between.across, between.leads.earth) == (("plus to minus",), None)


def test_only_what_was_left_out_is_assumed() -> None:
    assumed = only("arresters").assumed
    assert "arresters wired as a tee [both poles, by section, between poles]" in assumed
    words = "arrester leads 1 uH/m (common practice, no source) [both poles, between poles]"
    assert words in assumed


def test_equipment() -> None:
    scenario = only("equipment")
    pairs = scenario.equipment["inverter"].pairs
    assert list(pairs) == ["plus to pe", "minus to pe", "plus to minus"]
    first, second, third = pairs.values()
    assert (first.withstand, first.from_, first.where) == (6e3, "table", "IEC 62109-1 Table 16")
    assert (first.flashover, second.flashover, third.flashover) == (
        fires("12 kV"), fires("9 kV"), None,
    )  # fmt: skip
    assert (third.withstand, third.highest_voltage, third.from_) == (None, 1100.0, "guess")
    port = scenario.equipment["inverter AC port"]
    assert (port.pairs, port.not_assessed) == ({}, "no AC side described")


def test_an_array_by_its_modules_in_the_cold() -> None:
    """20 modules of 49.5 V, -0.27 %/K, -10 degC: 1083.6 V (IEC 62548:2016, from memory)."""
    scenario = read("supply").all_cases[0].scenario
    supply = scenario.supply["strings"]
    assert supply.voltage == pytest.approx(1083.6, abs=0.06)
    assert supply.Isc_at_STC == 20.0
    words = "cells as cold as the lowest air temperature, their voltage by its coefficient"
    assert any(text.startswith(words) for text in scenario.assumed)


def test_without_a_coefficient_the_table_counts() -> None:
    text = (FOLDER / "supply.yaml").read_text()
    text = text.replace("      Voc coefficient: -0.27 % per K\n", "")
    scenario = loads(text).all_cases[0].scenario
    assert scenario.supply["strings"].voltage == pytest.approx(1.14 * 990.0, abs=0.06)
    words = "cells as cold as the lowest air temperature, their voltage by the factors"
    assert any(text.startswith(words) for text in scenario.assumed)


def test_capacitance_of_modules_dry_and_wet() -> None:
    totals = {
        case.axes["surface"]: case.scenario.supply["strings"].to_frame
        for case in read("supply").all_cases
    }
    assert totals == {"dry": pytest.approx(40e-9), "wet": pytest.approx(480e-9)}


def test_capacitance_of_modules_is_assumed_by_their_power() -> None:
    """100 nF per kW, the power 0.8 of 49.5 V times 10 A, 40 modules: 1.58 uF."""
    text = (FOLDER / "supply.yaml").read_text()
    text = text.replace("      capacitance to frame: {dry: 1 nF, wet: 12 nF}\n", "")
    wet = loads(text).all_cases[-1].scenario
    assert wet.supply["strings"].to_frame == pytest.approx(100e-12 * 40 * 396.0)
    assert any(words.startswith("modules 100 nF per kW") for words in wet.assumed)
    assert any(words.startswith("a module's power 0.8 of its Voc") for words in wet.assumed)


def test_insulation_at_the_ends_of_its_spread() -> None:
    cases = read("supply").all_cases
    assert {case.axes["insulation level"] for case in cases} == {"low", "high"}
    flashover = cases[0].scenario.equipment["controller"].pairs["plus to pe"].flashover
    assert flashover == fires("9 kV", spread=0.125)
    levels = [flashover.at(level) for level in ("low", "nominal", "high")]
    assert levels == [7875.0, 9000.0, 10125.0]


def test_without_a_spread_the_level_of_insulation_makes_no_difference() -> None:
    text = (FOLDER / "smallest.yaml").read_text()
    file = loads(text + "\nworst of: {insulation level: [low, nominal, high]}\n")
    (case,) = file.all_cases
    assert case.axes == {"insulation level": None}
    assert case.scenario.insulation_level is None


def test_a_spread_without_a_chosen_level_is_taken_in_its_middle_and_said() -> None:
    text = (FOLDER / "supply.yaml").read_text()
    text = text.replace("  insulation level: [low, high]\n", "")
    scenario = loads(text).all_cases[0].scenario
    assert scenario.insulation_level == "nominal"
    assert "insulation fires at its nominal level, the middle of its spread" in scenario.assumed


def test_a_battery_and_what_a_converter_joins() -> None:
    scenario = read("supply").all_cases[0].scenario
    bank = scenario.batteries["bank"]
    assert (bank.voltage, bank.resistance, bank.inductance) == (52.0, 0.02, 1e-6)
    assert bank.reference.poles == {"plus": 1e-3}
    join = scenario.equipment["controller"].joins["minus to battery minus"]
    assert (join.resistance, join.inductance) == (5e-3, 1e-7)
    present = Terminals.of(scenario).present
    assert {Terminal("hut", "battery plus"), Terminal("hut", "battery minus")} <= present


def test_the_resistance_of_an_array_is_assumed_from_its_nameplate() -> None:
    # 4 % of 874 V / 55.6 A, to three digits
    assert only("equipment").supply["strings"].resistance == 0.629


def test_surges() -> None:
    cases = read("surges").all_cases
    assert [case.surge for case in cases] == ["struck", "along the pole", "tested", "generated"]
    struck, along, tested, generated = (case.scenario.surge for case in cases)
    assert (struck.peak.value, struck.peak.unit) == (12e3, "A")
    assert (struck.into, struck.returns, struck.channel) == ("room pe", "remote earth", None)
    assert (along.peak.value, along.channel) == (300.0, 1000.0)
    assert (tested.peak.value, tested.peak.unit, tested.source_impedance) == (6e3, "V", 2.0)
    assert (generated.shape, generated.card) == (None, "combination wave 12 ohm")
    assert {case.scenario.polarity for case in cases} == {"negative"}
    assert {case.scenario.asked_margin for case in cases} == {0.4}


def test_cards_of_ones_own() -> None:
    cards = only("cards").cards
    assert isinstance(line := cards["textbook line 400 ohm"], TextbookLine)
    assert (line.surge_impedance.value, line.velocity.value) == (400.0, 3e8)
    assert isinstance(cable := cards["own cable"], CableCard)
    assert (cable.cores, cable.permittivity.value) == (("pe",), 2.5)
    assert cable.section.value == pytest.approx(16e-6, rel=1e-15)
    assert isinstance(limiter := cards["ideal limiter"], TextbookLimiter)
    assert (limiter.voltage.value, limiter.voltage.source) == (4e5, "the example")
    assert isinstance(arrester := cards["own arrester"], VaristorArrester)
    assert (arrester.test_class, arrester.Imax) == ("I", None)
    assert isinstance(shape := cards["own step"], SurgeShape)
    assert shape.waveform(1.2e6) == Step(peak=1.2e6, rise=1e-9)


def test_names_are_the_users_own() -> None:
    scenario = only("names")
    assert scenario.title == "Brånn & søn: 'the barn' #2, {phase} 100 %"
    assert list(scenario.places) == ["Gehäuse (außen)", "納屋", "null"]
    assert list(scenario.cables) == ["$a; rm -rf *", "*control"]
    assert list(scenario.surges) == ["1e3"]
    assert scenario.surge.into == "Gehäuse (außen) PE-Schiene #2"


def test_spellings() -> None:
    scenario = only("spellings")
    assert scenario.title == 'Written with line ends and "spaces"'
    assert scenario.site.soil == 100.0
    assert scenario.site.lowest_air_temperature == pytest.approx(259.15, abs=1e-9)  # K
    assert (scenario.places["room"].x, scenario.places["room"].y) == (15.0, -500.0)
    assert scenario.earths["rod"].measured == 9.0
    assert scenario.earths["rod"].inductance == 3e-6
    pair = scenario.equipment["relay"].pairs["frame to pe"]
    assert (pair.withstand, pair.capacitance) == (2500.0, 2.2e-8)


def test_line_ends_of_another_system_change_nothing(tmp_path: Path) -> None:
    for path in FILES:
        other = tmp_path / path.name
        other.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
        assert scenarios(load(other)) == scenarios(load(path))


def scenarios(file: ScenarioFile) -> list[tuple[Case, Scenario]]:
    return [(case, case.scenario) for case in file.all_cases]


def test_metal() -> None:
    scenario = only("metal")
    strings = scenario.cables["strings"]
    duct, trunking = strings.laying or ()
    assert (duct.in_, duct.length, duct.width) == ("plastic duct", 28.0, 0.05)
    assert (trunking.in_, trunking.length, trunking.card) == (
        "metal",
        30.0,
        "metal trunking 100 mm",
    )
    assert strings.metal_bonded is not None
    assert (strings.metal_bonded.every, strings.metal_bonded.to) == (3.0, "bond")
    spacing = scenario.cables["beside"].spacing
    assert spacing is not None
    assert (spacing.across, spacing.up) == (0.4, 0.0)
    assert {"metal trunking 100 mm", "screened data pair 0.5 mm2"} <= set(scenario.cards)
