"""The other outcomes of recorded knife-edge cases, run again by the second solver.

A record says by how much which levels were moved to come to an outcome. They are moved as much
again, and never by more than what counts as an edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from surgesim.errors import SurgesimError
from surgesim.findings.knife_edge import EDGE
from surgesim.network.circuit import Network
from surgesim.studies.crosscheck_tally import is_knife_edge
from surgesim.studies.knife_edge import Bench, Moved, as_other, labels
from surgesim.studies.record_compare import DIFFERS, SECOND_SOLVER, numbers_beside
from surgesim.studies.record_reading import RecordReader
from surgesim.studies.run import Result
from surgesim.studies.worst import Record


class KnifeEdges:
    """The cases of a record that claim more than one outcome."""

    def __init__(self, record: RecordReader) -> None:
        self._claimed = {case["id"]: case for case in record.findings["cases"]}
        self._inputs = {recorded.case.id: recorded.inputs for recorded in record.cases}

    def check(self, result: Result) -> Result:
        """The result, with every other outcome that the record claims for its case run again.

        Raises SurgesimError for levels that are none of the case's, or moved by too much.
        """
        claimed, network = self._claimed.get(result.case.id), result.network
        if claimed is None or network is None or not is_knife_edge(claimed):
            return result
        fine, coarse = self._inputs[result.case.id]
        bench = Bench(
            case=result.case, network=network,
            steps=(fine.step, coarse.step), stops=(fine.stop, coarse.stop),
        )  # fmt: skip
        crosscheck = claimed["crosscheck"]
        others = [
            as_other(network, bench.outcome(_moved(other, network)))
            for other in crosscheck["others"]
        ]
        return replace(result, crosscheck={**crosscheck, "others": others})


def with_others(compared: dict[str, Any], claimed: Record, found: Record) -> dict[str, Any]:
    """A compared case that also differs where one of its other outcomes does."""
    numbers = list(_differing(claimed, found)) if is_knife_edge(claimed) else []
    if not numbers:
        return compared
    return {**compared, "status": DIFFERS, "numbers": [*compared["numbers"], *numbers]}


def _differing(claimed: Record, found: Record) -> Iterator[dict[str, Any]]:
    """Numbers of the claimed other outcomes that are not what was found again."""
    pairs = zip(claimed["crosscheck"]["others"], found["crosscheck"]["others"], strict=True)
    for mine, again in pairs:
        one, other = ({**claimed, **outcome} for outcome in (mine, again))
        for item in numbers_beside(one, other, SECOND_SOLVER):
            if item["status"] == DIFFERS:
                yield {**item, "what": f"other outcome, {item['what']}"}


def _moved(outcome: Mapping[str, Any], network: Network) -> Moved:
    names = {label: name for name, label in labels(network).items()}
    moved = outcome["moved_percent"]
    for label, percent in moved.items():
        if label not in names:
            raise SurgesimError(f"the record moves the level of {label!r}, which has none")
        if abs(percent) > 100.0 * EDGE * (1.0 + 1e-9):
            raise SurgesimError(
                f"the record moves the level of {label} by {percent:g} %, and an edge is"
                f" {100.0 * EDGE:g} %"
            )
    return {names[label]: percent / 100.0 for label, percent in moved.items()}
