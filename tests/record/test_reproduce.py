"""A record run again: what it says when it holds, and what it says of a record that lies."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from surgesim.engine import version
from surgesim.studies.reproduce import SCHEMA
from tests.record.records import SMALL, Made, Parts, manifest_of, resealed, run_command

ROOT = Path(__file__).resolve().parents[2]
Change = Callable[[dict[str, Any]], None]


def comparison(path: Path, *words: str, code: int) -> dict[str, Any]:
    result = run_command("reproduce", path, "--json", "--quiet", *words)
    found: dict[str, Any] = json.loads(result.stdout)
    assert result.exit_code == found["exit_code"] == code, result.stdout
    assert found["schema"] == SCHEMA
    assert found["reproduced"] is (code == 0)
    return found


# --- it holds ---------------------------------------------------------------------------------


def test_a_record_reproduces(small: Made) -> None:
    found = comparison(small.path, code=0)
    assert found["inconsistencies"] == []
    # of the flashover, which the closer error control does not get through
    assert found["remarks"] == [
        "The manifest has notes on how the runs went of 1 of these cases: c0001."
    ]
    assert found["decks"] == {"compared": 6, "different": []}
    assert [case["status"] for case in found["cases"]] == ["reproduced"] * 3
    assert all(case["compared"] > 5 for case in found["cases"])
    assert [entry["status"] for entry in found["alternatives"]] == ["reproduced"] * 2
    (claim,) = found["claims"]
    assert claim["status"] == "met"
    assert claim["reproduced_percent"] == pytest.approx(claim["claimed_percent"], abs=0.5)


def test_the_table_says_it_within_eighty_columns(small: Made) -> None:
    result = run_command("reproduce", small.path, "--quiet")
    assert result.exit_code == 0
    assert "Reproduced. 3 of 3 cases were run again, all within tolerance." in result.stdout
    assert "6 decks written again from the scenarios, equal byte for byte." in result.stdout
    assert "with the arrester" in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize("language", ["C", "C.UTF-8"])
def test_it_reproduces_elsewhere(language: str, small: Made, tmp_path: Path) -> None:
    """Another folder, another home, another locale, and nothing but the file itself."""
    home, here = tmp_path / "home", tmp_path / "here"
    home.mkdir()
    here.mkdir()
    path = here / "got by mail"
    path.write_bytes(small.path.read_bytes())
    env = {"PATH": os.environ["PATH"], "HOME": str(home), "LC_ALL": language, "LANG": language}
    env["PYTHONPATH"] = str(ROOT)
    command = [sys.executable, "-m", "surgesim", "reproduce", path.name, "--json"]
    done = subprocess.run(command, cwd=here, env=env, capture_output=True, timeout=120)
    assert done.returncode == 0, done.stderr.decode()
    assert json.loads(done.stdout)["reproduced"] is True
    assert [entry.name for entry in here.iterdir()] == [path.name]
    assert list(home.iterdir()) == []


def test_one_case_can_be_asked_for(small: Made) -> None:
    found = comparison(small.path, "--case", "c0002", code=0)
    assert [case["id"] for case in found["cases"]] == ["c0002"]
    assert found["decks"]["compared"] == 2
    assert found["alternatives"] == found["claims"] == []
    assert found["remarks"] == [
        "Not every case was run: alternatives and claims were not compared."
    ]


def test_a_case_that_is_not_there_is_bad_input(small: Made) -> None:
    result = run_command("reproduce", small.path, "--case", "c0009", "--quiet")
    assert result.exit_code == 2
    assert "no case 'c0009' in the record; did you mean 'c000" in result.stderr


def test_a_chosen_part_of_a_study_reproduces(tmp_path: Path) -> None:
    path = tmp_path / "chosen.record"
    words = ("--choose", "arrester tolerance=low", "--polarity")
    run_command("run", SMALL, "--record", path, "--no-influence", "--quiet", *words[:2])
    found = comparison(path, code=0)
    assert [entry["status"] for entry in found["alternatives"]] == ["reproduced"] * 2


def test_the_second_solver_needs_no_engine(
    small: Made, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    pytest.importorskip("surgesim.oracle")
    monkeypatch.setenv(version.VARIABLE, str(tmp_path / "no such engine"))
    result = run_command("reproduce", small.path, "--quiet")
    assert result.exit_code == 3
    assert "ngspice was not found" in result.stderr
    found = comparison(small.path, "--engine", "oracle", code=0)
    assert found["here"]["engine"]["name"] == "oracle"
    assert found["tolerances"]["number_percent"] == pytest.approx(1.0)
    assert [case["status"] for case in found["cases"]] == ["reproduced"] * 3
    assert any(case["largest_difference"]["difference_percent"] != 0.0 for case in found["cases"])


def test_a_second_solver_that_is_not_there_ends_with_three(
    small: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "surgesim.oracle", None)
    result = run_command("reproduce", small.path, "--engine", "oracle", "--quiet")
    assert result.exit_code == 3
    assert "the second solver cannot be loaded" in result.stderr


def dead_engine(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that says its version and nothing else."""
    script = folder / "ngspice"
    says = "** ngspice-39 : Circuit level simulation program"
    script.write_text(f'#!/bin/sh\nif [ "$1" = --version ]; then echo "{says}"; fi\nexit 1\n')
    script.chmod(0o755)
    monkeypatch.setenv(version.VARIABLE, str(script))


def test_an_engine_that_fails_ends_with_three(
    small: Made, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dead_engine(tmp_path, monkeypatch)
    found = comparison(small.path, code=3)
    assert {case["status"] for case in found["cases"]} == {"no result"}
    assert all("no usable result" in case["reason"] for case in found["cases"])
    text = run_command("reproduce", small.path, "--quiet")
    assert "Not reproduced. 3 of 3 cases were run again; 3 cases gave no result here" in (
        " ".join(text.stdout.split())
    )


# --- disclosures ------------------------------------------------------------------------------


def test_disclosures_are_printed_as_they_stand_in_the_record(small: Made) -> None:
    result = run_command("reproduce", small.path, "--disclosures")
    assert result.exit_code == 0
    assert result.stdout.encode() == small.parts["disclosures.txt"]
    printed = run_command("reproduce", small.path, "--disclosures", "--json")
    assert json.loads(printed.stdout) == manifest_of(small.parts)["disclosures"]


def forged_disclosures(parts: Parts) -> Parts:
    disclosures = manifest_of(parts)["disclosures"]
    disclosures["guesses"]["count"] = 0
    return resealed(parts, disclosures=disclosures)


def forged_text(parts: Parts) -> Parts:
    parts["disclosures.txt"] = parts["disclosures.txt"].replace(b"guess", b"table")
    return resealed(parts)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            forged_disclosures,
            "'guesses' of the disclosures is not what the recorded scenarios give",
        ),
        (forged_text, "disclosures.txt does not say what the manifest's disclosures say"),
    ],
)
def test_disclosures_that_say_other_things_are_told(
    change: Callable[[Parts], Parts], said: str, small: Made
) -> None:
    path = small.copy(change(small.parts))
    result = run_command("reproduce", path, "--disclosures")
    assert result.exit_code == 1
    assert said in result.stderr
    assert any(said in words for words in comparison(path, code=1)["inconsistencies"])


# --- it lies, and its checksums are right -----------------------------------------------------


def terminal(findings: dict[str, Any], case: int = 1, position: int = 0) -> dict[str, Any]:
    found: dict[str, Any] = findings["cases"][case]["terminals"][position]
    return found


def set_peak(findings: dict[str, Any], factor: float) -> None:
    """Another peak with all that follows from it in its case, the worst of its alternative."""
    one = terminal(findings, case=2)
    one["peak_v"] *= factor
    one["ratio"] = one["withstand_v"] / abs(one["peak_v"])
    one["margin_percent"] = 100.0 * (one["ratio"] - 1.0)


def only(found: dict[str, Any], case_id: str = "c0002") -> dict[str, Any]:
    """The one case that differs."""
    (case,) = [case for case in found["cases"] if case["status"] != "reproduced"]
    assert case["id"] == case_id
    return dict(case)


def test_a_false_peak_is_found(small: Made) -> None:
    found = comparison(small.forged(lambda f: set_peak(f, 0.99)), code=1)
    (item,) = only(found, "c0003")["numbers"]
    assert item["what"] == "inverter, plus to pe: peak_v"
    assert item["difference_percent"] == pytest.approx(100 * (1 / 0.99 - 1), abs=0.01)


def test_a_peak_within_tolerance_is_no_difference(small: Made) -> None:
    found = comparison(small.forged(lambda f: set_peak(f, 0.999)), "--case", "c0003", code=1)
    assert [case["status"] for case in found["cases"]] == ["reproduced"]
    # what gives it away is that neither the claim nor the summary follows from it
    assert found["inconsistencies"] == [
        f"findings.json: {key!r} does not follow from its own cases and scenarios"
        for key in ("claims", "summary")
    ]


def _charge(findings: dict[str, Any]) -> None:
    findings["cases"][1]["arresters"][0]["charge_c"] *= 0.9


def _residual(findings: dict[str, Any]) -> None:
    findings["cases"][1]["arresters"][0]["residual_v"] *= 0.98


def _rise(findings: dict[str, Any]) -> None:
    findings["cases"][1]["earths"][0]["rise_v"] *= 1.01


def _withstand(findings: dict[str, Any]) -> None:
    terminal(findings)["withstand_v"] *= 2.0


def _origin(findings: dict[str, Any]) -> None:
    terminal(findings, position=1)["limit"]["origin"] = "certificate"


def _margin(findings: dict[str, Any]) -> None:
    terminal(findings)["margin_percent"] += 10.0


def _verdict(findings: dict[str, Any]) -> None:
    terminal(findings, case=0)["verdict"] = "holds"


def _not_fired(findings: dict[str, Any]) -> None:
    one = terminal(findings, case=0)
    one["insulation"].update(fired=False, fired_v=None, fired_at_s=None)
    one.update(peak_v=5900.0, ratio=6000.0 / 5900.0, margin_percent=100.0 * (6000.0 / 5900.0 - 1))
    one["verdict"] = "thin"


def _card(findings: dict[str, Any]) -> None:
    findings["cases"][1]["arresters"][0]["card"] = "another card"


def _surge(findings: dict[str, Any]) -> None:
    findings["cases"][1]["surge_figures"]["peak"] *= 2.0


def _dropped_terminal(findings: dict[str, Any]) -> None:
    del findings["cases"][1]["terminals"][1]


@pytest.mark.parametrize(
    ("change", "case_id", "said"),
    [
        (_charge, "c0002", "inverter box, plus to pe: charge_c"),
        (_residual, "c0002", "inverter box, plus to pe: residual_v"),
        (_rise, "c0002", "shed rod: rise_v"),
        (_withstand, "c0002", "inverter, plus to pe: withstand_v"),
        (_origin, "c0002", "inverter, minus to pe: limit"),
        (_margin, "c0002", "inverter, plus to pe: margin_percent does not follow from the ratio"),
        (_verdict, "c0001", "exceeded, insulation fired"),
        (_not_fired, "c0001", "exceeded, insulation fired"),
        (_card, "c0002", "inverter box, plus to pe: card"),
        (_surge, "c0002", "surge induced: peak"),
        (_dropped_terminal, "c0002", "not the same terminals"),
    ],
)
def test_a_false_number_or_word_of_a_case_is_found(
    change: Change, case_id: str, said: str, small: Made
) -> None:
    found = comparison(small.forged(change), "--case", case_id, code=1)
    case = only(found, case_id)
    told = [*case["given"], *(item["what"] for item in case["numbers"])]
    told += [item["reproduced"] for item in case["verdicts"]]
    assert said in told


def _summary_verdict(findings: dict[str, Any]) -> None:
    findings["summary"][0]["verdict"] = "holds"


def _claim_margin(findings: dict[str, Any]) -> None:
    findings["claims"][0]["found_percent"] += 100.0


def _no_claims(findings: dict[str, Any]) -> None:
    findings["claims"] = []


def _assumption(findings: dict[str, Any]) -> None:
    findings["assumptions"].pop()


def _caution(findings: dict[str, Any]) -> None:
    findings["cautions"].pop()


def _unassessed(findings: dict[str, Any]) -> None:
    findings["not_assessed"].clear()


def _title(findings: dict[str, Any]) -> None:
    findings["scenario"]["title"] = "A large shed"


def _hash(findings: dict[str, Any]) -> None:
    findings["scenario"]["hash"] = "0" * 64


def _asked(findings: dict[str, Any]) -> None:
    findings["asked_margin_percent"] = 0.0


def _steps(findings: dict[str, Any]) -> None:
    findings["cases"][1]["windows"]["front"]["step_s"] /= 10.0


def _engine(findings: dict[str, Any]) -> None:
    findings["engine"]["version"] = "46"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_summary_verdict, "'summary' does not follow"),
        (_claim_margin, "'claims' does not follow"),
        (_no_claims, "'claims' does not follow"),
        (_assumption, "assumptions"),
        (_caution, "'cautions' does not follow"),
        (_unassessed, "'not_assessed' does not follow"),
        (_title, "'scenario' does not follow"),
        (_hash, "'scenario' does not follow"),
        (_asked, "asked_margin_percent"),
        (_steps, "has another front window"),
        (_engine, "what they were made with"),
    ],
)
def test_findings_that_contradict_the_rest_are_told(change: Change, said: str, small: Made) -> None:
    found = comparison(small.forged(change), "--case", "c0001", code=1)
    assert any(said in words for words in found["inconsistencies"])


def test_a_case_that_is_left_out_is_told(small: Made) -> None:
    path = small.forged(lambda findings: findings["cases"].pop(0))
    found = comparison(path, code=1)
    assert found["inconsistencies"] == [
        "findings.json has 2 cases, manifest.json has 3",
        "findings.json has no such entry of case c0001 as manifest.json lists",
    ]
    assert found["cases"][0]["reason"].startswith("the record has no result of this case")


def replaced(parts: Parts, name: str, was: str, now: str) -> Parts:
    text = parts[name].decode()
    assert was in text
    return resealed({**parts, name: text.replace(was, now).encode()})


def test_another_scenario_under_the_same_findings_is_found(small: Made) -> None:
    """Longer leads, which would have read worse: decks, hash and numbers all tell."""
    name = "cases/c0002/scenario.yaml"
    path = small.copy(replaced(small.parts, name, "line: 20 cm", "line: 2 m"))
    found = comparison(path, "--case", "c0002", code=1)
    assert {deck["case"] for deck in found["decks"]["different"]} == {"c0002"}
    assert any("its scenario is not the one" in words for words in found["inconsistencies"])
    assert any("peak_v" in item["what"] for item in found["cases"][0]["numbers"])


def test_a_deck_that_is_not_the_scenario_s_is_named_with_its_line(small: Made) -> None:
    parts = small.parts
    name = "cases/c0003/tail.cir"
    lines = parts[name].decode().split("\n")
    position = next(k for k, line in enumerate(lines) if line.startswith("C"))
    lines[position] += "1"
    path = small.copy(resealed({**parts, name: "\n".join(lines).encode()}))
    (different,) = comparison(path, code=1)["decks"]["different"]
    assert (different["case"], different["window"]) == ("c0003", "tail")
    assert different["line"] == position + 1
    assert different["recorded"] == different["rebuilt"] + "1"
    assert different["rounding"] is False
    text = " ".join(run_command("reproduce", path, "--quiet").stdout.split())
    assert f"c0003, tail: first in line {position + 1}" in text


def test_another_moment_of_firing_is_another_deck(small: Made) -> None:
    parts = small.parts
    cases = manifest_of(parts)["cases"]
    fired = cases[0]["tail"]["fired_at_s"]
    fired[next(iter(fired))] *= 1.5
    found = comparison(small.copy(resealed(parts, cases=cases)), code=1)
    assert [deck["window"] for deck in found["decks"]["different"]] == ["tail"]


def with_longest_step(deck: bytes, step: float) -> bytes:
    """A deck that asks for other steps: ``.tran`` has them twice, the file's and the ceiling."""
    (line,) = (line for line in deck.splitlines() if line.startswith(b".tran "))
    command, old, stop, start, ceiling = line.split()
    assert old == ceiling
    new = f"{step:.10g}".encode()
    return deck.replace(line, b" ".join((command, new, stop, start, new)))


def test_coarser_steps_than_are_run_here_are_remarked(small: Made) -> None:
    """Steps, deck and findings changed together: the numbers decide, and it is said."""
    parts = small.parts
    cases = manifest_of(parts)["cases"]
    step = cases[1]["front"]["step_s"]
    cases[1]["front"]["step_s"] = 2 * step
    findings = json.loads(parts["findings.json"])
    findings["cases"][1]["windows"]["front"]["step_s"] = 2 * step
    parts["findings.json"] = json.dumps(findings).encode()
    name = "cases/c0002/front.cir"
    parts[name] = with_longest_step(parts[name], 2 * step)
    found = comparison(small.copy(resealed(parts, cases=cases)), "--case", "c0002", code=1)
    assert found["decks"]["different"] == []
    assert any("1 of the cases were run here at other steps" in r for r in found["remarks"])


def test_a_claim_that_is_not_met_ends_with_one(tmp_path: Path) -> None:
    scenario, path = tmp_path / "claim.yaml", tmp_path / "claim.record"
    scenario.write_text(SMALL.read_text().replace("margin: 10 %", "margin: 100 %"))
    words = ("--no-influence", "--set", "equipment.inverter.plus to pe.withstand=4 kV")
    assert run_command("compare", scenario, "--record", path, "--quiet", *words).exit_code == 1
    found = comparison(path, code=1)
    (claim,) = found["claims"]
    assert claim["claimed_met"] is claim["reproduced_met"] is False
    assert claim["status"] == "not met"
    assert {case["status"] for case in found["cases"]} == {"reproduced"}


def without_result(small: Made) -> Path:
    """The record with its first case among the failures."""
    parts = small.parts
    findings = json.loads(parts["findings.json"])
    case = findings["cases"].pop(0)
    entry = {"id": case["id"], "axes": case["axes"], "surge": case["surge"]}
    findings["failures"] = [{**entry, "error": "no usable result", "try": ""}]
    parts["findings.json"] = json.dumps(findings).encode()
    for window in ("front", "tail"):
        del parts[f"cases/c0001/{window}.cir"]
    cases = manifest_of(parts)["cases"]
    cases[0].update(front=None, tail=None)
    return small.copy(resealed(parts, cases=cases))


def test_a_recorded_failure_that_fails_here_too_is_reproduced(
    small: Made, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With an engine that gives no result at all: only the results that were had are missed."""
    path = without_result(small)
    dead_engine(tmp_path, monkeypatch)
    found = comparison(path, "--case", "c0001", code=1)
    (case,) = found["cases"]
    assert case["status"] == "reproduced"
    assert "no usable result" in case["reason"]


def test_a_claimed_result_of_what_cannot_be_built_is_bad_input(small: Made) -> None:
    name = "cases/c0002/scenario.yaml"
    was, now = "in air 50 cm high", "plastic duct 8 mm wide 70 cm deep"
    result = run_command("reproduce", small.copy(replaced(small.parts, name, was, now)), "--quiet")
    assert result.exit_code == 2
    assert "duct" in result.stderr


def test_a_recorded_failure_that_now_has_a_result_is_told(small: Made) -> None:
    found = comparison(without_result(small), code=1)
    assert only(found, "c0001")["reason"] == (
        "the record has no result of this case; here it has one"
    )


# --- the ranking of the guesses -----------------------------------------------------------------


def with_influence(small: Made, change: Change) -> Path:
    """A record whose ranking was changed wherever it stands, with right checksums."""
    parts = small.parts
    findings, manifest = json.loads(parts["findings.json"]), manifest_of(parts)
    change(findings["influence"])
    manifest["disclosures"]["guesses"]["influence"] = findings["influence"]
    parts["findings.json"] = json.dumps(findings).encode()
    return small.copy(resealed(parts, disclosures=manifest["disclosures"]))


def test_a_ranking_that_does_not_follow_is_named(small: Made) -> None:
    def less(influence: dict[str, Any]) -> None:
        influence["varied"][0]["change_points"] = 0.1

    found = comparison(with_influence(small, less), code=1)
    assert any("does not follow from its own numbers" in w for w in found["inconsistencies"])


def test_a_ranking_made_up_is_named_by_the_second_solver(small: Made) -> None:
    def withheld(influence: dict[str, Any]) -> None:
        del influence["varied"][0]

    path = with_influence(small, withheld)
    found = comparison(path, "--engine", "oracle", code=1)
    assert any("not what the recorded scenarios give" in w for w in found["inconsistencies"])
