"""What a record holds, and how it gets onto the disk."""

from __future__ import annotations

import hashlib
import json
import stat
import zipfile
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from surgesim import load, loads, run, study
from surgesim.build import build
from surgesim.engine.writer import LESS_CLOSE
from surgesim.errors import InputError, SurgesimError
from surgesim.findings.schema import schema as findings_schema
from surgesim.network.elements import SparkGap
from surgesim.scenario.file import fingerprint
from surgesim.studies.record import Asked, Recorder
from surgesim.studies.record_decks import DeckInputs, deck_text, inputs_of
from surgesim.studies.record_file import EPOCH, RecordFile
from surgesim.studies.record_json import record_schema
from surgesim.studies.run import deck_as_run
from tests.record.records import SMALL, Made, manifest_of, parts_of, run_command


def test_manifest_obeys_the_published_schema(small: Made) -> None:
    Draft202012Validator.check_schema(record_schema())
    Draft202012Validator(record_schema()).validate(manifest_of(small.parts))


def test_the_ranking_of_guesses_can_be_left_out_and_the_record_says_so(tmp_path: Path) -> None:
    path = tmp_path / "short.record"
    made = run_command("compare", SMALL, "--record", path, "--no-influence", "--quiet")
    assert made.exit_code == 0, made.stderr
    guesses = manifest_of(parts_of(path))["disclosures"]["guesses"]
    assert guesses["influence"] is None
    assert "not ranked" in guesses["ranking"]
    assert run_command("reproduce", path, "--quiet").exit_code == 0


def test_every_part_is_listed_with_its_checksum(small: Made) -> None:
    parts = small.parts
    listed = manifest_of(parts)["parts"]
    assert listed.keys() == parts.keys() - {"manifest.json"}
    for name, entry in listed.items():
        assert entry["sha256"] == hashlib.sha256(parts[name]).hexdigest()
        assert entry["bytes"] == len(parts[name])


def test_findings_are_those_that_json_prints(small: Made) -> None:
    findings = json.loads(small.parts["findings.json"])
    Draft202012Validator(findings_schema()).validate(findings)
    printed = json.loads(run_command("compare", SMALL, "--json", "--quiet", "--influence").stdout)
    assert printed == findings


def test_scenarios_read_back_as_the_cases_they_are(small: Made) -> None:
    parts = small.parts
    for case in load(SMALL).all_cases:
        again = loads(parts[f"cases/{case.id}/scenario.yaml"]).all_cases
        assert [fingerprint(c.scenario) for c in again] == [fingerprint(case.scenario)]


def test_decks_are_the_very_texts_that_were_run(small: Made, tmp_path: Path) -> None:
    list(run(load(SMALL).all_cases, keep=tmp_path))
    parts = small.parts
    for case in load(SMALL).all_cases:
        for window in ("front", "tail"):
            ran = accepted(tmp_path / case.id, window).read_bytes()
            assert parts[f"cases/{case.id}/{window}.cir"] == ran


def accepted(folder: Path, window: str) -> Path:
    """The deck that gave the result: of the attempts at a window, the one that was run last."""
    return max(folder.glob(f"{window}*.cir"), key=lambda path: path.stat().st_mtime_ns)


def test_a_result_of_a_later_attempt_is_among_them(small: Made) -> None:
    """Else nothing here would show that the deck is the accepted attempt's, not the first's."""
    first = manifest_of(small.parts)["cases"][0]
    (note,) = first["retries"]
    assert note.startswith("front: solved at attempt 2; ")
    assert first["front"]["options"] == LESS_CLOSE


def test_a_printed_deck_is_the_recorded_one(small: Made) -> None:
    case = load(SMALL).all_cases[0]
    tail = deck_as_run(build(case.scenario), window="tail")
    assert tail.encode() == small.parts[f"cases/{case.id}/tail.cir"]


def test_a_tail_after_a_discharge_is_written_again_from_the_manifest(tmp_path: Path) -> None:
    """A tail is given how the discharge of each spark gap went in its front."""
    text = SMALL.read_text().replace("pv 1000 class II", "gas tube 600")
    case = loads(text).all_cases[1]
    (result,) = run([case], keep=tmp_path)
    assert result.network is not None
    assert result.front is not None
    assert result.tail is not None
    _, inputs = inputs_of(result.network, result.front, result.tail)
    kept = json.loads(json.dumps(inputs.as_json()))
    gaps = [each for each in result.network.elements if isinstance(each, SparkGap)]
    assert any(max(z for _, z in kept["gaps"][gap.name]) > gap.law.lit for gap in gaps)
    written = deck_text(result.network, DeckInputs.from_json("tail", kept))
    assert written == accepted(tmp_path / case.id, "tail").read_text()


def test_a_tail_after_a_flashover_is_among_them(small: Made) -> None:
    """Else nothing here would show that the moment of firing is kept and used."""
    manifest = manifest_of(small.parts)
    fired = [case["tail"]["fired_at_s"] for case in manifest["cases"]]
    assert any(fired)
    assert not all(fired)


def test_manifest_says_with_what_it_was_made_and_what_was_asked(tmp_path: Path) -> None:
    path = tmp_path / "chosen.record"
    asked = ("--choose", "fitted=inverter", "--set", "site.soil=200 ohm m", "--require", "inverter")
    assert run_command("compare", SMALL, "--record", path, "--quiet", *asked).exit_code == 0
    manifest = manifest_of(parts_of(path))
    assert manifest["asked"] == {
        "command": "compare",
        "chosen": {"fitted": ["inverter"]},
        "settings": {"site.soil": "200 ohm m"},
        "require": ["inverter"],
        "certify": False,
        "crosscheck": False,
    }
    assert [claim["name"] for claim in manifest["claims"]] == ["with the arrester"]
    assert manifest["asked_margin_percent"] == pytest.approx(25.0)
    assert {"numpy", "PySpice", "pydantic", "ruamel.yaml"} <= manifest["made_with"][
        "packages"
    ].keys()
    assert run_command("reproduce", path, "--quiet").exit_code == 0


def test_words_that_steer_a_screen_are_recorded_harmless(tmp_path: Path) -> None:
    """And the record is whole: its checksum is of what is read."""
    path = tmp_path / "words.record"
    words = ("--set", "question=With \tor\u00a0without?\n", "--choose", "fitted=inverter")
    asked = (*words, "--no-influence", "--quiet")
    assert run_command("run", SMALL, "--record", path, *asked).exit_code == 0
    assert manifest_of(parts_of(path))["asked"]["settings"] == {
        "question": "With ?or\u00a0without?"
    }
    assert run_command("reproduce", path, "--quiet").exit_code == 0


def test_equal_studies_make_equal_bytes(small: Made, tmp_path: Path) -> None:
    again = tmp_path / "again.record"
    run_command("compare", SMALL, "--record", again, "--quiet", "--workers", "1")
    assert again.read_bytes() == small.path.read_bytes()


def test_members_are_sorted_plain_and_without_a_time(small: Made) -> None:
    with zipfile.ZipFile(small.path) as archive:
        members = archive.infolist()
    assert [m.filename for m in members] == sorted(m.filename for m in members)
    assert {m.date_time for m in members} == {EPOCH}
    assert {stat.S_IFMT(m.external_attr >> 16) for m in members} == {stat.S_IFREG}


def test_a_case_without_a_result_keeps_its_scenario(tmp_path: Path) -> None:
    """A timeout that no engine can meet: every case fails, the record still tells what it was."""
    file, recorder = load(SMALL), Recorder()
    findings = study(file, timeout=1e-4, watch=lambda r, found, _: recorder.add(r, found))
    assert len(findings["failures"]) == len(file.all_cases)
    parts = recorder.parts(file, findings, asked=Asked(command="compare"), render=str)
    with RecordFile(tmp_path / "failed.record") as target:
        target.publish(parts)
    manifest = manifest_of(parts)
    Draft202012Validator(record_schema()).validate(manifest)
    assert all(case["front"] is None and case["tail"] is None for case in manifest["cases"])
    assert not any(name.endswith(".cir") for name in parts)
    assert sum(name.endswith("scenario.yaml") for name in parts) == len(file.all_cases)


# --- onto the disk ----------------------------------------------------------------------------


def test_nothing_is_overwritten_without_being_asked(small: Made, tmp_path: Path) -> None:
    path = tmp_path / "there.record"
    path.write_bytes(small.path.read_bytes())
    result = run_command("compare", SMALL, "--record", path, "--quiet")
    assert result.exit_code == 2
    assert "is there already; --overwrite replaces" in result.stderr
    assert path.read_bytes() == small.path.read_bytes()


def test_overwrite_replaces_an_earlier_record(small: Made, tmp_path: Path) -> None:
    path = tmp_path / "there.record"
    path.write_bytes(small.path.read_bytes())
    words = (
        "--choose",
        "fitted=none",
        "--record",
        path,
        "--overwrite",
        "--no-influence",
        "--quiet",
    )
    assert run_command("run", SMALL, *words).exit_code == 1
    assert len(manifest_of(parts_of(path))["cases"]) == 1


@pytest.mark.parametrize("content", [b"", b"a letter\n", b"PK\x05\x06" + bytes(18)])
def test_overwrite_spares_what_is_no_record(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "letter"
    path.write_bytes(content)
    result = run_command("compare", SMALL, "--record", path, "--overwrite", "--quiet")
    assert result.exit_code == 2
    assert "no record written here" in result.stderr
    assert path.read_bytes() == content


def test_a_folder_is_no_target(tmp_path: Path) -> None:
    result = run_command("compare", SMALL, "--record", tmp_path, "--overwrite", "--quiet")
    assert result.exit_code == 2
    assert "is a folder" in result.stderr


def test_a_record_inside_the_folder_of_results_is_refused_before_the_run(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run_command("compare", SMALL, "--out", out, "--record", out / "a.record", "--quiet")
    assert result.exit_code == 2
    assert "would lie in the folder of --out" in result.stderr
    assert list(tmp_path.iterdir()) == []
    words = ("--out", out, "--record", f"{out}.record", "--no-influence", "--quiet")
    beside = run_command("compare", SMALL, *words)
    assert beside.exit_code == 0
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["out", "out.record"]


def test_leaving_without_publishing_leaves_no_trace(tmp_path: Path) -> None:
    def broken_off() -> None:
        with RecordFile(tmp_path / "a.record"):
            raise RuntimeError("the study broke off")

    with pytest.raises(RuntimeError, match="broke off"):
        broken_off()
    assert list(tmp_path.iterdir()) == []


def test_a_failed_write_keeps_the_earlier_record(
    small: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "there.record"
    path.write_bytes(small.path.read_bytes())

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("surgesim.studies.record_file.write_zip", full)
    with RecordFile(path, overwrite=True) as target, pytest.raises(SurgesimError, match="No space"):
        target.publish({})
    assert [entry.name for entry in tmp_path.iterdir()] == ["there.record"]
    assert path.read_bytes() == small.path.read_bytes()


def test_a_target_that_appears_meanwhile_is_spared(tmp_path: Path) -> None:
    path = tmp_path / "a.record"
    with RecordFile(path) as target:
        path.write_text("somebody else's")
        with pytest.raises(InputError, match="is there already"):
            target.publish({"manifest.json": b"{}"})
    assert path.read_text() == "somebody else's"
