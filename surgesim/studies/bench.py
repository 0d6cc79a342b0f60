"""One case of a study, run again in variants by the second solver.

It is quick and needs no ngspice, and the case as it stands is run by it as well, so that two runs
of one solver are compared.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from surgesim.errors import InputError, SurgesimError
from surgesim.findings.case import CaseFindings, CaseInfo
from surgesim.findings.case import measure as measure_case
from surgesim.findings.record import Record as Waves
from surgesim.findings.verdicts import severity
from surgesim.network.circuit import Network
from surgesim.studies.guess import MakeNetwork
from surgesim.studies.worst import Record, room

Data = dict[str, Any]

SOLVER = "second solver, trapezoidal, steps by what happens"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Runs variants of one case over the windows in which it was run, and reads them."""

    record: Record
    asked: float

    def made(self, make: MakeNetwork) -> Data:
        """The outcome of a network that may not come about, or the reason why it does not."""
        try:
            return self.outcome(make())
        except InputError as error:
            return {"reason": error.problems[0].message}

    def outcome(self, network: Network) -> Data:
        """The tightest terminal of a network and the case's verdict; or the reason instead."""
        try:
            _, found = self.run(network)
        except (SurgesimError, ValueError) as error:
            return {"reason": getattr(error, "message", None) or str(error)}
        return read(found.as_json())

    def run(self, network: Network) -> tuple[Waves, CaseFindings]:
        """A network's waveforms and what is measured on them. Raises SurgesimError, ValueError."""
        from surgesim.studies.second_solver import by_second_solver

        windows = self.record["windows"]
        info = CaseInfo(id=self.record["id"], axes=self.record["axes"], surge=self.record["surge"])
        front, tail = by_second_solver(
            network,
            steps=(windows["front"]["step_s"], windows["tail"]["step_s"]),
            stops=(windows["front"]["stop_s"], windows["tail"]["stop_s"]),
        )
        found = measure_case(network, front, tail, info=info, asked_margin_percent=self.asked)
        return Waves(front, tail), found


def read(found: Record) -> Data:
    """The tightest terminal of a case, and the worst verdict of all of them."""
    tightest = min(found["terminals"], key=room)
    verdicts = [terminal["verdict"] for terminal in found["terminals"]]
    keys = ("equipment", "pair", "peak_v", "withstand_v", "margin_percent", "asked_percent")
    return {
        **{key: tightest[key] for key in keys},
        "verdict": max(verdicts, key=severity),
    }


def same_aside(one: Any, other: Any) -> bool:
    """Whether two computers found the same: words equal, numbers within 1 %, or 1 V, A, point."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=0.01, abs_tol=1.0)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same_aside(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same_aside, one, other))
    return bool(one == other)
