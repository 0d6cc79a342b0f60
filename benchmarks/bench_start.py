"""How long it takes until something happens: help, loading the dairy, writing its results."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from machine import DAIRY, Clock, heading, table

TIMES = 5

PARTS = {
    "python -c pass": [sys.executable, "-c", "pass"],
    "surgesim --help": [sys.executable, "-m", "surgesim", "--help"],
    "surgesim compare --help": [sys.executable, "-m", "surgesim", "compare", "--help"],
    "import of all a study needs": [sys.executable, "-c", "import surgesim.studies.study"],
    "surgesim show DAIRY --list": [sys.executable, "-m", "surgesim", "show", str(DAIRY), "--list"],
}


def main() -> None:
    """Time whole processes, then loading and writing within one."""
    heading("Starting, reading, writing")
    table([*processes(), *within()])


def processes() -> list[tuple[str, str]]:
    """The best of a few runs of each command."""
    best: dict[str, float] = {}
    for name, command in PARTS.items():
        for _ in range(TIMES):
            clock = Clock()
            with clock(name):
                subprocess.run(command, capture_output=True, check=True)
            best[name] = min(clock.seconds[name], best.get(name, float("inf")))
    return [(name, f"{1e3 * seconds:7.0f} ms") for name, seconds in best.items()]


def within() -> list[tuple[str, str]]:
    """Loading the dairy, building all its cases, and writing the results of one of them."""
    from surgesim.scenario.file import load
    from surgesim.studies.output import ResultFolder
    from surgesim.studies.run import built, run

    clock = Clock()
    load(DAIRY)
    with clock("load of the dairy, 152 cases"):
        file = load(DAIRY)
    with clock("build of all of them"):
        built(file.all_cases)
    (result,) = run(file.all_cases[:1])
    assert result.front is not None
    assert result.tail is not None
    with (
        tempfile.TemporaryDirectory() as name,
        ResultFolder(Path(name) / "out") as folder,
        clock("waveforms of one case to disk"),
    ):
        folder.write_waveforms(result.case.id, result.front, result.tail)
    return [(name, f"{1e3 * seconds:7.0f} ms") for name, seconds in clock.seconds.items()]


if __name__ == "__main__":
    main()
