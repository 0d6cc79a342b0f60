"""How much the verdict depends on each guess: the deciding case run again at both of its ends.

A study's answer rests on one alternative, and there on the terminal with the least room in the
worst case of it. Each guess is moved to both ends of its range, alone, and that case is run again
by the second solver, which is quick and needs no ngspice; so is the case as it stands, so that
two runs of one solver are compared. What moves is the margin beyond what is asked of the tightest
terminal of the case, in percentage points; a guess may make another terminal the tightest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from surgesim.build import build
from surgesim.engine import map_networks
from surgesim.findings.verdicts import margin_percent
from surgesim.scenario.file import Case
from surgesim.scenario.schema import Scenario
from surgesim.studies.bench import SOLVER, Bench, Data
from surgesim.studies.compare import NO_VERDICT
from surgesim.studies.guess import Fixed, Guess
from surgesim.studies.guesses import guesses_of
from surgesim.studies.guesses_cards import fixed_assumptions, guesses_of_cards
from surgesim.studies.worst import Record, room, terminal_badness

SAME_POINTS = 0.1
"""Percentage points within which two computers give the same margin."""


def influence(
    findings: Mapping[str, Any], cases: Sequence[Case], *, workers: int | None = None
) -> Data | None:
    """The ranking of a study's guesses (see the module); None where nothing decides.

    ``cases`` are those of the findings. Depends on nothing but these, so that whoever has a
    record can compute it again.
    """
    decided = deciding(findings)
    if decided is None:
        return None
    entry, terminal = decided
    record = next(case for case in findings["cases"] if case["id"] == terminal["case"])
    case = next(case for case in cases if case.id == record["id"])
    bench = Bench(record=record, asked=findings["asked_margin_percent"])
    base = bench.outcome(build(case.scenario))
    if "reason" in base:
        return None
    varied, fixed = _guesses(case.scenario)
    jobs = [(k, end) for k, guess in enumerate(varied) for end in guess.ends]
    found: dict[int, dict[str, Data]] = {k: {} for k in range(len(varied))}
    for outcome in map_networks(jobs, lambda job: bench.made(job[1].network), workers=workers):
        number, end = outcome.job
        found[number][end.value] = outcome.result or {"reason": str(outcome.error)}
    entries = [_entry(guess, found[k], base) for k, guess in enumerate(varied)]
    moved = [entry for entry in entries if entry["change_points"] is not None or entry["flips"]]
    return {
        "solver": SOLVER,
        "axes": dict(entry["axes"]),
        "case": case.id,
        "surge": case.surge,
        "base": base,
        "varied": sorted(moved, key=_rank),
        "not_varied": [
            *(_not_varied(e) for e in entries if e not in moved),
            *({"what": f.what, "kind": f.kind, "reason": f.reason} for f in fixed),
        ],
    }


def deciding(findings: Mapping[str, Any]) -> tuple[Record, Record] | None:
    """The alternative on which a study's answer rests, and its terminal that decides.

    Of those that hold the one with the most room, at its tightest terminal; of others the one
    nearest to holding, at its worst. None where none could be judged.
    """
    judged = [e for e in findings["summary"] if e["worst"] and e["verdict"] != NO_VERDICT]
    if not judged:
        return None
    tightest = [(entry, min(entry["terminals"], key=room)) for entry in judged]
    holding = [pair for pair in tightest if pair[0]["verdict"] == "holds"]
    if holding:
        return max(holding, key=lambda pair: room(pair[1]))
    nearest = min(judged, key=lambda entry: terminal_badness(entry["worst"]))
    return nearest, nearest["worst"]


def _guesses(scenario: Scenario) -> tuple[list[Guess], list[Fixed]]:
    every = [*guesses_of(scenario), *guesses_of_cards(scenario), *fixed_assumptions(scenario)]
    return (
        [item for item in every if isinstance(item, Guess)],
        [item for item in every if isinstance(item, Fixed)],
    )


# --- ranking ----------------------------------------------------------------------------------


def _entry(guess: Guess, found: Mapping[str, Data], base: Data) -> Data:
    ends = [{"value": end.value, **found[end.value]} for end in guess.ends]
    return {
        "what": guess.what,
        "kind": guess.kind,
        "used": guess.used,
        "ends": ends,
        **_moved(ends, base),
        "range": guess.reason,
    }


def _moved(ends: Sequence[Data], base: Data) -> Data:
    """The larger change of the two ends, and whether either has another verdict."""
    read = [end for end in ends if "reason" not in end]
    changes = [change for end in read if (change := _change(end, base)) is not None]
    return {
        "change_points": max(changes, key=abs, default=None),
        "flips": any(end["verdict"] != base["verdict"] for end in read),
    }


def _change(end: Data, base: Data) -> float | None:
    """By how many points the margin beyond what is asked differs from the base's."""
    if end["margin_percent"] is None or base["margin_percent"] is None:
        return None
    there: float = end["margin_percent"] - end["asked_percent"]
    here: float = base["margin_percent"] - base["asked_percent"]
    return round(there - here, 3)


def _rank(entry: Data) -> tuple[bool, float, str]:
    change = entry["change_points"]
    return not entry["flips"], -math.inf if change is None else -abs(float(change)), entry["what"]


def _not_varied(entry: Data) -> Data:
    reasons = dict.fromkeys(end.get("reason", "no margin to compare") for end in entry["ends"])
    return {"what": entry["what"], "kind": entry["kind"], "reason": "; ".join(reasons)}


def number_of_guesses(findings: Mapping[str, Any], cases: Sequence[Case]) -> int:
    """How many guesses will be varied, for whoever waits."""
    decided = deciding(findings)
    if decided is None:
        return 0
    scenario = next(case.scenario for case in cases if case.id == decided[1]["case"])
    return len(_guesses(scenario)[0])


def follows(told: Data, findings: Mapping[str, Any]) -> bool:
    """Whether a ranking is of the case that decides, and its numbers follow from each other.

    Nothing is run: margins from peaks, changes and flips from the two ends.
    """
    decided = deciding(findings)
    if decided is None:
        return False
    base = told["base"]
    ends = [end for entry in told["varied"] for end in entry["ends"] if "reason" not in end]
    return (
        (told["case"], told["axes"]) == (decided[1]["case"], decided[0]["axes"])
        and all(map(_margin_follows, (base, *ends)))
        and all(_entry_follows(entry, base) for entry in told["varied"])
    )


def _margin_follows(outcome: Data) -> bool:
    peak, margin = outcome["peak_v"], outcome["margin_percent"]
    if peak is None or margin is None:
        return margin is None
    computed = margin_percent(outcome["withstand_v"] / abs(peak)) if peak else None
    return computed is not None and math.isclose(margin, computed, rel_tol=1e-9, abs_tol=1e-9)


def _entry_follows(entry: Data, base: Data) -> bool:
    computed = _moved(entry["ends"], base)
    return bool(
        entry["flips"] == computed["flips"] and entry["change_points"] == computed["change_points"]
    )


def same_influence(one: Data | None, other: Data | None) -> bool:
    """Whether two rankings say the same: margins within ``SAME_POINTS``, verdicts equal."""
    if one is None or other is None:
        return one is other
    heads = ("solver", "axes", "case", "surge", "not_varied")
    return (
        all(one.get(key) == other.get(key) for key in heads)
        and _same_outcome(one["base"], other["base"])
        and _same_entries(one["varied"], other["varied"])
    )


def _same_entries(one: Sequence[Data], other: Sequence[Data]) -> bool:
    """Entries by their names: of equal ones the order is no matter."""
    mine, yours = ({entry["what"]: entry for entry in entries} for entries in (one, other))
    return mine.keys() == yours.keys() and all(
        _same_outcome(mine[what], yours[what])
        and len(mine[what]["ends"]) == len(yours[what]["ends"])
        and all(map(_same_outcome, mine[what]["ends"], yours[what]["ends"]))
        for what in mine
    )


def _same_outcome(one: Data, other: Data) -> bool:
    """Points and percent to within ``SAME_POINTS``, the peak to a share of it, all else equal."""
    if one.keys() != other.keys():
        return False
    for key, value in one.items():
        if key == "ends":
            continue
        if isinstance(value, float) and isinstance(other[key], int | float):
            within = 1e-3 * abs(value) if key == "peak_v" else SAME_POINTS
            if not abs(value - other[key]) <= within:
                return False
        elif value != other[key]:
            return False
    return True
