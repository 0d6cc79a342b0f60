"""The library as the README uses it: load, cases, run, measure; and study."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import pytest

import surgesim
from surgesim import InputError, Result, ScenarioFile, load, loads, measure, run, study
from surgesim.engine.version import VARIABLE

ROOT = Path(__file__).resolve().parents[2]
SHED = ROOT / "tests" / "cli" / "data" / "shed.yaml"


@pytest.fixture(scope="module")
def shed() -> ScenarioFile:
    return load(SHED)


def in_a_new_process(script: str) -> str:
    answer = subprocess.run(
        [sys.executable, "-W", "error", "-c", script],
        capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    return answer.stdout


# --- the four steps --------------------------------------------------------------------------


def test_load_cases_run_measure(shed: ScenarioFile) -> None:
    (case,) = shed.cases(chosen={"fitted": ["box"]})
    (result,) = run([case])
    findings = measure(result)
    assert result.case is case
    assert {terminal.pair for terminal in findings.terminals} == {"plus to pe", "minus to pe"}
    assert {terminal.verdict for terminal in findings.terminals} == {"holds"}


def test_run_is_an_iterator_that_waits_to_be_asked(shed: ScenarioFile) -> None:
    results = run(shed.cases())
    assert isinstance(results, Iterator)
    assert isinstance(next(results), Result)


def test_a_result_holds_network_and_both_windows(shed: ScenarioFile) -> None:
    (result,) = run([shed.case("c0002")])
    assert result.network is not None
    assert result.front is not None
    assert result.tail is not None
    (probe, *_) = result.network.terminals
    (terminal, *_) = measure(result).terminals
    assert terminal.window == "front"
    assert float(result.front.across(probe.a, probe.b).max()) == terminal.peak_v


def test_a_failed_case_is_a_result_and_the_others_go_on(
    shed: ScenarioFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = tmp_path / "ngspice-in-its-place"
    engine.write_text(
        '#!/bin/sh\nif [ "$1" = --version ]; then echo ngspice-39; exit 0; fi\n'
        'if grep -q "arrester box" deck.cir; then exec ngspice "$@"; fi; exit 1\n',
        encoding="utf-8",
    )
    engine.chmod(0o755)
    monkeypatch.setenv(VARIABLE, str(engine))
    results = {result.case.id: result for result in run(shed.cases())}
    assert measure(results["c0002"]).terminals
    with pytest.raises(surgesim.EngineError, match="exit code 1"):
        measure(results["c0001"])


def test_kept_decks(shed: ScenarioFile, tmp_path: Path) -> None:
    list(run([shed.case("c0002")], keep=tmp_path))
    files = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.*")}
    assert files == {"c0002/front.cir", "c0002/front.log", "c0002/tail.cir", "c0002/tail.log"}


# --- the whole study -------------------------------------------------------------------------


def test_study_is_what_json_prints(shed: ScenarioFile) -> None:
    schema = json.loads((ROOT / "surgesim" / "findings" / "schema.json").read_text("utf-8"))
    seen: list[int] = []
    findings = study(shed, watch=lambda *told: seen.append(told[2]))
    jsonschema.validate(json.loads(json.dumps(findings)), schema)
    assert seen == [1, 2]
    assert [entry["verdict"] for entry in findings["summary"]] == ["exceeded", "holds"]


def test_study_of_chosen_levels(shed: ScenarioFile) -> None:
    findings = study(shed, chosen={"fitted": ["box"]})
    assert [case["id"] for case in findings["cases"]] == ["c0002"]


# --- reading ---------------------------------------------------------------------------------


def test_load_with_settings() -> None:
    scenario = load(SHED, settings={"cables.string.length": "80 m"}).all_cases[0].scenario
    assert scenario.cables["string"].length == 80.0


def test_loads_names_what_it_reads_from() -> None:
    with pytest.raises(InputError, match=r"^my barn:1:1: ") as error:
        loads("surgesim: 1\n", name="my barn")
    assert error.value.problems[0].file == "my barn"


def test_input_errors_are_value_errors_with_their_problems() -> None:
    text = SHED.read_text(encoding="utf-8").replace("60 m,", "60,").replace("20 ohm", "20 kg")
    with pytest.raises(ValueError, match="has no unit") as error:
        loads(text)
    assert isinstance(error.value, InputError)
    assert [problem.path for problem in error.value.problems] == [
        "cables.string.length", "earths.shed rod.measured",
    ]  # fmt: skip


def test_levels_that_are_not_there_are_named(shed: ScenarioFile) -> None:
    with pytest.raises(InputError, match="did you mean 'box'"):
        shed.cases(chosen={"fitted": ["bx"]})


# --- names -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", surgesim.__all__)
def test_every_exported_name_is_there(name: str) -> None:
    assert getattr(surgesim, name) is not None
    assert name in dir(surgesim)


def test_star_import() -> None:
    script = "from surgesim import *\nprint(sorted(n for n in dir() if not n.startswith('_')))"
    assert in_a_new_process(script) == f"{sorted(surgesim.__all__)}\n"


def test_importing_loads_nothing() -> None:
    """Everything comes when it is first used."""
    script = (
        "import sys, surgesim\n"
        "print([n for n in ('numpy', 'pydantic', 'click', 'PySpice') if n in sys.modules])"
    )
    assert in_a_new_process(script) == "[]\n"


def test_a_name_that_is_not_there() -> None:
    with pytest.raises(AttributeError, match="'surgesim' has no attribute 'compare_all'"):
        surgesim.compare_all  # noqa: B018


def test_the_readmes_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    """As it stands there, but on a site that runs in a moment."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    code = readme.split("## From Python")[1].split("```python\n")[1].split("```")[0]
    assert 'load("scenarios/brackenmoss-dairy.yaml")' in code
    code = code.replace("scenarios/brackenmoss-dairy.yaml", str(SHED))
    exec(compile(code.replace('["both"]', '["box"]'), "README.md", "exec"), {})
    printed = capsys.readouterr().out.splitlines()
    assert len(printed) == 2
    assert all(line.startswith("c0002 charger") for line in printed)
    assert all(line.endswith("holds") for line in printed)
