"""Errors: one message, the right exit code, JSON where it was asked for, never a traceback."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from surgesim.engine.version import VARIABLE

Invoke = Callable[..., Result]
Spawn = Callable[..., "subprocess.CompletedProcess[str]"]
MakeEngine = Callable[..., Path]


@pytest.mark.parametrize("command", ["run", "compare", "show", "deck"])
def test_a_file_that_is_not_there(command: str, invoke: Invoke) -> None:
    answer = invoke(command, "nowhere.yaml")
    assert answer.exit_code == 2
    assert answer.stderr == "nowhere.yaml: no such file\n"
    assert answer.stdout == ""


def test_every_problem_of_a_file_is_told(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    text = shed.read_text(encoding="utf-8")
    file = tmp_path / "wrong.yaml"
    file.write_text(text.replace("length: 60 m", "length: 60").replace("20 ohm", "20 kg"), "utf-8")
    answer = invoke("compare", file)
    assert answer.exit_code == 2
    *problems, count = answer.stderr.splitlines()
    assert count == "2 problems"
    assert all(problem.startswith(f"{file}:") for problem in problems)


@pytest.mark.parametrize("command", ["run", "compare", "show"])
def test_bad_input_as_json(command: str, tmp_path: Path, invoke: Invoke) -> None:
    file = tmp_path / "wrong.yaml"
    file.write_text("surgesim: 1\ntitel: Barn\n", encoding="utf-8")
    answer = invoke(command, file, "--json")
    record = json.loads(answer.stdout)
    assert answer.exit_code == record["exit_code"] == 2
    assert record["schema"] == "surgesim.error/1"
    keys = {"file", "line", "column", "path", "message", "hint"}
    assert all(problem.keys() == keys for problem in record["problems"])
    (wrong,) = [problem for problem in record["problems"] if problem["path"] == "titel"]
    assert (wrong["file"], wrong["line"]) == (str(file), 2)
    assert "title" in wrong["hint"]


@pytest.mark.parametrize(
    "words", [["--chose", "a=b"], ["--choose", "a"], ["--workers", "0"], ["second.yaml"]]
)
def test_wrong_words_as_json(words: list[str], shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, "--json", *words)
    record = json.loads(answer.stdout)
    assert answer.exit_code == record["exit_code"] == 2
    assert record["message"]


def test_wrong_words_without_json_print_nothing(shed: Path, invoke: Invoke) -> None:
    answer = invoke("compare", shed, "--chose", "a=b")
    assert answer.exit_code == 2
    assert answer.stdout == ""


# --- the engine --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["run", "compare", "doctor"])
def test_engine_missing(
    command: str, shed: Path, invoke: Invoke, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, "/nowhere/ngspice")
    words = [command] if command == "doctor" else [command, shed]
    answer = invoke(*words)
    assert answer.exit_code == 3
    assert "'/nowhere/ngspice'" in answer.stderr
    assert "apt-get install ngspice" in answer.stderr
    record = json.loads(invoke(*words, "--json").stdout)
    assert (record["exit_code"], record["error"]) == (3, "EngineMissing")
    assert "apt-get install ngspice" in record["try"]


def test_engine_too_old(shed: Path, invoke: Invoke, fake_engine: MakeEngine) -> None:
    fake_engine("exit 0", says="** ngspice-30 : Circuit level simulation program")
    answer = invoke("compare", shed)
    assert answer.exit_code == 3
    assert "ngspice 30; version 36 or newer is needed" in answer.stderr


def test_what_is_no_engine(shed: Path, invoke: Invoke, fake_engine: MakeEngine) -> None:
    fake_engine("exit 0", says="hello")
    answer = invoke("compare", shed)
    assert answer.exit_code == 3
    assert "does not say that it is ngspice" in answer.stderr


@pytest.mark.parametrize("command", ["run", "compare"])
def test_engine_that_fails_wins_over_margins(
    command: str, shed: Path, tmp_path: Path, invoke: Invoke, fake_engine: MakeEngine
) -> None:
    """No case has a result: 3, with the engine's words in the findings and in the text."""
    fake_engine('echo "Fatal error: no memory for it"; exit 1')
    answer = invoke(command, shed, "--out", tmp_path / "out")
    assert answer.exit_code == 3
    findings = json.loads((tmp_path / "out" / "findings.json").read_text(encoding="utf-8"))
    assert [failure["id"] for failure in findings["failures"]] == ["c0001", "c0002"]
    assert all("no memory for it" in failure["error"] for failure in findings["failures"])
    assert "no memory for it" in " ".join(answer.stdout.split())


def test_one_case_that_fails_wins_over_another_that_holds(
    shed: Path, invoke: Invoke, fake_engine: MakeEngine
) -> None:
    fake_engine(
        'if grep -q "arrester box" deck.cir; then exec ngspice "$@"; fi; echo "Fatal error"; exit 1'
    )
    answer = invoke("compare", shed, "--json")
    assert answer.exit_code == 3
    findings = json.loads(answer.stdout)
    assert [entry["verdict"] for entry in findings["summary"]] == ["not assessed", "holds"]


def test_engine_that_hangs(shed: Path, invoke: Invoke, fake_engine: MakeEngine) -> None:
    fake_engine("sleep 60")
    answer = invoke("compare", shed, "--timeout", "0.3", "--choose", "fitted=box")
    assert answer.exit_code == 3
    assert "still running after 0.3 s" in " ".join(answer.stdout.split())


# --- what is nobody's fault ----------------------------------------------------------------------


def test_an_error_of_the_program_itself_does_not_pass_for_a_margin(tmp_path: Path) -> None:
    """Python ends with 1 after an exception; that would read as 'margins not met'."""
    import sys

    script = tmp_path / "broken.py"
    script.write_text(
        "import surgesim.scenario.file\n"
        "def load(*a, **k): raise ZeroDivisionError('broken on purpose')\n"
        "surgesim.scenario.file.load = load\n"
        "import sys\n"
        "sys.argv = ['surgesim', 'compare', 'any.yaml']\n"
        "from surgesim.cli import main\n"
        "main()\n",
        encoding="utf-8",
    )
    answer = subprocess.run(
        [sys.executable, script], capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(Path.cwd())},
    )  # fmt: skip
    assert answer.returncode == 3
    assert "broken on purpose" in answer.stderr
    assert "an error of the program itself" in answer.stderr


def test_a_full_disk_behind_stdout(shed: Path) -> None:
    import sys

    with Path("/dev/full").open("w", encoding="utf-8") as full:
        answer = subprocess.run(
            [sys.executable, "-m", "surgesim", "show", shed, "--case", "c0001"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert answer.returncode == 3
    assert answer.stderr.endswith("surgesim: the output: No space left on device\n")
    assert "Traceback" not in answer.stderr
