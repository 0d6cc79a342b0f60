"""Told errors against true ones: each value of a case beside the second solver's in fine steps.

``python -m tests.attacks.numerical_error FIRST LAST`` prints how often the estimate bounds the
true error over so many cases of the dairy and random installations; docs/findings.md has the
figures of two samples of eighty.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from surgesim.errors import EngineError
from surgesim.findings.arresters import measure_arrester
from surgesim.findings.earths import measure_earth
from surgesim.findings.insulation import flashovers
from surgesim.findings.numerical import FIELDS, floors, in_percent
from surgesim.findings.record import Record
from surgesim.findings.terminals import measure_terminal
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, solve
from surgesim.reading.data import data_folder
from surgesim.scenario.file import Case, load, loads
from surgesim.scenario.written import as_yaml
from surgesim.studies.certify import fired_in
from surgesim.studies.run import measure, run
from tests.attacks.installations import installation

FINER, TAIL_POINTS = 5, 50_000
"""Steps of the second solver to one of the front's, and over a tail at least."""

SHUFFLE = 7
"""Seed of the order in which the dairy's cases are taken: neighbours are too alike."""


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One value: which, whether anything fired in its case, its true and its told error, %."""

    case: str
    field: str
    fired: bool
    true: float
    told: float


def cases(first: int, last: int) -> Iterator[Case]:
    """Cases of the dairy by position in a shuffled list, installations by seed."""
    dairy = list(load(data_folder("scenarios") / "brackenmoss-dairy.yaml").all_cases)
    random.Random(SHUFFLE).shuffle(dairy)
    yield from dairy[first:last]
    for seed in range(200 + first, 200 + last):
        yield from loads(as_yaml(installation(seed)), name=f"seed {seed}").all_cases


def compared(case: Case) -> Iterator[Compared]:
    """Every value of a case that has an error; none where the two solvers differ in what fires."""
    (result,) = run([case], workers=1)
    found = measure(result)
    assert result.network is not None
    assert result.front is not None
    assert result.tail is not None
    record = exact(result.network, result.front, result.tail)
    truth = _sections(result.network, record)
    fired = fired_in(result.network, result.front, result.tail)
    if frozenset(f.label for f in flashovers(result.network, record).values()) != fired:
        return
    scales = floors(found.sections)
    for section, findings in found.sections.items():
        for finding, other in zip(findings, truth[section], strict=True):
            for field in FIELDS[section]:
                mine, theirs = getattr(finding, field), getattr(other, field)
                told = finding.numerical_error.percent[field]
                if mine is not None and theirs is not None:
                    true = in_percent(abs(abs(mine) - abs(theirs)), mine, field, scales)
                    yield Compared(
                        case=case.id, field=field, fired=bool(fired), true=true, told=told
                    )


def exact(network: Network, front: Waveforms, tail: Waveforms) -> Record:
    """The same times by the second solver."""
    fine = fitting_step(network, largest=front.step / FINER)
    coarse = fitting_step(network, largest=max(front.step, tail.stop / TAIL_POINTS))
    return Record(
        solve(network, step=fine, stop=front.stop),
        replace(solve(network, step=coarse, stop=tail.stop), window="tail"),
    )


def _sections(network: Network, record: Record) -> dict[str, Sequence[Any]]:
    fired = flashovers(network, record)
    return {
        "terminals": [
            measure_terminal(
                probe, record, flashover=fired.get(probe.insulation or ""), asked_percent=25.0
            )
            for probe in network.terminals
        ],
        "arresters": [measure_arrester(probe, record) for probe in network.arresters],
        "earths": [measure_earth(probe, record) for probe in network.earths],
    }


def bounded(values: Iterable[Compared]) -> float:
    """Share of the values whose told error is at or above the true one."""
    return float(np.mean([value.told >= value.true for value in values]))


def line(name: str, values: Sequence[Compared]) -> str:
    """One row: how many, how often bounded, and the sizes of both errors."""
    true, told = ([getattr(v, kind) for v in values] for kind in ("true", "told"))
    medians = np.median(true), np.median(told)
    marked = 100 * np.mean(np.array(told) > 1.0)
    return (
        f"{name:22s} {len(values):5d}  bounded {100 * bounded(values):5.1f} %  median true"
        f" {medians[0]:.4f} told {medians[1]:.3f}  true above 1 %"
        f" {100 * np.mean(np.array(true) > 1.0):4.1f} %  marked {marked:4.1f} %"
    )


def main(first: int, last: int) -> None:
    """Print the table over cases ``first`` to ``last`` of both kinds."""
    values: list[Compared] = []
    for case in cases(first, last):
        try:
            values += compared(case)
        except EngineError as refusal:
            print(f"{case.id}: {refusal.message}")
    print(line("all", values))
    for field in sorted({value.field for value in values}):
        print(line(field, [value for value in values if value.field == field]))
    for word, fired in (("nothing fired", False), ("something fired", True)):
        print(line(word, [value for value in values if value.fired is fired]))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
