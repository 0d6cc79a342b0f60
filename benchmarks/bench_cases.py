"""Where the time of a case goes, and what surgesim adds to ngspice.

Cases of the dairy without and with a flashover. The overhead is the whole case in one thread
over ``ngspice -b -r`` alone on the two decks that gave its result; where insulation flashes
over, a first front in coarser steps has gone before and counts as overhead.
"""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

from machine import DAIRY, Clock, heading, table

from surgesim.build import build
from surgesim.engine import engine_version, run_network
from surgesim.findings.case import measure as measure_waves
from surgesim.scenario.file import Case, load
from surgesim.studies.run import case_info, measure, run

QUIET = {"fitted": ["both"], "bond": ["in the duct"], "array earth": ["dry"]}
FIRING = {"fitted": ["barn only"], "card": ["class II"], "bond": ["none"], "array earth": ["dry"]}
CASES = 4


def main() -> None:
    """Print one table for cases that hold and one for cases that flash over."""
    heading("One case of the dairy")
    file = load(DAIRY)
    list(run(file.all_cases[:1]))  # imports and caches
    for title, chosen in (("nothing flashes over", QUIET), ("something flashes over", FIRING)):
        cases = file.cases(chosen=chosen)[:CASES]
        print(f"{title}: mean of {len(cases)} cases")
        table(rows(cases))


def rows(cases: tuple[Case, ...]) -> list[tuple[str, str]]:
    """Means over the cases: each step by itself, and the whole against ngspice alone."""
    clock = Clock()
    points = sum(by_steps(case, clock) for case in cases)
    for case in cases:
        with clock("whole case"):
            for result in run([case], workers=1):
                measure(result)
    names = ("build", "engine, front and tail", "measure", "whole case", "ngspice alone")
    overhead = clock.seconds["whole case"] / clock.seconds["ngspice alone"]
    return [
        *((name, f"{1e3 * clock.seconds[name] / len(cases):7.1f} ms") for name in names),
        (
            "whole over ngspice",
            f"{overhead:10.2f}",
        ),
        ("points", f"{points / len(cases):7.0f}"),
    ]


def by_steps(case: Case, clock: Clock) -> int:
    """Run a case step by step, then its decks alone; the points of both windows."""
    with clock("build"):
        network = build(case.scenario)
    with clock("engine, front and tail"):
        front, tail = run_network(network)
    with clock("measure"):
        measure_waves(network, front, tail, info=case_info(case), asked_margin_percent=25.0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        run_network(network, keep=folder)
        with clock("ngspice alone"):
            for deck in ("front.cir", "tail.cir"):
                by_hand(deck, folder)
    return len(front.time) + len(tail.time)


def by_hand(deck: str, folder: Path) -> None:
    """``ngspice -b -r`` on a deck."""
    command = [engine_version().path, "-n", "-b", "-r", "out.raw", deck]
    subprocess.run(command, cwd=folder, capture_output=True, check=True)


if __name__ == "__main__":
    main()
