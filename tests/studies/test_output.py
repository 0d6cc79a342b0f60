from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from surgesim.errors import InputError, SurgesimError
from surgesim.network.waveforms import Waveforms, Window
from surgesim.studies.compare import compose
from surgesim.studies.info import StudyInfo
from surgesim.studies.output import ResultFolder
from surgesim.studies.tables import to_csv, to_json

Dairy = Callable[[], tuple[StudyInfo, list[dict[str, Any]]]]


@pytest.fixture
def findings(dairy_study: Dairy) -> dict[str, Any]:
    return compose(*dairy_study())


def waveforms(window: Window, points: int) -> Waveforms:
    time = np.linspace(0.0, 1e-5, points)
    return Waveforms(
        window=window, time=time, voltages={"array/plus": time * 2, "näher/pe": time * 3},
        currents={"meter": time * 4}, step=1e-8, stop=1e-5,
    )  # fmt: skip


FRONT, TAIL = waveforms("front", 5), waveforms("tail", 7)


def write(target: Path, findings: dict[str, Any], *, overwrite: bool = False) -> Path:
    with ResultFolder(target, overwrite=overwrite) as folder:
        folder.write_waveforms("c0001", FRONT, TAIL)
        (folder.figures / "a.svg").write_bytes(b"<svg/>")
        folder.write_findings(findings)
        return folder.publish()


def everything(folder: Path) -> dict[str, bytes]:
    """Content of every file below a folder, hidden ones too."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_what_is_in_the_folder(tmp_path: Path, findings: dict[str, Any]) -> None:
    written = write(tmp_path / "out", findings)
    assert set(everything(tmp_path)) == {
        "out/findings.json", "out/findings.csv", "out/figures/a.svg", "out/waveforms/c0001.npz",
    }  # fmt: skip
    assert (written / "findings.json").read_text(encoding="utf-8") == to_json(findings)
    assert (written / "findings.csv").read_bytes().decode() == to_csv(findings)


def test_waveforms_read_back_without_us(tmp_path: Path, findings: dict[str, Any]) -> None:
    written = write(tmp_path / "out", findings)
    with np.load(written / "waveforms" / "c0001.npz", allow_pickle=False) as kept:
        assert set(kept) == {
            f"{window}_{part}"
            for window in ("front", "tail")
            for part in ("time", "nodes", "voltages", "branches", "currents")
        }
        assert kept["front_nodes"].tolist() == ["array/plus", "näher/pe"]
        assert kept["tail_voltages"].shape == (2, 7)
        assert np.array_equal(kept["tail_voltages"][1], TAIL.voltages["näher/pe"])
        assert np.array_equal(kept["front_currents"], [FRONT.currents["meter"]])
        assert np.array_equal(kept["front_time"], FRONT.time)


def test_waveforms_without_currents(tmp_path: Path, findings: dict[str, Any]) -> None:
    bare = Waveforms(
        window="front", time=FRONT.time, voltages={}, currents={}, step=1e-8, stop=1e-5
    )
    with ResultFolder(tmp_path / "out") as folder:
        folder.write_waveforms("c0001", bare, TAIL)
        folder.write_findings(findings)
        folder.publish()
    with np.load(tmp_path / "out/waveforms/c0001.npz", allow_pickle=False) as kept:
        assert kept["front_currents"].shape == (0, 5)


@pytest.mark.parametrize("name", ["../c1", "a/b", "", "c 1"])
def test_only_case_ids_name_files(tmp_path: Path, name: str) -> None:
    with (
        ResultFolder(tmp_path / "out") as folder,
        pytest.raises(ValueError, match="expected a case id"),
    ):
        folder.write_waveforms(name, FRONT, TAIL)


def test_missing_parents_are_made(tmp_path: Path, findings: dict[str, Any]) -> None:
    assert (write(tmp_path / "a" / "b" / "out", findings) / "findings.json").is_file()


def test_an_empty_folder_is_filled(tmp_path: Path, findings: dict[str, Any]) -> None:
    (tmp_path / "out").mkdir()
    assert (write(tmp_path / "out", findings) / "findings.csv").is_file()


def test_the_folder_is_as_open_as_any_other(tmp_path: Path, findings: dict[str, Any]) -> None:
    (tmp_path / "other").mkdir()
    written = write(tmp_path / "out", findings)
    assert written.stat().st_mode == (tmp_path / "other").stat().st_mode


def test_nothing_is_there_before_it_is_published(tmp_path: Path, findings: dict[str, Any]) -> None:
    with ResultFolder(tmp_path / "out") as folder:
        folder.write_findings(findings)
        assert not (tmp_path / "out").exists()
    assert list(tmp_path.iterdir()) == []


def test_an_error_leaves_no_trace(tmp_path: Path, findings: dict[str, Any]) -> None:
    def interrupted() -> None:
        with ResultFolder(tmp_path / "out") as folder:
            folder.write_findings(findings)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_overwritten_unasked(tmp_path: Path, findings: dict[str, Any]) -> None:
    write(tmp_path / "out", findings)
    before = everything(tmp_path)
    with pytest.raises(InputError, match="not empty") as caught:
        write(tmp_path / "out", findings)
    assert "--overwrite" in caught.value.hint
    assert everything(tmp_path) == before


def test_overwriting_leaves_only_the_new(tmp_path: Path, findings: dict[str, Any]) -> None:
    write(tmp_path / "out", findings)
    findings["scenario"]["title"] = "another"
    with ResultFolder(tmp_path / "out", overwrite=True) as folder:
        folder.write_findings(findings)
        folder.publish()
    assert set(everything(tmp_path)) == {"out/findings.json", "out/findings.csv"}
    assert '"another"' in (tmp_path / "out/findings.json").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("files", "why"),
    [
        ({"thesis.tex": "years"}, "it holds 'thesis.tex'"),
        ({"findings.json": "{}"}, "no findings.json written here"),
        ({"findings.json": '{"schema": "other/1"}'}, "no findings.json written here"),
        ({"findings.csv": "a,b"}, "no findings.json written here"),
        (
            {"findings.json": '{\n  "schema": "surgesim.findings/1"', "notes.txt": "mine"},
            "it holds 'notes.txt'",
        ),
    ],
)
def test_what_is_not_ours_is_never_overwritten(
    tmp_path: Path, findings: dict[str, Any], files: dict[str, str], why: str
) -> None:
    (tmp_path / "out").mkdir()
    for name, text in files.items():
        (tmp_path / "out" / name).write_text(text)
    before = everything(tmp_path)
    with pytest.raises(InputError, match=why) as caught:
        write(tmp_path / "out", findings, overwrite=True)
    assert caught.value.exit_code == 2
    assert everything(tmp_path) == before


def test_a_folder_called_findings_json_is_not_ours(
    tmp_path: Path, findings: dict[str, Any]
) -> None:
    (tmp_path / "out" / "findings.json").mkdir(parents=True)
    with pytest.raises(InputError, match=r"no findings\.json written here"):
        write(tmp_path / "out", findings, overwrite=True)


def test_a_file_is_no_folder(tmp_path: Path, findings: dict[str, Any]) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(InputError, match="is a file, expected a folder"):
        write(tmp_path / "out", findings, overwrite=True)
    assert (tmp_path / "out").read_text() == "mine"


def test_the_target_is_looked_at_before_anything_is_run(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.tex").write_text("years")
    with (
        pytest.raises(InputError),
        ResultFolder(tmp_path / "out", overwrite=True),
    ):
        pytest.fail("entered")


def test_what_appeared_meanwhile_is_kept(tmp_path: Path, findings: dict[str, Any]) -> None:
    with ResultFolder(tmp_path / "out") as folder:
        folder.write_findings(findings)
        (tmp_path / "out").mkdir()
        (tmp_path / "out" / "thesis.tex").write_text("years")
        with pytest.raises(InputError, match="not empty"):
            folder.publish()
    assert everything(tmp_path) == {"out/thesis.tex": b"years"}


def full_disk(*_args: object, **_kwargs: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize(
    "step", ["os.fsync", "os.replace", "pathlib.Path.write_text", "numpy.savez"]
)
def test_a_full_disk(
    tmp_path: Path, findings: dict[str, Any], monkeypatch: pytest.MonkeyPatch, step: str,
    overwrite: bool,
) -> None:  # fmt: skip
    if overwrite:
        write(tmp_path / "out", findings)
    before = everything(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(step, full_disk)
        with pytest.raises(SurgesimError, match="No space left on device") as caught:
            write(tmp_path / "out", findings, overwrite=overwrite)
    assert "earlier results are kept" in str(caught.value)
    assert everything(tmp_path) == before


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(errno.EIO, "Input/output error")])
def test_the_old_comes_back_when_the_new_cannot_take_its_place(
    tmp_path: Path, findings: dict[str, Any], monkeypatch: pytest.MonkeyPatch, error: Any
) -> None:
    write(tmp_path / "out", findings)
    before = everything(tmp_path)
    replace, calls = os.replace, []

    def second_fails(*paths: Any) -> None:
        calls.append(paths)
        if len(calls) == 2:
            raise error
        replace(*paths)

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", second_fails)
        with pytest.raises((KeyboardInterrupt, SurgesimError)):
            write(tmp_path / "out", findings, overwrite=True)
    assert len(calls) == 3
    assert everything(tmp_path) == before


KILLED = """
import json, os, sys
from pathlib import Path
from surgesim.studies.output import ResultFolder

replace, calls = os.replace, 0
def kill_before_the_second(*paths):
    global calls
    calls += 1
    if calls == int(sys.argv[2]):
        os._exit(9)
    replace(*paths)
os.replace = kill_before_the_second
with ResultFolder(Path(sys.argv[1]), overwrite=True) as folder:
    folder.write_findings(json.loads(Path(sys.argv[1], "findings.json").read_text()))
    folder.publish()
"""


@pytest.mark.parametrize("rename", [1, 2])
def test_killed_between_two_renames_nothing_is_lost(
    tmp_path: Path, findings: dict[str, Any], rename: int
) -> None:
    write(tmp_path / "out", findings)
    before = everything(tmp_path / "out")
    call = [sys.executable, "-c", KILLED, str(tmp_path / "out"), str(rename)]
    assert subprocess.run(call, check=False).returncode == 9
    # whatever is next called on the folder finds the earlier results where they were
    with pytest.raises(InputError, match="not empty"), ResultFolder(tmp_path / "out"):
        pytest.fail("entered")
    assert everything(tmp_path / "out") == before


def test_earlier_results_that_cannot_be_removed_are_named(
    tmp_path: Path, findings: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path / "out", findings)
    findings["scenario"]["title"] = "another"

    def stuck(_path: Path, *, ignore_errors: bool = False) -> None:
        if not ignore_errors:
            raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr("shutil.rmtree", stuck)
    with pytest.raises(SurgesimError, match=r"results are in place.*\.out\.previous-"):
        write(tmp_path / "out", findings, overwrite=True)
    assert '"another"' in (tmp_path / "out/findings.json").read_text(encoding="utf-8")


def test_a_parent_that_cannot_be_written(tmp_path: Path, findings: dict[str, Any]) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="out: cannot be written: part of its path is a file"):
        write(tmp_path / "file" / "out", findings)


def test_names_that_look_like_patterns(tmp_path: Path, findings: dict[str, Any]) -> None:
    target = tmp_path / "out[1]*"
    write(target, findings)
    write(target, findings, overwrite=True)
    assert {path.name for path in tmp_path.iterdir()} == {"out[1]*"}
