"""Ended from outside in the middle of the work: everything stops and nothing is left."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest


def processes_in(folder: Path) -> Iterator[int]:
    """Every process whose working folder lies in ``folder``, as those of the engine do."""
    for link in Path("/proc").glob("[0-9]*/cwd"):
        try:
            where = link.readlink()
        except OSError:
            continue  # it has ended meanwhile
        if folder in where.parents:
            yield int(link.parent.name)


PATIENCE = 180
"""Seconds for what takes one on an idle machine, and many where others are at work as well."""


def wait_for_an_engine(folder: Path, process: subprocess.Popen[str]) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until and process.poll() is None:
        if any(processes_in(folder)):
            return
        time.sleep(0.02)
    pytest.fail("no engine process was seen")


def left_in(folder: Path) -> list[int]:
    """Processes that stay; one that has been killed takes a moment to be gone."""
    until = time.monotonic() + 10
    while (left := list(processes_in(folder))) and time.monotonic() < until:
        time.sleep(0.02)
    return left


@pytest.mark.skipif(not Path("/proc/self/cwd").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize(
    ("signals", "code"),
    [([signal.SIGINT], 130), ([signal.SIGINT] * 3, 130), ([signal.SIGTERM], 143)],
    ids=["Ctrl-C", "Ctrl-C three times", "kill"],
)
def test_nothing_is_left(
    signals: list[signal.Signals], code: int, dairy: Path, tmp_path: Path
) -> None:
    engines, results = tmp_path / "engines", tmp_path / "results"
    engines.mkdir()
    results.mkdir()
    process = subprocess.Popen(
        [sys.executable, "-m", "surgesim", "compare", dairy, "--out", results / "out"],
        env={**os.environ, "TMPDIR": str(engines)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    wait_for_an_engine(engines, process)
    assert list(results.iterdir()), "the results are being collected beside their place"
    for number in signals:
        process.send_signal(number)
    stdout, stderr = process.communicate(timeout=PATIENCE)
    assert process.returncode == code, stderr
    assert "Traceback" not in stderr
    assert stdout == ""
    assert left_in(engines) == []
    assert list(engines.iterdir()) == []
    assert list(results.iterdir()) == []
