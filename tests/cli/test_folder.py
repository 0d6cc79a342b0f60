"""``--out``: everything in one folder, all of it or nothing."""

from __future__ import annotations

import csv
import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import Result

Invoke = Callable[..., Result]
Spawn = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="module")
def written(shed: Path, invoke: Invoke, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that a comparison of the shed wrote."""
    out = tmp_path_factory.mktemp("results") / "out"
    answer = invoke("compare", shed, "--out", out)
    assert answer.exit_code == 0
    assert f"results in {out}" in answer.stderr
    return out


def test_every_file_is_there(written: Path) -> None:
    """The waveforms and a figure of each alternative's worst case, and the comparison."""
    files = {path.relative_to(written).as_posix() for path in written.rglob("*") if path.is_file()}
    assert files == {
        "findings.json", "findings.csv", "figures/comparison.png", "figures/c0001.png",
        "figures/c0002.png", "waveforms/c0001.npz", "waveforms/c0002.npz",
    }  # fmt: skip


def test_findings_are_those_of_json(written: Path, shed: Path, invoke: Invoke) -> None:
    printed = json.loads(invoke("compare", shed, "--json").stdout)
    assert json.loads((written / "findings.json").read_text(encoding="utf-8")) == printed
    with (written / "findings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    peaks = [t["peak_v"] for case in printed["cases"] for t in case["terminals"]]
    assert [float(row["peak_v"]) for row in rows] == peaks


def test_waveforms_hold_the_peaks(written: Path) -> None:
    findings = json.loads((written / "findings.json").read_text(encoding="utf-8"))
    (terminal,) = [t for t in findings["cases"][1]["terminals"] if t["pair"] == "plus to pe"]
    with np.load(written / "waveforms" / "c0002.npz") as kept:
        nodes = list(kept["front_nodes"])
        plus, pe = (kept["front_voltages"][nodes.index(f"shed/{name}")] for name in ("plus", "pe"))
        assert len(kept["front_time"]) == len(plus)
    assert np.max(plus - pe) == pytest.approx(terminal["peak_v"], rel=1e-12)


def test_figures_are_pictures(written: Path) -> None:
    for picture in (written / "figures").iterdir():
        assert picture.read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_holds_results_is_kept(written: Path, shed: Path, invoke: Invoke) -> None:
    before = (written / "findings.json").stat().st_mtime_ns
    answer = invoke("compare", shed, "--out", written)
    assert answer.exit_code == 2
    assert "--overwrite" in answer.stderr
    assert "cases" not in answer.stderr, "it was run before the folder was looked at"
    assert (written / "findings.json").stat().st_mtime_ns == before


def test_overwrite(written: Path, shed: Path, invoke: Invoke) -> None:
    answer = invoke("run", shed, "--choose", "fitted=box", "--out", written, "--overwrite")
    assert answer.exit_code == 0
    assert not (written / "waveforms" / "c0001.npz").exists()
    assert list(written.parent.iterdir()) == [written]


def test_overwrite_leaves_what_is_not_ours(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    (tmp_path / "diary.txt").write_text("mine", encoding="utf-8")
    answer = invoke("compare", shed, "--out", tmp_path, "--overwrite")
    assert answer.exit_code == 2
    assert "'diary.txt'" in answer.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["diary.txt"]


def test_a_folder_that_cannot_be(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    """Below a file; root may write anywhere, but not there."""
    (tmp_path / "file").touch()
    answer = invoke("compare", shed, "--out", tmp_path / "file" / "out")
    assert answer.exit_code in (2, 3)
    assert str(tmp_path / "file") in answer.stderr
    assert "cases" not in answer.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_a_folder_that_is_a_file(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    answer = invoke("compare", shed, "--out", tmp_path / "out", "--overwrite")
    assert answer.exit_code == 2
    assert "is a file, expected a folder" in answer.stderr


@pytest.mark.skipif(
    subprocess.run(["id", "-u"], capture_output=True, check=True).stdout.strip() == b"0",
    reason="root may write into every folder",
)
def test_a_read_only_folder(shed: Path, tmp_path: Path, invoke: Invoke) -> None:
    tmp_path.chmod(0o555)
    try:
        answer = invoke("compare", shed, "--out", tmp_path / "out")
    finally:
        tmp_path.chmod(0o755)
    assert answer.exit_code == 2
    assert "cannot be written: Permission denied; choose another place" in answer.stderr


@pytest.mark.parametrize("option", ["--out", "--record"])
def test_a_place_that_cannot_be_is_refused_before_anything_is_run(
    shed: Path, tmp_path: Path, invoke: Invoke, option: str
) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    answer = invoke("compare", shed, option, tmp_path / "file" / "there")
    assert answer.exit_code == 2
    assert "cannot be written: part of its path is a file; choose another place" in answer.stderr
    assert " cases" not in answer.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_bad_input_writes_nothing(tmp_path: Path, invoke: Invoke) -> None:
    answer = invoke("compare", tmp_path / "nowhere.yaml", "--out", tmp_path / "out")
    assert answer.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_names_with_spaces_and_umlauts(shed: Path, tmp_path: Path, spawn: Spawn) -> None:
    """Of the file, of the folder, and of everything in the scenario; from another folder."""
    folder = tmp_path / "Höfe und Ställe"
    folder.mkdir()
    text = shed.read_text(encoding="utf-8").replace("Tool shed", "Gerätehütte 2 Ω")
    text = text.replace("shed rod", "Erder Süd").replace(" box: {at", " Kästchen ß: {at")
    text = text.replace("box: [box]", "Kästchen: [Kästchen ß]")
    (folder / "Ställe.yaml").write_text(text, encoding="utf-8")
    answer = spawn("compare", "Ställe.yaml", "--out", "Ergebnis für alle", cwd=folder)
    assert answer.returncode == 0, answer.stderr
    assert "Gerätehütte 2 Ω" in answer.stdout
    findings = json.loads((folder / "Ergebnis für alle" / "findings.json").read_text("utf-8"))
    assert findings["cases"][1]["axes"] == {"fitted": "Kästchen"}
    assert findings["cases"][1]["earths"][1]["name"] == "Erder Süd"
