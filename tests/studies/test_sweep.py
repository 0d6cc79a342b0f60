"""Sweeps by the real engine: cut off and gone on with, the same every time, nothing run twice."""

from __future__ import annotations

import dataclasses
import os
import resource
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import surgesim
from surgesim.errors import InputError
from surgesim.reading.tree import read_tree
from surgesim.scenario.axes import axis
from surgesim.studies.curves import common, curves, without
from surgesim.studies.journal import Journal
from surgesim.studies.points import Plan, tried
from surgesim.studies.sweep import Sweep
from surgesim.studies.sweep_results import SweepResults
from surgesim.studies.sweep_tables import records, write_tables

SHED = Path(__file__).parents[1] / "cli" / "data" / "shed.yaml"
LENGTH, LEAD = "cables.string.length", "arresters.box.leads.line"
TABLES = ("terminals.csv", "arresters.csv", "failures.csv")


def plan(**changes: object) -> Plan:
    """Lengths and leads of the shed: 8 cases, of which those without an arrester are 4 in pairs."""
    base = Plan(
        tree=read_tree(SHED),
        file=str(SHED),
        axes=(axis(LENGTH, "10 m, 60 m"), axis(LEAD, "0.2 m, 1.5 m")),
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


def tables(folder: Path) -> list[bytes]:
    return [(folder / name).read_bytes() for name in TABLES]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sweep run in one go by one worker."""
    folder = tmp_path_factory.mktemp("sweep") / "whole"
    sweep = Sweep(plan=plan(), folder=folder)
    sweep.run(workers=1)
    write_tables(plan(), folder)
    assert (sweep.computed, sweep.shared, sweep.failed) == (6, 2, 0)
    return folder


def test_a_case_of_a_sweep_is_the_case_run_by_itself(whole: Path) -> None:
    alone = surgesim.study(
        surgesim.load(SHED, settings={LENGTH: "10 m", LEAD: "1.5 m"}), chosen={"fitted": ["box"]}
    )
    (case,) = alone["cases"]
    results = SweepResults(whole)
    table = results.terminals
    mine = (
        (table[f"{LENGTH} [m]"] == 10.0)
        & (table[f"{LEAD} [m]"] == 1.5)
        & (table["axis fitted"] == "box")
    )
    assert table["peak_v"][mine].tolist() == [t["peak_v"] for t in case["terminals"]]
    assert results.arresters["charge_c"].size == 8
    assert results.failures["error"].size == 0


def test_cut_off_and_gone_on_with_it_is_the_same(whole: Path, tmp_path: Path) -> None:
    class CutOffError(Exception):
        pass

    def cut_off(finished: int) -> None:
        if finished >= 3:
            raise CutOffError

    folder = tmp_path / "cut"
    with pytest.raises(CutOffError):
        Sweep(plan=plan(), folder=folder).run(workers=2, watch=cut_off)
    with (folder / "journal").open("ab") as journal:
        journal.write(b"0123456789abcdef {half a li")
    rest = Sweep(plan=plan(), folder=folder)
    rest.run(workers=2)
    assert rest.dropped == 1
    assert 0 < rest.computed < 6
    write_tables(plan(), folder)
    assert tables(folder) == tables(whole)
    again = Sweep(plan=plan(), folder=folder)
    again.run(workers=2)
    assert (again.computed, again.shared) == (0, 0)


def command(folder: Path, *words: str) -> list[str]:
    return [
        sys.executable, "-m", "surgesim", "sweep", str(SHED), "--out", str(folder), "--quiet",
        "--vary", f"{LENGTH}=10 m, 60 m", "--vary", f"{LEAD}=0.2 m, 1.5 m", *words,
    ]  # fmt: skip


FULL = 9_000_000
"""Bytes that a file may have in the next test; what the engine writes of the shed is smaller."""


@pytest.mark.slow
def test_a_full_disk_loses_nothing_that_was_finished(whole: Path, tmp_path: Path) -> None:
    """The system lets no file grow beyond a size, and the journal comes close to it."""
    folder = tmp_path / "full"
    folder.mkdir()
    (folder / "sweep.json").write_bytes((whole / "sweep.json").read_bytes())
    one = len((whole / "journal").read_bytes()) // 8
    levels = {LENGTH: "10 m", LEAD: "0.2 m"}
    room = {"case": "p999999", "point": 999999, "levels": levels, "same_as": None}
    with Journal(folder / "journal") as journal:
        much = " " * (FULL - 2 * one - one // 2)
        nothing = {"axes": {}, "surge": "", "terminals": [], "much": much}
        journal.add({**room, "case_found": nothing})

    def narrow() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (FULL, resource.RLIM_INFINITY))

    found = subprocess.run(
        command(folder, "--workers", "1"), capture_output=True, text=True, check=False,
        preexec_fn=narrow, timeout=100,
    )  # fmt: skip
    assert found.returncode == 3
    assert "could not be written (File too large)" in found.stderr
    with Journal(folder / "journal") as journal:
        assert journal.dropped == 1
        assert len(journal.offsets) == 3
        del journal.offsets["p999999"]
    found = subprocess.run(command(folder), capture_output=True, text=True, check=False, timeout=99)
    assert found.returncode == 0, found.stderr
    with Journal(folder / "journal") as journal:
        kept = {case for case in journal.offsets if case != "p999999"}
        assert kept == {record["case"] for record in records(whole)}
        for record in records(whole):
            assert journal.record(record["case"]) == record


def test_a_folder_of_something_else_is_left_alone(whole: Path, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in whole.iterdir() if path.is_file()}
    other = plan(axes=(axis(LENGTH, "10 m, 50 m"),))
    with pytest.raises(InputError, match="belongs to another sweep: its axes differ"):
        Sweep(plan=other, folder=whole).run()
    assert {path: path.read_bytes() for path in whole.iterdir() if path.is_file()} == before
    stranger = tmp_path / "mine"
    stranger.mkdir()
    (stranger / "letter.txt").write_text("dear")
    with pytest.raises(InputError, match="is no sweep"):
        Sweep(plan=plan(), folder=stranger).run()
    assert [path.name for path in stranger.iterdir()] == ["letter.txt"]


def test_a_case_that_fails_is_kept_and_can_be_run_again(whole: Path, tmp_path: Path) -> None:
    folder = tmp_path / "hasty"
    hasty = Sweep(plan=plan(), folder=folder)
    hasty.run(timeout=1e-3)
    assert hasty.failed == 8
    assert len(list((folder / "failed").glob("*/reason.txt"))) == 6
    Sweep(plan=plan(), folder=folder).run()
    assert all("error" in record["case_found"] for record in records(folder))
    Sweep(plan=plan(), folder=folder).run(retry_failed=True)
    write_tables(plan(), folder)
    assert tables(folder) == tables(whole)


def test_curves_fold_what_makes_no_difference(whole: Path) -> None:
    found = curves(plan(), records(whole), along=plan().axes[0])
    assert {len(curve.readings) for curve in found} == {2}
    plus = [curve for curve in found if curve.pair == "plus to pe"]
    assert [curve.choice for curve in plus] == [
        ((LEAD, "0.2 m"), ("fitted", "none")),
        ((LEAD, "0.2 m"), ("fitted", "box")),
        ((LEAD, "1.5 m"), ("fitted", "none")),
        ((LEAD, "1.5 m"), ("fitted", "box")),
    ]
    assert plus[0].outcome == plus[2].outcome
    assert plus[1].stretches() == [("holds", 10.0, 60.0)]
    boxes = [curve for curve in plus if ("fitted", "box") in curve.choice]
    assert common(boxes) == (("fitted", "box"),)
    assert [curve.choice for curve in without(boxes, common(boxes))] == [
        ((LEAD, "0.2 m"),), ((LEAD, "1.5 m"),),
    ]  # fmt: skip


def test_the_same_seed_draws_the_same_points() -> None:
    drawn = plan(
        axes=(axis(LENGTH, "10 m to 100 m"), axis(LEAD, "0.1 m to 10 m log")),
        method="latin hypercube", samples=200, seed=3,
    )  # fmt: skip
    points = list(drawn.points())
    assert points == list(drawn.points())
    lengths = np.array([float(point[LENGTH].split()[0]) for point in points])
    leads = np.array([float(point[LEAD].split()[0]) for point in points])
    # one point in each of 200 equal parts of either range (McKay, Beckman, Conover 1979)
    assert sorted(((lengths - 10.0) / 90.0 * 200).astype(int).tolist()) == list(range(200))
    assert sorted((np.log10(leads / 0.1) / 2.0 * 200 + 1e-3).astype(int).tolist()) == list(
        range(200)
    )


def test_a_mistake_is_told_before_anything_is_run() -> None:
    with pytest.raises(InputError, match=r"\(with cables.string.length -1 m\)"):
        tried(plan(axes=(axis(LENGTH, "10 m, -1 m"),)))
    with pytest.raises(InputError, match="changes nothing"):
        tried(plan(axes=(axis(LEAD, "0.1 m, 0.2 m"),), chosen={"fitted": ["none"]}))
    with pytest.raises(InputError, match="without a number of values"):
        plan(axes=(axis(LENGTH, "10 m to 20 m"),))
    with pytest.raises(InputError, match="nothing is varied"):
        plan(axes=())


def test_far_too_many_cases_are_counted_and_not_run(tmp_path: Path) -> None:
    found = subprocess.run(
        [
            sys.executable, "-m", "surgesim", "sweep", str(SHED), "--out", str(tmp_path / "x"),
            "--vary", f"{LENGTH}=10 m to 90 m in 60 values",
            "--vary", "earths.shed rod.measured=1 ohm to 90 ohm in 300 values",
            "--vary", "earths.roof earth.measured=1 ohm to 90 ohm in 300 values",
        ],
        capture_output=True, text=True, check=False, timeout=200, env={**os.environ},
    )  # fmt: skip
    assert found.returncode == 2
    assert "about 10,800,000 cases" in found.stderr
    assert "--yes" in found.stderr
    assert not (tmp_path / "x").exists()


def test_a_point_that_cannot_be_is_a_failure_of_its_own(tmp_path: Path) -> None:
    text = SHED.read_text().replace("roof: {}", "roof: {x: 0 m, y: 0 m}")
    text = text.replace("shed: {}", "shed: {x: 50 m, y: 0 m}")
    file = tmp_path / "apart.yaml"
    file.write_text(text)
    drawn = plan(
        tree=read_tree(file), axes=(axis(LENGTH, "49 m to 51 m"),), method="sobol", samples=2,
        chosen={"fitted": ["box"]},
    )  # fmt: skip
    sweep = Sweep(plan=drawn, folder=tmp_path / "drawn")
    sweep.run()
    assert sweep.failed == 1
    write_tables(drawn, tmp_path / "drawn")
    assert "shorter than" in (tmp_path / "drawn" / "failures.csv").read_text()
