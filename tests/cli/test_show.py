"""``show``: the resolved form, which is a scenario file again."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from surgesim.scenario.file import load, loads
from surgesim.scenario.written import written

Invoke = Callable[..., Result]


@pytest.mark.parametrize("number", [0, 1])
def test_what_is_shown_reads_back_equal(number: int, shed: Path, invoke: Invoke) -> None:
    case = load(shed).all_cases[number]
    (again,) = loads(invoke("show", shed, "--case", case.id).stdout).all_cases
    assert again.scenario == case.scenario


def test_every_case_of_the_demo_reads_back_equal(dairy: Path, invoke: Invoke) -> None:
    cases = load(dairy).all_cases
    for case in cases:
        (again,) = loads(written(case.scenario)).all_cases
        assert again.scenario == case.scenario
    assert invoke("show", dairy, "--case", cases[-1].id).stdout == written(cases[-1].scenario)


def test_cards_and_assumptions_are_filled_in(shed: Path, invoke: Invoke) -> None:
    shown = invoke("show", shed, "--case", "c0002").stdout
    assert "pv 1000 class II:" in shown
    assert "wiring: tee" in shown


def test_what_earths_work_out_to_stands_below(invoke: Invoke) -> None:
    file = Path(__file__).resolve().parents[1] / "scenarios" / "valid" / "electrodes.yaml"
    shown = invoke("show", file).stdout
    assert shown.endswith("plates 6 m apart of 1 m by 1 m, upright, 80 cm deep; Dwight 1936,"
                          " in water of 38 ohm m\n")  # fmt: skip
    (again,) = loads(shown).all_cases
    assert again.scenario == load(file).all_cases[0].scenario


def test_as_json(shed: Path, invoke: Invoke) -> None:
    shown = json.loads(invoke("show", shed, "--case", "c0001", "--json").stdout)
    assert loads(json.dumps(shown)).all_cases[0].scenario == load(shed).case("c0001").scenario


def test_list(shed: Path, invoke: Invoke) -> None:
    assert invoke("show", shed, "--list").stdout == (
        "c0001  fitted none; induced\nc0002  fitted box; induced\n"
    )
    assert json.loads(invoke("show", shed, "--list", "--json").stdout)[1] == {
        "id": "c0002", "axes": {"fitted": "box"}, "surge": "induced",
    }  # fmt: skip


def test_a_set_value_is_shown(shed: Path, invoke: Invoke) -> None:
    word = "cables.string.length=80 m"
    assert "length: 80 m" in invoke("show", shed, "--case", "c0001", "--set", word).stdout
