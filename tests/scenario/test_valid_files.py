"""What each file in ``tests/scenarios/valid`` resolves to: together they are the language."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import SurgeShape, TextbookLimiter, TextbookLine, VaristorArrester
from surgesim.physics.waveforms import Step
from surgesim.scenario.file import Case, ScenarioFile, load
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


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_case_has_one_surge_and_only_the_cards_it_uses(path: Path) -> None:
    for case in load(path).all_cases:
        scenario = case.scenario
        assert list(scenario.surges) == [case.surge] == [scenario.surge_name]
        used = {cable.type for cable in scenario.cables.values()}
        used |= {bond.type for bond in scenario.bonds.values()}
        used |= {slot.card for slot in scenario.arresters.values()} | {scenario.surge.card}
        assert set(scenario.cards) == used


def test_what_the_smallest_file_leaves_out_is_assumed_and_said() -> None:
    scenario = only("smallest")
    assert scenario.asked_margin == 0.25
    assert scenario.arrester_tolerance == "declared"
    assert scenario.polarity == "positive"
    assert scenario.equipment["relay"].pairs["rail to pe"].flashover == 5000.0
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
    assert (run.laying.in_, run.laying.distance, run.laying.width) == ("plastic duct", 0.7, 0.075)
    bond = scenario.cables["bond"]
    assert (bond.laid_with, bond.laying, bond.count) == ("field run", None, 1)
    feed = scenario.cables["feed"]
    assert feed.carries == ("pe",)
    assert feed.laying is not None
    assert (feed.laying.in_, feed.laying.distance, feed.laying.width) == ("air", 0.5, None)
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
    assert "arresters wired as a tee [both poles, between poles]" in assumed
    words = "arrester leads 1 uH/m (common practice, no source) [both poles, between poles]"
    assert words in assumed


def test_equipment() -> None:
    scenario = only("equipment")
    pairs = scenario.equipment["inverter"].pairs
    assert list(pairs) == ["plus to pe", "minus to pe", "plus to minus"]
    first, second, third = pairs.values()
    assert (first.withstand, first.from_, first.where) == (6e3, "table", "IEC 62109-1 Table 16")
    assert (first.flashover, second.flashover, third.flashover) == (12e3, 9e3, None)
    assert (third.withstand, third.highest_voltage, third.from_) == (None, 1100.0, "guess")
    port = scenario.equipment["inverter AC port"]
    assert (port.pairs, port.not_assessed) == ({}, "no AC side described")


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
