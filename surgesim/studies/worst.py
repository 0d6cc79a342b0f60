"""The worst of several records: of a terminal pair, of an arrester element."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from surgesim.findings.verdicts import severity

Record = Mapping[str, Any]
Badness = tuple[int, float]


def terminal_badness(terminal: Record) -> Badness:
    """Order of terminal records: the verdict, then how little is left.

    Beyond its limit, a voltage is as bad as it is far beyond it. Below, what counts is the room
    left beside the margin asked, which need not be the same of two terminals: 28 % where 25 % is
    asked is closer than 16 % where none is.
    """
    rank = severity(terminal["verdict"])
    if terminal["verdict"] == "exceeded" and terminal["ratio"] is not None:
        return rank, -float(terminal["ratio"])
    return rank, -room(terminal)


def room(terminal: Record) -> float:
    """Limit over peak, in units of what was asked: 1 is just that.

    0 where the pair's own insulation fired, infinite where the pair saw nothing at all.
    """
    if terminal["ratio"] is None:
        return 0.0 if terminal["peak_v"] is None else math.inf
    ratio, asked = float(terminal["ratio"]), float(terminal["asked_percent"])
    return ratio / (1.0 + asked / 100.0)


def arrester_badness(arrester: Record) -> Badness:
    """Order of arrester records: the verdict, then the share of the rating."""
    share = arrester["share_of_rating"]
    return severity(arrester["verdict"]), -math.inf if share is None else share


def readings(case: Record, kind: str) -> Iterator[dict[str, Any]]:
    """A case's records of one kind in every legitimate outcome.

    Its own, and where it is a knife-edge those of the outcomes that might as well be: the worst
    of a case is the worst of them all.
    """
    yield from case[kind]
    for other in (case.get("crosscheck") or {}).get("others", ()):
        yield from other[kind]


def worst_terminals(cases: Iterable[Record], worst_of: Iterable[str]) -> list[dict[str, Any]]:
    """For each equipment pair the worst record, with the case it came from."""
    records = _records(cases, "terminals", list(worst_of))
    return _worst_each(records, ("equipment", "pair"), terminal_badness)


def worst_arresters(cases: Iterable[Record], worst_of: Iterable[str]) -> list[dict[str, Any]]:
    """For each slot and element the worst record, with the case it came from."""
    records = _records(cases, "arresters", list(worst_of))
    return _worst_each(records, ("name", "element"), arrester_badness)


def _records(cases: Iterable[Record], kind: str, worst_of: list[str]) -> Iterator[dict[str, Any]]:
    for case in cases:
        origin = {
            "surge": case["surge"],
            "case": case["id"],
            "worst_of": {axis: case["axes"].get(axis) for axis in worst_of},
        }
        for record in readings(case, kind):
            yield {**record, **origin}


def _worst_each(
    records: Iterable[dict[str, Any]], keys: tuple[str, str], badness: Callable[[Record], Badness]
) -> list[dict[str, Any]]:
    """The first of the worst for each key, keys in order of appearance."""
    worst: dict[tuple[str, ...], dict[str, Any]] = {}
    for record in records:
        key = tuple(record[name] for name in keys)
        if key not in worst or badness(record) > badness(worst[key]):
            worst[key] = record
    return list(worst.values())
