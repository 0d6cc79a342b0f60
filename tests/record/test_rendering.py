"""The comparison as a page: from its object alone, whatever that says."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from surgesim.report.console import text
from surgesim.report.reproduction import answer, render
from tests.record.records import run_command

Comparison = dict[str, Any]


@pytest.fixture(scope="module")
def held(recorded: Any) -> Comparison:
    found: Comparison = json.loads(run_command("reproduce", recorded, "--json", "--quiet").stdout)
    return found


@pytest.fixture
def failed(held: Comparison) -> Comparison:
    """Everything that can be wrong at once."""
    found = copy.deepcopy(held)
    found.update(reproduced=False, exit_code=3)
    found["inconsistencies"] = ["findings.json: 'summary' does not follow"]
    found["remarks"] = ["The record was made with ngspice 36, this is 39."]
    same = "R" * 60
    found["decks"]["different"] = [
        {
            "case": "c0001", "window": "tail", "line": 7, "recorded": f"{same} a 1",
            "rebuilt": f"{same} a 2", "rounding": True,
        }
    ]  # fmt: skip
    first, second, third = found["cases"]
    first.update(status="no result", reason="no usable result")
    number = {**second["largest_difference"], "difference_percent": 12.0, "reproduced": None}
    verdict = {"what": "inverter", "claimed": "holds", "reproduced": "thin", "edge": True}
    second.update(
        status="differs", numbers=[number] * 5, verdicts=[verdict], given=["surge: peak"],
        largest_difference=number,
    )  # fmt: skip
    third.update(status="at a threshold", edges=["inverter, plus to pe: insulation at its level"])
    found["alternatives"][0]["status"] = "differs"
    found["alternatives"][0]["reproduced"] = None
    found["alternatives"][1]["status"] = "at a threshold"
    found["claims"][0].update(status="not met", claimed_percent=None, reproduced_percent=-3.0)
    return found


def page(comparison: Comparison) -> str:
    return text(render(comparison))


def test_all_that_is_wrong_is_told(failed: Comparison) -> None:
    shown = " ".join(page(failed).split())
    for words in (
        "Not reproduced.",
        "the record contradicts itself in 1 place",
        "1 deck not as written from the scenario",
        "1 case beyond tolerance",
        "1 case gave no result here",
        "1 alternative judged otherwise",
        "1 claim not met",
        "c0001, tail: first in line 7, last printed digits only",
        "c0001, no result: no usable result",
        "surge: peak; inverter: holds claimed, thin here, at a threshold",
        "claimed, nothing here; 2 more",
        "insulation at its level",
        "not the verdict claimed",
        "either verdict is right",
        "no margin",
        "made with ngspice 36",
    ):
        assert words in shown


def test_deck_lines_are_cut_where_they_part(failed: Comparison) -> None:
    shown = page(failed)
    assert "recorded  …RRR" in shown
    assert "RRR a 1\n" in shown
    assert "RRR a 2\n" in shown


@pytest.mark.parametrize("which", ["held", "failed"])
def test_no_line_is_wider_than_eighty(which: str, request: pytest.FixtureRequest) -> None:
    shown = page(request.getfixturevalue(which))
    assert max(map(len, shown.splitlines())) <= 80


def test_long_lists_are_cut_and_say_so(held: Comparison) -> None:
    found = copy.deepcopy(held)
    found["inconsistencies"] = [f"place {k}" for k in range(50)]
    shown = page(found)
    assert "place 19" in shown
    assert "place 20" not in shown
    assert "and 30 more, which --json lists" in shown


def test_answer_tells_of_thresholds(held: Comparison) -> None:
    found = copy.deepcopy(held)
    found["cases"][0]["status"] = "at a threshold"
    assert answer(found) == (
        "Reproduced. 3 of 3 cases were run again, 2 within tolerance, 1 at a threshold where "
        "either holds."
    )


def test_it_promises_nothing(failed: Comparison) -> None:
    shown = page(failed).lower()
    assert not any(word in shown for word in ("safe", "protected", "compliant", "guaranteed"))
