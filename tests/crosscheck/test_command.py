"""``--crosscheck`` on the command line: what is printed, kept, refused."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from surgesim.cli import cli
from surgesim.findings.schema import schema

SHED = Path(__file__).parents[1] / "cli" / "data" / "shed.yaml"


def call(*words: object) -> Result:
    return CliRunner().invoke(
        cli, [str(word) for word in (*words, "--quiet")], catch_exceptions=False
    )


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("command", ["run", "compare"])
def test_one_line_says_how_the_cases_fared(command: str) -> None:
    answer = call(command, SHED, "--crosscheck")
    told = flat(answer.stdout)
    assert "2 cases were run by ngspice and by a second solver: 2 agreed. Of " in told
    assert " numbers compared the furthest apart is " in told


def test_without_the_option_nothing_is_said_of_it() -> None:
    answer = call("compare", SHED)
    assert "second solver" not in answer.stdout


def test_the_folder_has_it_in_json_and_in_csv(tmp_path: Path) -> None:
    assert call("compare", SHED, "--crosscheck", "--out", tmp_path / "out").exit_code == 0
    findings = json.loads((tmp_path / "out" / "findings.json").read_text(encoding="utf-8"))
    jsonschema.validate(findings, schema())
    statuses = [case["crosscheck"]["status"] for case in findings["cases"]]
    assert statuses == ["agreed", "agreed"]
    with (tmp_path / "out" / "findings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["crosscheck"] for row in rows} == {"agreed"}
    assert all(abs(float(row["crosscheck_percent"])) <= 2.0 for row in rows)
    assert {row["other_verdict"] for row in rows} == {""}


def test_disagreement_refuses_the_case_and_the_others_go_on(
    varistors_off: Callable[[float], None],
) -> None:
    varistors_off(1.05)
    answer = call("compare", SHED, "--crosscheck", "--json")
    assert answer.exit_code == 3
    findings: dict[str, Any] = json.loads(answer.stdout)
    assert [case["id"] for case in findings["cases"]] == ["c0001"]
    (refused,) = findings["failures"]
    assert refused["id"] == "c0002"
    assert refused["error"].startswith("the two solvers disagree: ")
    for words in ("by ngspice and", "by the second solver", "% apart where", "numbers differ"):
        assert words in refused["error"]
    assert refused["try"].startswith("one of the two is wrong")
    told = flat(call("compare", SHED, "--crosscheck").stdout)
    assert "CASES WITHOUT A RESULT: 1" in told
    assert "c0002 (fitted box; induced): the two solvers disagree:" in told


def test_a_solver_that_breaks_an_invariant_is_no_check(
    level_off: Callable[[float], None], at_the_edge: str, tmp_path: Path
) -> None:
    """Insulation that stands beyond its level without firing is caught in either solver."""
    level_off(3.0)
    file = tmp_path / "shed.yaml"
    file.write_text(at_the_edge.replace("peak: 100 A", "peak: 150 A"), encoding="utf-8")
    answer = call("run", file, "--crosscheck", "--json")
    assert answer.exit_code == 3
    (refused,) = json.loads(answer.stdout)["failures"]
    assert refused["error"].startswith("could not be cross-checked: the second solver has no")


def test_both_outcomes_of_a_knife_edge_are_printed(at_the_edge: str, tmp_path: Path) -> None:
    file = tmp_path / "shed.yaml"
    file.write_text(at_the_edge, encoding="utf-8")
    for command in ("run", "compare"):
        told = flat(call(command, file, "--crosscheck").stdout)
        assert "0 agreed, 1 is knife-edge." in told
        assert (
            "c0001: ngspice has no insulation firing; the second solver with the level of inverter,"
            " plus to pe -1 % has inverter, plus to pe firing." in told
        )
        assert "the worse of " in told
        assert "Knife-edge: in c0001 insulation is at the edge of firing." in told
    suspected = flat(call("compare", file).stdout)
    assert "Knife-edge suspected: in c0001" in suspected
    assert "--crosscheck examines it" in suspected


def test_a_record_carries_it_and_its_outcomes_are_run_again(
    at_the_edge: str, tmp_path: Path
) -> None:
    file, record = tmp_path / "shed.yaml", tmp_path / "shed.record"
    file.write_text(at_the_edge, encoding="utf-8")
    assert (
        call("compare", file, "--crosscheck", "--no-influence", "--record", record).exit_code == 1
    )
    disclosed = flat(call("reproduce", record, "--disclosures").stdout)
    assert (
        "1 case was run by ngspice and by a second solver: 0 agreed, 1 is knife-edge" in disclosed
    )
    for engine in ("ngspice", "oracle"):
        answer = call("reproduce", record, "--engine", engine, "--json")
        assert answer.exit_code == 0, answer.stdout
        (case,) = json.loads(answer.stdout)["cases"]
        assert case["status"] == "at a threshold"
        assert case["edges"][-1] == "a knife-edge: more than one outcome is legitimate"
