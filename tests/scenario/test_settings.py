"""Values laid over a file from outside, as ``--set PATH=VALUE`` does."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.errors import InputError
from surgesim.scenario.file import load

ROOT = Path(__file__).resolve().parents[2]
FACTORS = ROOT / "tests" / "scenarios" / "valid" / "factors.yaml"


def refusal(settings: dict[str, str]) -> str:
    with pytest.raises(InputError) as caught:
        load(FACTORS, settings=settings)
    (problem,) = caught.value.problems
    assert problem.line == 0
    return str(problem).removeprefix(str(FACTORS)).lstrip(": ")


def test_a_value_is_changed_in_every_case() -> None:
    file = load(FACTORS, settings={"cables.field run.length": "80 m", "polarity": "negative"})
    assert {case.scenario.cables["field run"].length for case in file.all_cases} == {80.0}
    assert {case.scenario.polarity for case in file.all_cases} == {"negative"}


def test_a_key_may_be_added() -> None:
    file = load(FACTORS, settings={"arresters.room box.wiring": "V"})
    wired = {slot.wiring for c in file.cases(chosen={"fitted": ["room"]})
             for slot in c.scenario.arresters.values()}  # fmt: skip
    assert wired == {"V"}


def test_a_thing_may_be_removed() -> None:
    file = load(FACTORS, settings={"surges.grazed": "removed"})
    assert {case.surge for case in file.all_cases} == {"struck"}


def test_a_level_still_has_the_last_word() -> None:
    file = load(FACTORS, settings={"earths.rods.measured": "5 ohm"})
    assert {case.scenario.earths["rods"].measured for case in file.all_cases} == {30.0, 70.0}


def test_a_level_may_be_changed_itself() -> None:
    settings = {"worst of.rods.dry.earths.rods.measured": "99 ohm"}
    file = load(FACTORS, settings=settings)
    assert {case.scenario.earths["rods"].measured for case in file.all_cases} == {30.0, 99.0}


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (
            "cables.field run.length", "80",
            "cables.field run.length: '80' has no unit; expected a length, in one of: "
            "mm, cm, m, km",
        ),
        (
            "cables.field run.lenght", "80 m",
            "cables.field run.lenght: unknown key; did you mean 'length'?",
        ),
        (
            "cables.feild run.length", "80 m",
            "--set: no 'feild run' in path 'cables.feild run.length'; did you mean 'field run'?",
        ),
        (
            "title.deeper", "x",
            "--set: no 'title' in path 'title.deeper'; did you mean 'title'?",
        ),
        (
            "alternatives.fitted", "both",
            "alternatives.fitted: expected named levels; for example "
            "'{none: {}, in the duct: {…}}'",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_set(path: str, value: str, words: str) -> None:
    assert refusal({path: value}) == words
