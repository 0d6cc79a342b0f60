"""What a study says and keeps beyond its cases."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.scenario.file import load
from surgesim.studies.run import Result
from surgesim.studies.study import WorstResults, below_the_array

DAIRY = Path(__file__).parents[2] / "scenarios" / "brackenmoss-dairy.yaml"


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
