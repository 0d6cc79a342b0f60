"""Everything the numbers of a study stand on, gathered by machine into one section.

Plain data that can be read without the findings: models and where they come from, line
constants, surges, earths, limits, guesses, what is not modelled, the engine and how well its
runs closed, the cautions. It is composed from the resolved scenarios, from how they were run
and from the findings, so that whoever has these can compose it again and compare.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from surgesim.findings.energy import CLOSURE_LIMIT
from surgesim.scenario.schema import Scenario
from surgesim.studies import disclosures_circuit as circuit
from surgesim.studies import disclosures_nearby as nearby
from surgesim.studies.crosscheck_tally import tally
from surgesim.studies.record_decks import DeckInputs

Data = dict[str, Any]
Section = Callable[[Scenario], Iterator[Data]]

NOT_MODELLED = (
    "skin effect in leads, bonds, screens and the metal around cables",
    "corona",
    "ionisation of the soil, where an earth does not say at which field it begins",
    "the field of the channel of a stroke that enters by a terminal",
    "the charge of a lightning channel and its electric field",
    "the AC side",
    "the milliseconds in which a gap regains its strength, and its scatter",
    "varistors rising with the steepness of the front (5 to 15 % at fronts of 1 us)",
    "frequency dependence of cables other than that of the soil under them",
)
"""What the circuit leaves out, whatever the scenario."""

NUMERICAL_ERROR = {
    "estimated": "estimated from the waveforms of the one run: what the steps in time do, not how"
    " a line's losses stand along it",
    "certified": "from running the case again at half the step, with the other integration method"
    " and with every line as two halves",
}
"""What an error is, by how it was got."""

NOT_RANKED = "counted, not ranked by how much the verdict depends on them (--influence does)"
RANKED = "ranked by how far each, alone, moves the deciding margin"

SECTIONS: Mapping[str, Section] = {
    "surges": circuit.surges,
    "arresters": circuit.arresters,
    "arrester_tolerances": circuit.tolerances,
    "cards": circuit.cards,
    "lines": circuit.lines,
    "earths": circuit.earths,
    "common_soil": nearby.common_soil,
    "induced": nearby.induced,
    "bonds": circuit.bonds,
    "supplies": circuit.supplies,
    "batteries": circuit.batteries,
    "joins": circuit.joins,
    "terminals": circuit.terminals,
}
"""Sections that list things of the circuit; each entry says in how many ``cases`` it stands."""

_DECIDE_LINES = ("site", "cables", "surges", "polarity", "cards")
"""What the lines of a scenario follow from."""


def disclosures(
    scenarios: Sequence[Scenario], runs: Iterable[DeckInputs], findings: Mapping[str, Any]
) -> Data:
    """The section of a study: of the ``scenarios`` that gave a result, and of their ``runs``."""
    listed = {name: _distinct(section, scenarios) for name, section in SECTIONS.items()}
    return {
        **listed,
        "not_assessed": findings["not_assessed"],
        "assumptions": findings["assumptions"],
        "guesses": _guesses(listed, findings),
        "not_modelled": list(NOT_MODELLED),
        "engine": _engine(runs, findings),
        "errors": _errors(findings["cases"]),
        "crosscheck": tally(findings["cases"]),
        "cautions": findings["cautions"],
    }


def _distinct(section: Section, scenarios: Sequence[Scenario]) -> list[Data]:
    """The entries of a section over all scenarios, each once, with how many have it."""
    entries: dict[str, Data] = {}
    count: Counter[str] = Counter()
    for found in _each(section, scenarios):
        for entry in found:
            text = json.dumps(entry, sort_keys=True)
            entries.setdefault(text, entry)
            count[text] += 1
    return [{**entry, "cases": count[text]} for text, entry in entries.items()]


def _each(section: Section, scenarios: Sequence[Scenario]) -> Iterator[list[Data]]:
    """A section of each scenario; lines that follow from the same data are computed once."""
    known: dict[str, list[Data]] = {}
    for scenario in scenarios:
        if section is not circuit.lines:
            yield list(section(scenario))
            continue
        whole = scenario.written()
        key = json.dumps([whole[name] for name in _DECIDE_LINES], sort_keys=True)
        if key not in known:
            known[key] = list(section(scenario))
        yield known[key]


def _guesses(listed: Mapping[str, list[Data]], findings: Mapping[str, Any]) -> Data:
    """Every number and rule that somebody guessed, or that has no source, or only from memory."""
    influence = findings.get("influence")
    found = [
        {"what": what, "kind": kind}
        for what, words in _provenances(listed, findings["assumptions"])
        if (kind := _kind(words)) is not None
    ]
    unique = [dict(item) for item in dict.fromkeys(tuple(item.items()) for item in found)]
    counted = Counter(item["kind"] for item in unique)
    return {
        "count": counted["guess"],
        "without_source": counted["no source"],
        "from_memory": counted["from memory"],
        "ranking": NOT_RANKED if influence is None else RANKED,
        "list": unique,
        "influence": influence,
    }


def _provenances(
    listed: Mapping[str, list[Data]], assumptions: Iterable[str]
) -> Iterator[tuple[str, str]]:
    """What a number is, and what is said of where it comes from."""
    for terminal in listed["terminals"]:
        words = f"{terminal['limit']} of {terminal['equipment']}, {terminal['pair']}"
        yield words, terminal["origin"]
    for assumption in assumptions:
        yield assumption, assumption
    for card in listed["cards"]:
        for number in card["numbers"]:
            yield f"{number['field']} of card {card['name']}: {number['source']}", number["source"]


def _kind(words: str) -> str | None:
    if "guess" in words:
        return "guess"
    if "no source" in words:
        return "no source"
    return "from memory" if "from memory" in words else None


def _engine(runs: Iterable[DeckInputs], findings: Mapping[str, Any]) -> Data:
    """The engine, its options in each window, its longest and shortest steps, what it lumped."""
    windows: dict[str, Data] = {}
    options: dict[str, Counter[str]] = {}
    lumped: Counter[str] = Counter()
    for run in runs:
        options.setdefault(run.window, Counter())[run.options] += 1
        lumped.update(run.lumped)
        seen = windows.setdefault(run.window, {"shortest_step_s": run.step, "longest_step_s": 0.0})
        seen["shortest_step_s"] = min(seen["shortest_step_s"], run.step)
        seen["longest_step_s"] = max(seen["longest_step_s"], run.step)
    for window, seen in windows.items():
        seen["options"] = dict(sorted(options[window].items()))
    return {
        "name": findings["engine"]["name"],
        "version": findings["engine"]["version"],
        "surgesim": findings["engine"]["surgesim"],
        "windows": dict(sorted(windows.items())),
        "lumped_on_the_tail": dict(sorted(lumped.items())),
    }


def _errors(cases: Sequence[Mapping[str, Any]]) -> Data:
    """Worst energy closure of each window and worst of each invariant, with the cases they are
    from, and the numerical errors."""
    worst: dict[str, Data] = {}
    for case in cases:
        for window, closure in case["energy_closure"].items():
            if window not in worst or closure > worst[window]["share"]:
                worst[window] = {"share": closure, "case": case["id"]}
    return {
        "energy_closure": worst,
        "energy_closure_limit": CLOSURE_LIMIT,
        "invariants": _invariants(cases),
        "numerical_error": _numerical(cases),
    }


def _numerical(cases: Sequence[Mapping[str, Any]]) -> list[Data]:
    """For each way in which errors were got: of how many values, and the largest with its case.

    ``unknown`` counts values that a run again did not have.
    """
    found: dict[str, Data] = {}
    for case in cases:
        for where, how, percent in _errors_of(case):
            empty = {"how": how, "is": NUMERICAL_ERROR[how], "values": 0, "unknown": 0}
            seen = found.setdefault(how, {**empty, "percent": 0.0, "where": "", "case": ""})
            seen["values"] += 1
            seen["unknown"] += percent is None
            if percent is not None and percent > seen["percent"]:
                seen.update(percent=percent, where=where, case=case["id"])
    return [found[how] for how in sorted(found)]


def _errors_of(case: Mapping[str, Any]) -> Iterator[tuple[str, str, float | None]]:
    """Where, how got, and percent, of every value of a case that has an error."""
    for section in ("terminals", "arresters", "earths"):
        for record in case[section]:
            name = record.get("equipment") or record["name"]
            part = record.get("pair") or record.get("element")
            error = record["numerical_error"]
            for field, percent in error["percent"].items():
                if record[field] is not None:
                    where = ", ".join(filter(None, (name, part, field)))
                    yield where, error["how"], percent


def _invariants(cases: Sequence[Mapping[str, Any]]) -> Data:
    """Of each invariant the case that came nearest to its limit, the first of equals."""
    worst: dict[str, Data] = {}
    for case in cases:
        for name, held in case["invariants"].items():
            if name not in worst or _used(held) > _used(worst[name]):
                worst[name] = {**held, "case": case["id"]}
    return worst


def _used(held: Mapping[str, Any]) -> float:
    """Share of its limit; of a limit of zero nothing is used in a result that stands."""
    return held["worst"] / held["limit"] if held["limit"] else 0.0
