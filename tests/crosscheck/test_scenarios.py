"""Every scenario that comes along, every surge and every alternative, by both solvers."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.reading.data import data_folder
from surgesim.scenario.file import load
from surgesim.studies.run import measure, run
from surgesim.studies.study import study

SCENARIOS = sorted(data_folder("scenarios").glob("*.yaml"))


def test_there_is_something_to_check() -> None:
    assert SCENARIOS


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_one_case_has_a_result(path: Path) -> None:
    """The last one: all arresters fitted."""
    (result,) = run(load(path).all_cases[-1:])
    assert measure(result).terminals


@pytest.mark.slow
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_every_case_agrees_or_is_a_knife_edge(path: Path) -> None:
    file = load(path)
    found = study(file, crosscheck=True)
    assert [(failed["id"], failed["error"]) for failed in found["failures"]] == []
    assert len(found["cases"]) == len(file.all_cases)
    assert {case["crosscheck"]["status"] for case in found["cases"]} <= {"agreed", "knife-edge"}
