"""What a study says and keeps beyond its cases."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.scenario.file import load, loads
from surgesim.studies.run import Result
from surgesim.studies.study import WorstResults, below_the_array

ROOT = Path(__file__).parents[2]
DAIRY = ROOT / "scenarios" / "brackenmoss-dairy.yaml"


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_of_equally_bad_cases_the_first_is_kept_whatever_finishes_first(
    order: tuple[int, int],
) -> None:
    file = load(DAIRY)
    cases = file.cases(chosen={"fitted": ["none"], "bond": ["none"]})
    record = {"terminals": [{"verdict": "exceeded", "peak_v": None, "ratio": None}]}
    worst = WorstResults(file)
    for index in order:
        worst.add(Result(case=cases[index]), record)
    (kept,) = worst.held.values()
    assert kept.case.id == cases[0].id


def test_an_arrester_below_the_arrays_voltage_is_named() -> None:
    """With an earth fault on one pole 874 V stand across the other pole's element."""
    chosen = {"fitted": ["both"], "card": ["class II"]}
    settings = {"alternatives.card.class II": "pv 600 class II"}
    (words, *_) = below_the_array(load(DAIRY, settings=settings).cases(chosen=chosen)[0])
    assert "Ucpv 600 V of 'pv 600 class II' is below the array's 874 V" in words
    assert not list(below_the_array(load(DAIRY).cases(chosen=chosen)[0]))


def test_an_arrester_is_held_to_the_bus_that_it_is_on() -> None:
    """One at a battery of 52 V is not asked to stand the array's 1084 V."""
    text = (ROOT / "tests" / "scenarios" / "valid" / "supply.yaml").read_text()
    slots = (
        "arresters:\n"
        "  at the battery: {at: hut, across: each battery pole to pe, card: pv 600 class II,"
        " leads: {line: 0.3 m, earth: 0.5 m to pe}}\n"
        "  at the array: {at: array, across: each pole to pe, card: pv 600 class II,"
        " leads: {line: 0.3 m, earth: 0.5 m to pe}}\n"
    )
    words = list(below_the_array(loads(text + slots).all_cases[0]))
    assert len(words) == 1
    assert words[0].startswith("Arrester at the array: Ucpv 600 V")
    assert "below the array's 1083.6 V" in words[0]
