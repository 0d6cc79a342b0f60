"""``deck``: what it prints gives the same peaks when ngspice is run by hand."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from surgesim.engine.version import VARIABLE
from surgesim.scenario.file import load
from surgesim.studies.run import measure, run

Invoke = Callable[..., Result]

MEASURED = re.compile(r"^t(\d+)_\w*_(highest|lowest)\s*=\s*(\S+)", re.MULTILINE)


def by_hand(deck: str, folder: Path) -> dict[int, tuple[float, float]]:
    """Highest and lowest voltage of each terminal pair, in order, as ngspice prints them."""
    file = folder / "a.cir"
    file.write_text(deck, encoding="ascii")
    answer = subprocess.run(
        ["ngspice", "-b", file], cwd=folder, capture_output=True, text=True, check=True
    )
    found: dict[int, dict[str, float]] = {}
    for number, which, volts in MEASURED.findall(answer.stdout):
        found.setdefault(int(number), {})[which] = float(volts)
    return {number: (pair["highest"], pair["lowest"]) for number, pair in found.items()}


@pytest.mark.parametrize("case_id", ["c0001", "c0002"])
def test_run_by_hand_it_prints_the_same_peaks(
    case_id: str, shed: Path, tmp_path: Path, invoke: Invoke
) -> None:
    assert_same_peaks(invoke, shed, case_id, tmp_path)


@pytest.mark.parametrize("case_id", ["c0009", "c0066", "c0152"])
def test_the_demos_decks_print_the_same_peaks(
    case_id: str, dairy: Path, tmp_path: Path, invoke: Invoke
) -> None:
    """One that fires at the inverter, one that fires at the modules, one that holds."""
    assert_same_peaks(invoke, dairy, case_id, tmp_path)


def assert_same_peaks(invoke: Invoke, file: Path, case_id: str, folder: Path) -> None:
    """0.01 %: ngspice prints seven digits."""
    (result,) = run([load(file).case(case_id)])
    case = measure(result).as_json()
    printed = {
        window: by_hand(invoke("deck", file, "--case", case_id, *words).stdout, folder)
        for window, words in (("front", []), ("tail", ["--tail"]))
    }
    compared = 0
    for number, terminal in enumerate(case["terminals"], start=1):
        if terminal["peak_v"] is None:
            assert terminal["insulation"]["fired"]
            continue
        highest, lowest = printed[terminal["window"]][number]
        peak = terminal["peak_v"]
        assert (highest if peak > 0 else lowest) == pytest.approx(peak, rel=1e-4)
        compared += 1
    assert compared


def test_without_an_engine_it_is_the_deck_as_planned(
    shed: Path, invoke: Invoke, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, "/nowhere/ngspice")
    answer = invoke("deck", shed, "--case", "c0002")
    assert answer.exit_code == 0
    assert "was not found" in answer.stderr
    assert "as planned" in answer.stderr
    assert answer.stdout.startswith(".title surgesim, front window\n")


def test_the_tails_deck(shed: Path, invoke: Invoke) -> None:
    tail = invoke("deck", shed, "--case", "c0001", "--tail").stdout
    assert tail.startswith(".title surgesim, tail window\n")
    assert tail != invoke("deck", shed, "--case", "c0001").stdout


def test_the_first_case_unless_another_is_asked_for(shed: Path, invoke: Invoke) -> None:
    answer = invoke("deck", shed)
    assert answer.stdout == invoke("deck", shed, "--case", "c0001").stdout
    assert answer.stderr.startswith("case c0001 of 2;")


def test_a_case_that_is_not_there(shed: Path, invoke: Invoke) -> None:
    answer = invoke("deck", shed, "--case", "c0009")
    assert answer.exit_code == 2
    assert answer.stderr == f"{shed}: no case 'c0009'; there are c0001 to c0002\n"


def test_comments_name_what_was_wired(shed: Path, invoke: Invoke) -> None:
    deck = invoke("deck", shed, "--case", "c0002").stdout
    for group in ("cable string", "earth shed rod", "arrester box", "equipment charger"):
        assert f"\n* {group}\n" in deck


def test_setting_a_value_changes_the_deck(shed: Path, invoke: Invoke) -> None:
    word = "earths.shed rod.measured=33 ohm"
    deck = invoke("deck", shed, "--case", "c0001", "--set", word).stdout
    assert re.search(r"^Rx\d+_earth_shed_rod \S+ 0 33$", deck, re.MULTILINE)
