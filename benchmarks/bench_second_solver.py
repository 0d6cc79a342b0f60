"""What `--crosscheck` adds to a case: the second solver's run of it, and measuring that.

The cases of bench_cases.py, once compiled. What is compiled is kept for the next process.
"""

from __future__ import annotations

from bench_cases import CASES, FIRING, QUIET
from machine import DAIRY, Clock, heading, table

from surgesim.build import build
from surgesim.engine import run_network
from surgesim.findings.case import measure
from surgesim.scenario.file import Case, load
from surgesim.studies.run import case_info
from surgesim.studies.second_solver import by_second_solver


def main() -> None:
    """Print one table for cases that hold and one for cases that flash over."""
    heading("One case of the dairy by the second solver")
    file = load(DAIRY)
    first = Clock()
    points_of(file.all_cases[0], first)
    print(f"the first, with compiling or reading what was compiled: {first.seconds['run']:.1f} s")
    for title, chosen in (("nothing flashes over", QUIET), ("something flashes over", FIRING)):
        cases = file.cases(chosen=chosen)[:CASES]
        print(f"{title}: mean of {len(cases)} cases")
        table(rows(cases))


def rows(cases: tuple[Case, ...]) -> list[tuple[str, str]]:
    """Means over the cases."""
    clock = Clock()
    points = sum(points_of(case, clock) for case in cases)
    names = {"engine": "ngspice, front and tail", "run": "second solver", "measure": "measure"}
    return [
        *(
            (told, f"{1e3 * clock.seconds[name] / len(cases):7.1f} ms")
            for name, told in names.items()
        ),
        ("points", f"{points / len(cases):7.0f}"),
    ]


def points_of(case: Case, clock: Clock) -> int:
    """Run a case by both and measure the second one's; its points over the whole surge."""
    network = build(case.scenario)
    with clock("engine"):
        front, tail = run_network(network)
    with clock("run"):
        again = by_second_solver(
            network, steps=(front.step, tail.step), stops=(front.stop, tail.stop)
        )
    with clock("measure"):
        measure(network, *again, info=case_info(case), asked_margin_percent=25.0)
    return len(again[1].time)


if __name__ == "__main__":
    main()
