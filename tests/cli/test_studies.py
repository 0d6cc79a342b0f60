"""``run`` and ``compare``: exit codes, what is printed, what is asked of them."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result

import surgesim.findings
from surgesim.report import console, tables

Invoke = Callable[..., Result]

SCHEMA = json.loads(
    (Path(surgesim.findings.__file__).parent / "schema.json").read_text(encoding="utf-8")
)


def findings_of(answer: Result) -> dict[str, Any]:
    """What was printed, which must be one JSON object and nothing else."""
    findings: dict[str, Any] = json.loads(answer.stdout)
    jsonschema.validate(findings, SCHEMA)
    return findings


# --- the JSON ----------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["run", "compare"])
def test_json_is_the_findings_object_alone(command: str, shed: Path, invoke: Invoke) -> None:
    answer = invoke(command, shed, "--json")
    findings = findings_of(answer)
    assert findings["schema"] == "surgesim.findings/1"
    assert findings["scenario"]["file"] == str(shed)
    assert [case["id"] for case in findings["cases"]] == ["c0001", "c0002"]
    assert [entry["verdict"] for entry in findings["summary"]] == ["exceeded", "holds"]
    assert "2 of 2 cases" in answer.stderr


def test_json_is_the_same_twice(shed: Path, invoke: Invoke) -> None:
    """Whichever case finishes first, and however many run at once."""
    one, two = (invoke("compare", shed, "--json", "--workers", n).stdout for n in (1, 2))
    assert one == two


def test_text_says_what_the_json_says(shed: Path, invoke: Invoke) -> None:
    findings = findings_of(invoke("compare", shed, "--json"))
    margin = findings["summary"][1]["worst"]["margin_percent"]
    # a margin is rounded down, so that it promises nothing
    assert f"margin {math.floor(margin)} %" in " ".join(invoke("compare", shed).stdout.split())


def test_certify_runs_each_case_again_and_says_so(shed: Path, invoke: Invoke) -> None:
    findings = findings_of(invoke("compare", shed, "--json", "--certify"))
    plain = findings_of(invoke("compare", shed, "--json"))
    for sure, estimated in zip(findings["cases"], plain["cases"], strict=True):
        assert [variant["outcome"] for variant in sure["certification"]] == ["compared"] * 3
        assert estimated["certification"] == []
        for one, other in zip(sure["terminals"], estimated["terminals"], strict=True):
            assert one["peak_v"] == other["peak_v"]
            hows = (one["numerical_error"]["how"], other["numerical_error"]["how"])
            assert hows == ("certified", "estimated")
    told = " ".join(invoke("run", shed, "--certify").stdout.split())
    assert "% (certified)" in told
    assert "(estimated)" not in told


# --- exit codes --------------------------------------------------------------------------------


def test_compare_ends_with_0_where_an_alternative_holds(shed: Path, invoke: Invoke) -> None:
    assert invoke("compare", shed).exit_code == 0


def test_compare_ends_with_1_where_none_holds(shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, "--choose", "fitted=none")
    assert answer.exit_code == 1
    assert "EXCEEDED: 1 OF 1" in answer.stdout


def test_run_ends_with_1_where_one_wiring_does_not_hold(shed: Path, invoke: Invoke) -> None:
    assert invoke("run", shed).exit_code == 1
    assert invoke("run", shed, "--choose", "fitted=box").exit_code == 0


def test_require(shed: Path, invoke: Invoke) -> None:
    assert invoke("compare", shed, "--require", "box").exit_code == 0
    assert invoke("compare", shed, "--require", "none").exit_code == 1
    assert invoke("compare", shed, "--require", "box", "--require", "none").exit_code == 1


def test_require_a_name_that_is_none_ends_before_anything_is_run(
    shed: Path, invoke: Invoke
) -> None:
    answer = invoke("compare", shed, "--require", "bx")
    assert answer.exit_code == 2
    assert answer.stderr == "surgesim: no alternative is named 'bx'; did you mean 'box'?\n"


def test_a_claim_not_met_ends_with_1(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    claim = (
        "claims: {enough: {alternative: {fitted: box}, equipment: charger, pair: plus to pe,"
        " margin: MARGIN}}\n"
    )
    text = shed.read_text(encoding="utf-8")
    file = tmp_path / "claimed.yaml"
    for margin, code in (("50 %", 0), ("5000 %", 1)):
        file.write_text(text + claim.replace("MARGIN", margin), encoding="utf-8")
        assert invoke("compare", file).exit_code == code


# --- choosing and setting ----------------------------------------------------------------------


def test_choose_keeps_a_level(shed: Path, invoke: Invoke) -> None:
    findings = findings_of(invoke("compare", shed, "--json", "--choose", "fitted=box"))
    assert [case["id"] for case in findings["cases"]] == ["c0002"]


def test_choose_may_be_repeated(shed: Path, invoke: Invoke) -> None:
    both = ("--choose", "fitted=box", "--choose", "fitted=none")
    assert len(findings_of(invoke("compare", shed, "--json", *both))["cases"]) == 2


@pytest.mark.parametrize(
    ("word", "message"),
    [
        ("fited=box", "surgesim: no factor 'fited'; did you mean 'fitted'?"),
        ("fitted=bx", "surgesim: factor 'fitted' has no level 'bx'; did you mean 'box'?"),
        ("fitted", "expected FACTOR=LEVEL but got 'fitted'"),
        ("=box", "expected FACTOR=LEVEL but got '=box'"),
        ("fitted=", "expected FACTOR=LEVEL but got 'fitted='"),
    ],
)
def test_choose_what_is_not_there(word: str, message: str, shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, "--choose", word)
    assert answer.exit_code == 2
    assert message in answer.stderr
    assert answer.stdout == ""


def test_set_lays_a_value_over_the_file(shed: Path, invoke: Invoke) -> None:
    lower = ("--set", "equipment.charger.plus to pe.withstand=1 kV")
    findings = findings_of(invoke("compare", shed, "--json", *lower))
    withstand = {t["withstand_v"] for c in findings["cases"] for t in c["terminals"]}
    assert withstand == {1e3, 8e3}


@pytest.mark.parametrize(
    ("word", "messages"),
    [
        ("cables.strng.length=80 m", ["'strng'", "did you mean 'string'?"]),
        ("cables.string.lenght=80 m", ["lenght", "did you mean 'length'?"]),
        ("cables.string.length=80", ["'80' has no unit"]),
        ("cables.string.length=80 ohm", ["cables.string.length", "80 ohm"]),
        ("cables.string.length", ["expected PATH=VALUE but got"]),
    ],
)
def test_set_what_cannot_be(word: str, messages: list[str], shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, "--set", word)
    assert answer.exit_code == 2
    assert all(message in answer.stderr for message in messages)
    assert answer.stdout == ""


def test_what_does_not_fit_together_is_told_before_anything_is_run(
    shed: Path, invoke: Invoke
) -> None:
    laying = "cables.string.laying=plastic duct 9 mm wide 0.5 m deep"
    answer = invoke("compare", shed, "--set", laying)
    assert answer.exit_code == 2
    assert answer.stderr.startswith(f"{shed}: cables.string.laying: 2 cables of up to 6.4 mm")
    assert answer.stderr.count("\n") == 1, "the same fault of every case is told once"


# --- progress ------------------------------------------------------------------------------------


def test_progress_is_on_stderr_and_can_be_turned_off(shed: Path, invoke: Invoke) -> None:
    assert invoke("compare", shed).stderr.splitlines()[-1].startswith("2 of 2 cases")
    assert invoke("compare", shed, "--quiet").stderr == ""


@pytest.mark.parametrize("option", [("--workers", "0"), ("--timeout", "0"), ("--workers", "two")])
def test_options_out_of_range(option: tuple[str, str], shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, *option)
    assert answer.exit_code == 2
    assert option[0] in answer.stderr


def test_guesses_are_ranked_where_it_is_asked_for(shed: Path, invoke: Invoke) -> None:
    """In the findings, which still obey their schema, and as a table; otherwise a hint."""
    words = ("run", shed, "--choose", "fitted=box", "--quiet")
    plain = invoke(*words)
    assert "influence varies each" in " ".join(plain.stdout.split())
    assert findings_of(invoke(*words, "--json"))["influence"] is None
    answer = invoke(*words, "--influence", "--json")
    findings = findings_of(answer)
    assert findings["influence"]["varied"][0]["what"].startswith("withstand of charger")
    text = console.text(tables.render(findings))
    assert "GUESSES, BY HOW MUCH THE DECIDING MARGIN MOVES" in text
    assert "Limits that are guesses" in text, "the caution stays"
    assert max(map(len, text.splitlines())) <= 80
