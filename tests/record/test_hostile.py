"""A record from a stranger: refused for what it is, named, with nothing run and nothing written."""

from __future__ import annotations

import json
import random
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from surgesim.errors import InputError
from surgesim.studies import record_json, record_reading
from surgesim.studies.record_reading import RecordReader
from tests.record.records import Made, Parts, manifest_of, resealed, run_command

PARTS = (
    "findings.json",
    "disclosures.txt",
    "cases/c0001/scenario.yaml",
    "cases/c0001/front.cir",
    "cases/c0001/tail.cir",
    "cases/c0003/scenario.yaml",
    "cases/c0003/front.cir",
    "cases/c0003/tail.cir",
)


def refusal(path: Path) -> str:
    """What ``reproduce`` says of a file it must not take."""
    result = run_command("reproduce", path, "--quiet")
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert all(len(line) < 500 for line in result.stderr.splitlines())
    return result.stderr


# --- parts that were changed ------------------------------------------------------------------


@pytest.mark.parametrize("name", PARTS)
def test_a_tampered_part_is_named(name: str, small: Made) -> None:
    parts = small.parts
    changed = parts[name].replace(b"1", b"2", 1)
    assert changed != parts[name]
    said = refusal(small.copy({**parts, name: changed}))
    assert f"{name}: was changed: its SHA-256 is not the one in the manifest" in said
    assert said.count("was changed") == 1


def test_every_part_is_tried_above(small: Made) -> None:
    kinds = {name.rpartition("/")[2] for name in small.parts}
    assert kinds == {name.rpartition("/")[2] for name in PARTS} | {"manifest.json"}


def test_all_tampered_parts_are_named_at_once(small: Made) -> None:
    parts = small.parts
    said = refusal(small.copy({**parts, **dict.fromkeys(PARTS, b"x")}))
    assert all(f"{name}: was changed" in said for name in PARTS)


def test_a_tampered_manifest_is_named(small: Made) -> None:
    parts = small.parts
    manifest = {**manifest_of(parts), "asked_margin_percent": 0.0}
    said = refusal(small.copy({**parts, "manifest.json": json.dumps(manifest).encode()}))
    assert "manifest.json: does not have the SHA-256 it says" in said


@pytest.mark.parametrize("name", PARTS)
def test_a_missing_part_is_named(name: str, small: Made) -> None:
    parts = small.parts
    del parts[name]
    assert f"{name}: is missing" in refusal(small.copy(parts))


@pytest.mark.parametrize("name", PARTS)
def test_a_part_that_the_manifest_must_list_is_named(name: str, small: Made) -> None:
    """Left out of the file and of a manifest whose checksums are right."""
    parts = small.parts
    del parts[name]
    assert f"{name}: is not listed in the manifest" in refusal(small.copy(resealed(parts)))


def test_a_part_of_no_case_is_named(small: Made) -> None:
    parts = {**small.parts, "cases/c0099/front.cir": b"* more\n"}
    assert "c0099/front.cir: is not listed" in refusal(small.copy(parts))
    assert "c0099/front.cir: belongs to no case" in refusal(small.copy(resealed(parts)))


# --- no record, or half of one ----------------------------------------------------------------


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.9, 0.999])
def test_a_truncated_file_is_refused(share: float, small: Made, tmp_path: Path) -> None:
    data = small.path.read_bytes()
    path = tmp_path / "cut.record"
    path.write_bytes(data[: int(share * len(data))])
    assert "damaged or no record" in refusal(path)


@pytest.mark.parametrize("data", [b"surgesim: 1\n", b"\0" * 5000, b"PK\x03\x04" * 100])
def test_another_kind_of_file_is_refused(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "other"
    path.write_bytes(data)
    assert "damaged or no record" in refusal(path)


def test_an_empty_zip_file_is_no_record(small: Made) -> None:
    assert "is no record: it has no manifest.json" in refusal(small.copy({}))


def test_no_file_and_a_folder_are_told_apart(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "nowhere.record")
    assert "is a folder" in refusal(tmp_path)


def test_any_damaged_byte_is_noticed_or_changes_nothing(small: Made, tmp_path: Path) -> None:
    """A zip file has bytes that say nothing, such as a member's time; all others are checked."""
    data, path = small.path.read_bytes(), tmp_path / "bitten.record"
    with RecordReader(small.path) as whole:
        findings, manifest = whole.findings, whole.manifest
    draw = random.Random(1)
    refused = 0
    for _ in range(100):
        where = draw.randrange(len(data))
        bitten = bytearray(data)
        bitten[where] ^= 1 << draw.randrange(8)
        path.write_bytes(bitten)
        try:
            with RecordReader(path) as record:
                assert record.findings == findings, where
                assert record.manifest == manifest, where
        except InputError:
            refused += 1
    assert refused > 60


# --- members no record has --------------------------------------------------------------------


def with_member(small: Made, name: str, *, data: bytes = b"x", mode: int = 0o100644) -> Path:
    """The record with one more member."""
    path = small.copy(small.parts)
    with zipfile.ZipFile(path, "a") as archive:
        member = zipfile.ZipInfo(name)
        member.create_system = 3
        member.external_attr = mode << 16
        archive.writestr(member, data)
    return path


@pytest.mark.parametrize(
    "name",
    [
        "../evil.yaml",
        "cases/../../evil.yaml",
        "/etc/evil.yaml",
        "C:evil.yaml",
        "cases/c0001/../c0002/scenario.yaml",
        "..\\evil.yaml",
    ],
)
def test_a_path_that_leads_out_is_refused(name: str, small: Made) -> None:
    said = refusal(with_member(small, name))
    assert "leads out of the record; refused" in said


def test_a_symbolic_link_is_refused(small: Made) -> None:
    path = with_member(
        small, "cases/c0009/front.cir", data=b"/etc/passwd", mode=stat.S_IFLNK | 0o777
    )
    assert "c0009/front.cir: is a symbolic link; refused" in refusal(path)


@pytest.mark.parametrize("mode", [stat.S_IFDIR | 0o755, stat.S_IFIFO | 0o644, stat.S_IFCHR | 0o644])
def test_what_is_no_plain_file_is_refused(mode: int, small: Made) -> None:
    assert "is no plain file" in refusal(with_member(small, "cases/c0009/front.cir", mode=mode))


@pytest.mark.parametrize(
    "name", ["readme.txt", "cases/c0001/front.cir.exe", "cases/c1/front.cir", "Manifest.json"]
)
def test_a_member_with_another_name_is_refused(name: str, small: Made) -> None:
    assert "is no part of a record" in refusal(with_member(small, name))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_part_that_is_there_twice_is_refused(small: Made) -> None:
    assert "is there twice" in refusal(with_member(small, "findings.json"))


def test_names_with_escapes_are_shown_harmless(small: Made) -> None:
    said = refusal(with_member(small, "cases/\x1b[2J\x1b]0;owned\x07.cir"))
    assert "is no part of a record" in said
    assert "\x1b" not in said
    assert "\x07" not in said


# --- bombs ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("cases/c0001/scenario.yaml", 2_000_000),
        ("cases/c0001/front.cir", 30_000_000),
        ("disclosures.txt", 30_000_000),
        ("findings.json", 30_000_000),
        ("manifest.json", 30_000_000),
    ],
)
def test_a_part_that_unpacks_to_too_much_is_refused(name: str, size: int, small: Made) -> None:
    path = small.copy({**small.parts, name: b" " * size})
    assert path.stat().st_size < 200_000
    assert f"{name}: unpacks to more than" in refusal(path)


def test_a_part_that_lies_about_its_size_is_refused(small: Made) -> None:
    """The directory says few bytes, the data unpack to many: the check of the sum tells."""
    path = small.copy({**small.parts, "disclosures.txt": b" " * 9_000_000})
    data = path.read_bytes()
    true, false = (9_000_000).to_bytes(4, "little"), (100).to_bytes(4, "little")
    assert data.count(true) == 2
    path.write_bytes(data.replace(true, false))
    assert "disclosures.txt: is damaged" in refusal(path)


def test_many_large_parts_are_refused_by_their_sum(
    small: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record_reading, "MOST_TOTAL", 100_000)
    assert "unpacks to more than" in refusal(small.path)


def test_a_file_that_is_too_large_is_not_opened(
    small: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record_reading, "MOST_FILE", 1000)
    assert "is larger than" in refusal(small.path)


def test_a_long_list_of_members_is_refused_before_it_is_read(
    small: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record_reading, "MOST_DIRECTORY", 100)
    assert "does not end as the zip file of a record does" in refusal(small.path)


def test_a_comment_at_the_end_is_refused(small: Made) -> None:
    path = small.copy(small.parts)
    with zipfile.ZipFile(path, "a") as archive:
        archive.comment = b"a comment"
    assert "refused" in refusal(path) or "no record" in refusal(path)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"[" * 100_000, "nested too deep"),
        (b'{"schema": NaN}', "is not a number"),
        (b'{"schema": 1e999}', "more than a number can hold"),
        (b'{"schema": ' + b"9" * 5000 + b"}", "digits"),
        (b'{"a": 1, "a": 2}', "twice"),
        (b"\xff\xfe", "is not UTF-8"),
        (b"[]", "does not say 'surgesim.record/1'"),
        (b"", "is no JSON"),
    ],
)
def test_a_manifest_that_is_no_plain_json_is_refused(
    text: bytes, message: str, small: Made
) -> None:
    said = refusal(small.copy({**small.parts, "manifest.json": text}))
    assert "manifest.json" in said
    assert message in said


def test_json_of_too_many_values_is_refused(small: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(record_json, "MOST_VALUES", 100)
    assert "holds more than 100 values" in refusal(small.path)


# --- other versions ---------------------------------------------------------------------------


def test_a_record_of_another_form_is_refused_with_the_reason(small: Made) -> None:
    said = refusal(small.copy(resealed(small.parts, schema="surgesim.record/2")))
    assert "is a record of the form 'surgesim.record/2'; this program reads" in said
    assert "made with surgesim 0.1.0" in said


def test_a_manifest_of_something_else_is_refused(small: Made) -> None:
    said = refusal(small.copy(resealed(small.parts, schema="surgesim.findings/1")))
    assert "does not say 'surgesim.record/1'" in said


def of_version(parts: Parts, version: str) -> Parts:
    manifest = manifest_of(parts)
    findings = json.loads(parts["findings.json"])
    findings["engine"]["surgesim"] = version
    made = {**manifest["made_with"], "surgesim": version}
    changed = {**parts, "findings.json": json.dumps(findings).encode()}
    return resealed(changed, made_with=made)


def test_a_record_of_another_version_is_read_and_the_difference_told(small: Made) -> None:
    parts = of_version(small.parts, "9.9.9")
    name = "cases/c0001/front.cir"
    parts[name] = parts[name].replace(b".title surgesim", b".title surgesim nine", 1)
    path = small.copy(resealed(parts))
    result = run_command("reproduce", path, "--json", "--quiet")
    comparison = json.loads(result.stdout)
    assert result.exit_code == 0, comparison
    assert any("made with surgesim 9.9.9" in remark for remark in comparison["remarks"])
    assert [deck["case"] for deck in comparison["decks"]["different"]] == ["c0001"]


# --- data only --------------------------------------------------------------------------------


@pytest.fixture
def nothing_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """An empty working folder and home, and the check that they are still empty."""
    here, home = tmp_path / "here", tmp_path / "home"
    here.mkdir()
    home.mkdir()
    monkeypatch.chdir(here)
    monkeypatch.setenv("HOME", str(home))

    def check() -> None:
        assert list(here.iterdir()) == []
        assert list(home.iterdir()) == []

    return check


CONTROL = "\n.control\nshell touch owned\n.endc\n"


@pytest.mark.parametrize(
    ("was", "now", "message"),
    [
        ("title: Small shed", f"title: {json.dumps('Shed' + CONTROL)}", ""),
        ("  array:\n", f"  {json.dumps('array' + CONTROL)}:\n", "no usable name"),
        ("  array:\n", '  "a\\x1b[2Jrray":\n', "no usable name"),
        ("surgesim: '1'", "surgesim: !!python/object/apply:os.system ['touch owned']", "YAML tag"),
        ("question: With", "question: &anchor With", "anchor"),
        ("title: Small shed", "title: Small shed\nalternatives: {a: {b: {}}}", "'alternatives'"),
        ("title: Small shed", "title: Small shed\nextra: 1", "unknown key"),
    ],
)
def test_a_hostile_scenario_is_refused_by_the_reader(
    was: str, now: str, message: str, small: Made, nothing_written: Callable[[], None]
) -> None:
    parts = small.parts
    name = "cases/c0001/scenario.yaml"
    text = parts[name].decode()
    assert was in text
    parts[name] = text.replace(was, now, 1).encode()
    path = small.copy(resealed(parts))
    if message:
        assert message in refusal(path)
        assert name in refusal(path)
    else:
        # one line of text is made of it, which no deck runs: it only is another scenario
        assert run_command("reproduce", path, "--quiet").exit_code == 1
    nothing_written()


@pytest.mark.parametrize("window", ["front", "tail"])
def test_a_recorded_deck_is_never_run(
    window: str, small: Made, nothing_written: Callable[[], None]
) -> None:
    parts = small.parts
    name = f"cases/c0002/{window}.cir"
    lines = parts[name].decode().split("\n")
    lines[2:2] = [".control", "shell touch owned", ".endc"]
    parts[name] = "\n".join(lines).encode()
    result = run_command("reproduce", small.copy(resealed(parts)), "--json", "--quiet")
    comparison = json.loads(result.stdout)
    assert result.exit_code == 1
    (different,) = comparison["decks"]["different"]
    assert (different["case"], different["window"], different["line"]) == ("c0002", window, 3)
    assert different["recorded"] == ".control"
    assert {case["status"] for case in comparison["cases"]} == {"reproduced"}
    nothing_written()


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("options", "trtol=1\n.control\nshell touch owned\n.endc"),
        ("step_s", 0.0),
        ("step_s", 1e-300),
        ("stop_s", 1e300),
        ("lumped", "run"),
    ],
)
def test_inputs_of_a_deck_that_are_none_are_refused(
    key: str, value: Any, small: Made, nothing_written: Callable[[], None]
) -> None:
    parts = small.parts
    cases = manifest_of(parts)["cases"]
    cases[0]["front"][key] = value
    said = refusal(small.copy(resealed(parts, cases=cases)))
    assert "does not obey its schema" in said
    assert key in said or "cases" in said
    nothing_written()


def test_a_deck_that_no_run_can_have_had_is_told(small: Made) -> None:
    parts = small.parts
    cases = manifest_of(parts)["cases"]
    cases[0]["front"]["step_s"] = 1e-15
    path = small.copy(resealed(parts, cases=cases))
    result = run_command("reproduce", path, "--json", "--quiet", "--case", "c0001")
    assert result.exit_code == 1
    assert "points, which no run has" in result.stdout


@pytest.mark.parametrize(
    "change",
    [
        lambda cases: cases.reverse(),
        lambda cases: cases.append(cases[0]),
        lambda cases: cases[0]["axes"].update({"fitted": "elsewhere"}),
        lambda cases: cases[0]["axes"].clear(),
    ],
)
def test_cases_out_of_order_or_off_the_axes_are_refused(
    change: Callable[[Any], None], small: Made
) -> None:
    parts = small.parts
    cases = manifest_of(parts)["cases"]
    change(cases)
    assert "manifest.json: cases:" in refusal(small.copy(resealed(parts, cases=cases)))


def test_findings_that_are_none_are_refused(small: Made) -> None:
    path = small.forged(lambda findings: findings["cases"][0].pop("terminals"))
    assert "findings.json: cases[0]: does not obey its schema" in refusal(path)


def test_findings_of_another_version_are_refused_with_the_version(small: Made) -> None:
    parts = of_version(small.parts, "9.9.9")
    findings = {**json.loads(parts["findings.json"]), "new": 1}
    parts["findings.json"] = json.dumps(findings).encode()
    said = refusal(small.copy(resealed(parts)))
    assert "does not obey its schema" in said
    assert "it was made with surgesim 9.9.9" in said


def test_what_steers_a_screen_is_not_printed(small: Made) -> None:
    def change(findings: dict[str, Any]) -> None:
        findings["cautions"].append("\x1b]0;owned\x07\u202e")
        findings["assumptions"].append("\x9b2J")

    result = run_command("reproduce", small.forged(change), "--quiet")
    assert result.exit_code == 1
    assert not {"\x1b", "\x07", "\u202e", "\x9b"} & set(result.output)
