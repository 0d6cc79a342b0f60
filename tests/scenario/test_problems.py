"""All problems of a file at once, each of them once."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from surgesim.errors import InputError
from surgesim.scenario.file import load, loads

ROOT = Path(__file__).resolve().parents[2]
DAIRY = ROOT / "scenarios" / "brackenmoss-dairy.yaml"
FACTORS = ROOT / "tests" / "scenarios" / "valid" / "factors.yaml"

Edit = Callable[[str], str]


def told(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        loads(text, name="f")
    return [str(problem).removeprefix("f:") for problem in caught.value.problems]


def edited(path: Path, *changes: tuple[str, str]) -> str:
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def paths(lines: list[str]) -> list[str]:
    return [line.split(" ", 1)[1].split(": ", 1)[0] for line in lines]


def test_a_fault_seen_in_every_case_is_told_once() -> None:
    lines = told(edited(DAIRY, ("length: 62 m\n", "length: 62\n")))
    assert len(lines) == 1
    assert "(with" not in lines[0]


def test_faults_of_every_sort_are_told_in_one_go() -> None:
    lines = told(
        edited(
            DAIRY,
            ("soil: 170 ohm m", "soil: 170"),
            ("to: barn wall\n", "to: barn wal\n"),
            ("type: pv pair 6 mm2", "type: pv pair 7 mm2"),
            ("measured: 38 ohm", "mesured: 38 ohm"),
            ("voltage: 874 V", "voltage: 874 A"),
            ("from: table, where", "from: tabel, where"),
            ("peak: 5 kA,", "peak: 5,"),
        )
    )
    assert paths(lines) == [
        "site.soil",
        "cables.field run.to",
        "cables.field run.type",
        "earths.array rods.mesured",
        "supply.strings.voltage",
        "equipment.inverter DC input.plus to pe.from",
        "surges.frame struck, first stroke share.peak",
    ]


def test_faults_between_the_parts_are_told_in_one_go() -> None:
    lines = told(
        edited(
            DAIRY,
            ("length: 27 m", "length: 17 m"),
            ("bar: pe, measured: 9 ohm", "bar: pee, measured: 9 ohm"),
            ("to: array pe, length", "to: array pu, length"),
            ("inverter:  {at: barn wall, across: each pole to pe", "inverter:  {at: barn wall, "
             "across: [plus to plus]"),
            ("into: array frame, returns: remote earth}\n  frame", "into: array frame, "
             "returns: array frame}\n  frame"),
        )
    )  # fmt: skip
    assert paths(lines) == [
        "cables.barn feed.length",
        "earths.barn foundation.bar",
        "bonds.frame bonding.to",
        "arresters.inverter.across",
        "surges.frame struck, first stroke share.returns",
    ]


def test_a_place_that_is_misspelt_everywhere_else_is_not_told_by_its_consequences() -> None:
    lines = told(edited(DAIRY, ("  barn wall:  {x", "  barn wal:  {x")))
    words = "no place 'barn wall'; several things name it; did you mean 'barn wal'?"
    assert lines == [f"26:5: cables.barn feed.from: {words}"]


def test_a_conductor_that_is_not_there_is_told_once() -> None:
    lines = told(
        edited(
            FACTORS,
            ("foundation: {at: room", "foundation: {at: array"),
            ("at: array, bar: pe, measured: 9", "at: array, bar: frame, measured: 9"),
        )
    )
    assert paths(lines) == ["equipment.inverter.plus to pe"]
    # inverter and box both want it; where the spare run is left, that brings it
    assert "'room' has no 'pe' (with spare: taken out); known: 'minus', 'plus'" in lines[0]


def test_a_problem_of_some_levels_names_them() -> None:
    lines = told(edited(FACTORS, ("rods: {measured: 70 ohm}", "rods: {measured: 70}")))
    (line,) = lines
    assert "(with rods: dry)" in line
    assert line.startswith("33:27: earths.rods.measured: '70' has no unit")


def test_a_problem_of_several_levels_together_names_them_all() -> None:
    text = edited(
        FACTORS,
        ("places: {array", "places: {shed: {}, array"),
        ("card: {class II", "shed: {none: {}, some: {equipment: {lamp: {at: shed, plus to minus: "
         "{withstand: 1 kV, from: guess, capacitance: 0 F}}}}}\n  card: {class II"),
    )  # fmt: skip
    (line,) = told(text)
    assert "'shed' has no 'plus', no 'minus' (with shed: some)" in line


def test_the_same_problem_of_different_levels_is_told_where_each_stands() -> None:
    lines = told(
        edited(
            FACTORS,
            ("rods: {measured: 30 ohm}", "rods: {measured: 30}"),
            ("rods: {measured: 70 ohm}", "rods: {measured: 70}"),
        )
    )
    assert [line.split(":")[0] for line in lines] == ["32", "33"]


def test_a_level_that_is_wrong_does_not_hide_a_fault_of_the_rest() -> None:
    lines = told(
        edited(
            FACTORS,
            ("rods: {measured: 70 ohm}", "rods: {measured: 70}"),
            ("returns: remote earth}\n  grazed", "returns: array pe}\n  grazed"),
        )
    )
    assert paths(lines) == ["surges.struck.returns", "earths.rods.measured"]


def test_many_problems_are_told_up_to_a_number() -> None:
    cables = "".join(f"  c{i}: {{from: array, to: nowhere {i}}}\n" for i in range(500))
    lines = told(edited(DAIRY, ("cables:\n", f"cables:\n{cables}")))
    assert len(lines) == 101
    assert lines[0] == " has more than 100 problems; the first 100 are shown"


def test_a_fault_in_a_file_of_many_wirings_costs_no_more_than_a_few() -> None:
    # 72 x 256 wirings; all of them would take minutes
    factors = "".join(f"  f{i}: {{a: {{}}, b: {{title: t{i}}}}}\n" for i in range(8))
    text = edited(FACTORS, ("worst of:\n", f"worst of:\n{factors}"), ("20 m", "20"))
    start = time.process_time()
    assert paths(told(text)) == ["cables.field run.length"]
    assert time.process_time() - start < 5.0


def test_of_many_wirings_each_level_is_tried() -> None:
    factors = "".join(f"  f{i}: {{a: {{}}, b: {{title: t{i}}}}}\n" for i in range(6))
    text = edited(FACTORS, ("worst of:\n", f"worst of:\n{factors}"), ("{title: t5}", "{titel: t5}"))
    (line,) = told(text)
    assert line.endswith("titel: unknown key; did you mean 'title'?")


def test_a_file_is_named_as_it_was_given(tmp_path: Path) -> None:
    path = tmp_path / "site.yaml"
    path.write_text("surgesim: 2\n")
    with pytest.raises(InputError) as caught:
        load(path)
    assert {problem.file for problem in caught.value.problems} == {str(path)}
    assert str(caught.value.problems[-1]).startswith(f"{path}:1:1: ")
