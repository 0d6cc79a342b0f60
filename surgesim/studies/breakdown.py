"""From the label to the terminal: what makes a terminal's peak out of the printed level.

The peak of a terminal is the printed Up of the arrester that guards it, plus what the current that
really flows makes of it, plus the way from the arrester to the terminal, plus its leads, plus what
a surge induces, plus what stood on the wire. Each part is the difference of two runs by the second
solver: the case as it is, then the same with one thing after the other taken out and left out. So
the parts add up to the peak exactly; taken out in another order each would be a little different.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from surgesim.build import build
from surgesim.engine import map_networks
from surgesim.errors import SurgesimError
from surgesim.findings.record import Record as Waves
from surgesim.network.circuit import Network
from surgesim.network.probes import ArresterProbe, TerminalProbe
from surgesim.scenario.file import Case, fingerprint
from surgesim.scenario.schema import Arrester, Scenario
from surgesim.scenario.terminals import LIVE
from surgesim.studies.bench import SOLVER, Bench, Data
from surgesim.studies.worst import Record

UP = "printed Up"
CURRENT = "at the current that flows"
CONDITION = "tolerance and condition"
WAY = "way from arrester to terminal"
LEADS = "leads of the arrester"
LOOPS = "loops of the strings"
STANDING = "what stood on the wire"

NO_GUARD = "no arrester lies across this pair or from both its conductors to one bar"
FIRES = "its insulation fires: there is no peak to take apart"
IDLE = "the surge leaves hardly a voltage across its arrester: the peak is what stood on the wire"
NO_LEVEL = "the card of its arrester has no printed level of one element"

IDLE_BELOW = 0.1
"""Share of the printed level below which the arrester has no part in the peak: a varistor there
carries nothing."""


def breakdown(
    findings: Mapping[str, Any],
    cases: Sequence[Case],
    *,
    only: Sequence[Record] | None = None,
    workers: int | None = None,
) -> Data:
    """Every terminal of each alternative taken apart in its worst case; of those in ``only``
    where given, entries of the summary.

    ``cases`` are those of the findings; depends on nothing but these.
    """
    by_id = {case.id: case for case in cases}
    records = {record["id"]: record for record in findings["cases"]}
    told = [
        (entry, terminal)
        for entry in (findings["summary"] if only is None else only)
        for terminal in entry["terminals"]
    ]
    ids = list(dict.fromkeys(terminal["case"] for _, terminal in told))
    asked = findings["asked_margin_percent"]

    def run(case_id: str) -> dict[str, Data]:
        bench = Bench(record=records[case_id], asked=asked)
        runs = _Runs(bench=bench, scenario=by_id[case_id].scenario)
        mine = [terminal for _, terminal in told if terminal["case"] == case_id]
        return {_name(terminal): _apart(terminal, runs) for terminal in mine}

    found: dict[str, dict[str, Data]] = {}
    for outcome in map_networks(ids, run, workers=workers):
        found[outcome.job] = outcome.result or {}
        if outcome.error is not None:
            raise outcome.error
    return {
        "solver": SOLVER,
        "terminals": [
            _as_data(entry, terminal, found[terminal["case"]][_name(terminal)])
            for entry, terminal in told
        ],
    }


def entries_of(told: Data, findings: Mapping[str, Any]) -> list[Record]:
    """The entries of the summary whose terminals a breakdown takes apart."""
    axes = [terminal["axes"] for terminal in told["terminals"]]
    return [entry for entry in findings["summary"] if dict(entry["axes"]) in axes]


def adds_up(told: Data) -> bool:
    """Whether the parts of every terminal make its peak."""
    return all(
        math.isclose(
            math.fsum(part["volts"] for part in terminal["parts"]),
            abs(terminal["peak_v"]),
            rel_tol=1e-6,
            abs_tol=1e-6,
        )
        for terminal in told["terminals"]
        if terminal["parts"] is not None
    )


def number_of_cases(entries: Sequence[Record]) -> int:
    """How many cases that runs again, each some six times, for whoever waits."""
    return len({terminal["case"] for entry in entries for terminal in entry["terminals"]})


def _name(terminal: Record) -> str:
    return f"{terminal['equipment']}, {terminal['pair']}"


def _as_data(entry: Record, terminal: Record, found: Data) -> Data:
    keys = ("case", "surge", "equipment", "pair", "withstand_v", "asked_percent", "verdict")
    whole = ("peak_v", "guard", "current_a", "parts", "low_v", "declared_v", "reason")
    return {
        "axes": dict(entry["axes"]),
        **{key: terminal[key] for key in keys},
        **{key: found.get(key) for key in whole},
    }


def _apart(terminal: Record, runs: _Runs) -> Data:
    """The parts of one terminal, or the reason why there are none."""
    if terminal["peak_v"] is None:
        return {"reason": FIRES}
    try:
        network = build(runs.scenario)
        named = (terminal["equipment"], terminal["pair"])
        probe = next(p for p in network.terminals if (p.equipment, p.pair) == named)
        guard = guard_of(network, probe)
        if guard is None:
            return {"reason": NO_GUARD}
        level = _printed(runs.scenario, guard)
        if level is None:
            return {"reason": NO_LEVEL}
        sign = 1.0 if terminal["peak_v"] > 0.0 else -1.0
        return _parts(_Reader(runs=runs, sign=sign, terminal=probe, guard=guard), level)
    except (SurgesimError, ValueError) as error:
        return {"reason": getattr(error, "message", None) or str(error)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """The elements between a terminal's conductors: one across, or one from each to a bar.

    ``signs`` say which way round each is passed from the terminal's first conductor on.
    """

    elements: tuple[ArresterProbe, ...]
    signs: tuple[float, ...]

    @property
    def slots(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(probe.slot for probe in self.elements))

    @property
    def words(self) -> str:
        """Slot and elements: ``array box, plus to pe``."""
        each = [f"{probe.slot}, {probe.element}" for probe in self.elements]
        return " and ".join(each)


def guard_of(network: Network, probe: TerminalProbe) -> Guard | None:
    """What holds a terminal: elements at its own place before others, one before two."""
    near = [arrester for arrester in network.arresters if arrester.place == probe.place]
    far = [arrester for arrester in network.arresters if arrester.place != probe.place]
    first, second = probe.pair.split(" to ", 1)
    for elements in (near, far):
        for find in (_across, _by_a_bar):
            if (guard := find(elements, first, second)) is not None:
                return guard
    return None


def _across(elements: Sequence[ArresterProbe], first: str, second: str) -> Guard | None:
    for element in elements:
        hot, cold = element.element.split(" to ", 1)
        # what equipment calls frame or a bar of its own, an arrester is earthed to by another name
        if hot == first and (cold == second or {cold, second}.isdisjoint(LIVE)):
            return Guard(elements=(element,), signs=(1.0,))
        if (hot, cold) == (second, first):
            return Guard(elements=(element,), signs=(-1.0,))
    return None


def _by_a_bar(elements: Sequence[ArresterProbe], first: str, second: str) -> Guard | None:
    by_hot = {element.element.split(" to ", 1)[0]: element for element in elements}
    if first in by_hot and second in by_hot:
        return Guard(elements=(by_hot[first], by_hot[second]), signs=(1.0, -1.0))
    return None


def _printed(scenario: Scenario, guard: Guard) -> float | None:
    """The printed levels of a guard's elements together, V."""
    levels = []
    for probe in guard.elements:
        slot = scenario.arresters[probe.slot]
        up = getattr(scenario.cards[slot.card], "Up", None)
        if up is None or probe.element not in slot.across:
            return None
        levels.append(float(up.value))
    return sum(levels)


# --- taking out -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Runs:
    """The runs of one case in variants, each made once and shared by its terminals."""

    bench: Bench
    scenario: Scenario
    known: dict[str, tuple[Network, Waves]] = field(default_factory=dict)

    def of(self, scenario: Scenario) -> tuple[Network, Waves]:
        key = fingerprint(scenario)
        if key not in self.known:
            network = build(scenario)
            self.known[key] = network, self.bench.run(network)[0]
        return self.known[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """One run: voltages counted in the direction of the peak, V, and the guard's current, A."""

    terminal: float
    guard: float
    amps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Reads one terminal and its guard off the variants of its case."""

    runs: _Runs
    sign: float
    terminal: TerminalProbe
    guard: Guard

    def read(self, scenario: Scenario) -> _Read:
        network, waves = self.runs.of(scenario)
        named = (self.terminal.equipment, self.terminal.pair)
        probe = next(p for p in network.terminals if (p.equipment, p.pair) == named)
        known = {(element.slot, element.element): element for element in network.arresters}
        elements = [known[element.slot, element.element] for element in self.guard.elements]
        held = np.zeros_like(waves.time)
        for element, sign in zip(elements, self.guard.signs, strict=True):
            held += self.sign * sign * waves.across(element.a, element.b)
        at = int(np.argmax(held))
        return _Read(
            terminal=float(np.max(self.sign * waves.across(probe.a, probe.b))),
            guard=float(held[at]),
            amps=abs(float(waves.current(elements[0].ammeter)[at])),
        )


def _parts(reader: _Reader, level: float) -> Data:
    """The parts from the printed level up to the peak, in the order in which they add up."""
    scenario = bare = reader.runs.scenario
    whole = last = reader.read(scenario)
    above = []
    for what, bare in _taken_out(scenario, reader.guard):
        found = reader.read(bare)
        above.append({"what": what, "volts": last.terminal - found.terminal})
        last = found
    head = {
        "peak_v": reader.sign * whole.terminal,
        "guard": reader.guard.words,
        "current_a": whole.amps,
    }
    if last.guard < IDLE_BELOW * level:
        return {**head, "reason": IDLE}
    new = _as_new(bare)
    printed = last if new == bare else reader.read(new)
    changed = [] if new == bare else [{"what": CONDITION, "volts": last.guard - printed.guard}]
    return {
        **head,
        "parts": [
            {"what": UP, "volts": level},
            {"what": CURRENT, "volts": printed.guard - level},
            *changed,
            {"what": WAY, "volts": last.terminal - last.guard},
            *reversed(above),
        ],
        "low_v": reader.read(_at_level(scenario, "low")).terminal,
        "declared_v": reader.read(_at_level(scenario, "declared")).terminal,
    }


def _taken_out(scenario: Scenario, guard: Guard) -> Iterator[tuple[str, Scenario]]:
    """What is taken out, one after the other, and the scenario without all of it so far."""
    if scenario.batteries or any(one.state == "lit" for one in scenario.supply.values()):
        supply = {n: s.model_copy(update={"state": "dark"}) for n, s in scenario.supply.items()}
        batteries = {
            n: b.model_copy(update={"voltage": 0.0}) for n, b in scenario.batteries.items()
        }
        scenario = scenario.model_copy(update={"supply": supply, "batteries": batteries})
        yield STANDING, scenario
    if scenario.loops:
        scenario = scenario.model_copy(update={"loops": {}})
        yield LOOPS, scenario
    slots = {name: _without_leads(scenario.arresters[name]) for name in guard.slots}
    yield LEADS, scenario.model_copy(update={"arresters": {**scenario.arresters, **slots}})


def _without_leads(slot: Arrester) -> Arrester:
    """A slot whose terminals lie on its conductors and on its bar, without a fuse on the way."""
    earth = slot.leads.earth
    leads = slot.leads.model_copy(
        update={
            "line": 0.0,
            "earth": None if earth is None else earth.model_copy(update={"length": 0.0}),
        }
    )
    return slot.model_copy(update={"leads": leads, "fuse": None, "breaker": None})


def _as_new(scenario: Scenario) -> Scenario:
    """With arresters as new, equal, and at their declared level."""
    slots = {n: slot.model_copy(update={"failed": None}) for n, slot in scenario.arresters.items()}
    return scenario.model_copy(
        update={
            "arresters": slots, "arrester_tolerance": "declared", "arrester_condition": None,
        }
    )  # fmt: skip


def _at_level(scenario: Scenario, level: str) -> Scenario:
    return scenario.model_copy(update={"arrester_tolerance": level})
