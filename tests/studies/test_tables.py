from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from typing import Any

import pytest

from surgesim.studies.compare import compose
from surgesim.studies.info import StudyInfo
from surgesim.studies.tables import COLUMNS, to_csv, to_json

Dairy = Callable[[], tuple[StudyInfo, list[dict[str, Any]]]]


@pytest.fixture
def findings(dairy_study: Dairy) -> dict[str, Any]:
    return compose(*dairy_study())


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_json_is_the_object(findings: dict[str, Any]) -> None:
    assert json.loads(to_json(findings)) == findings


def test_json_begins_with_the_schema(findings: dict[str, Any]) -> None:
    assert to_json(findings).startswith('{\n  "schema": "surgesim.findings/1"')


def test_no_number_that_json_does_not_know(findings: dict[str, Any]) -> None:
    findings["cases"][0]["energy_closure"]["front"] = float("nan")
    with pytest.raises(ValueError, match="JSON"):
        to_json(findings)


def test_one_row_per_case_and_terminal(findings: dict[str, Any]) -> None:
    found = rows(to_csv(findings))
    assert len(found) == sum(len(case["terminals"]) for case in findings["cases"]) == 20
    assert list(found[0]) == [
        "case", "axis fitted", "axis card", "axis array earth", "surge", *COLUMNS,
    ]  # fmt: skip


def test_every_number_reads_back_exactly(findings: dict[str, Any]) -> None:
    records = [(case, terminal) for case in findings["cases"] for terminal in case["terminals"]]
    for row, (case, terminal) in zip(rows(to_csv(findings)), records, strict=True):
        assert row["case"] == case["id"]
        assert row["axis card"] == (case["axes"]["card"] or "")
        for column in ("peak_v", "time_s", "ratio", "margin_percent", "withstand_v", "bias_v"):
            value = terminal[column]
            assert row[column] == "" if value is None else float(row[column]) == value
        assert row["verdict"] == terminal["verdict"]
        assert row["limit_origin"] == terminal["limit"]["origin"]
        assert row["insulation_fired"] == str(terminal["insulation"]["fired"]).lower()


def test_conditions_share_a_cell(made: Any) -> None:
    terminal = made.terminal(1e3, conditions=["a, b: c", "d, e: f"])
    (row,) = rows(to_csv(compose(made.study(), [made.case(1, {}, terminal)])))
    assert row["conditional_on"] == "a, b: c; d, e: f"


def test_a_pair_without_insulation_has_empty_cells(made: Any) -> None:
    terminal = made.terminal(1e3) | {"insulation": None}
    (row,) = rows(to_csv(compose(made.study(), [made.case(1, {}, terminal)])))
    assert row["insulation_level_v"] == row["insulation_fired"] == ""


def test_awkward_names_survive(made: Any) -> None:
    study = made.study(worst_of={"surge": ['say "hm", twice', "β"]})
    case = made.case(1, {"surge": 'say "hm", twice'}, made.terminal(1e3), surge="case; peak_v")
    (row,) = rows(to_csv(compose(study, [case])))
    assert row["axis surge"] == 'say "hm", twice'
    assert row["surge"] == "case; peak_v"
