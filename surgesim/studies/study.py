"""A whole study of a scenario file: every case run, measured and composed into one object."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from surgesim import __version__
from surgesim.build.modelled import modelled
from surgesim.catalogue.cards import Arrester as ArresterCard
from surgesim.catalogue.cards import ArresterDevice, GapArrester, TextbookLimiter
from surgesim.engine import engine_version
from surgesim.errors import SurgesimError
from surgesim.scenario.factors import ALTERNATIVES
from surgesim.scenario.file import Case, ScenarioFile, fingerprint
from surgesim.scenario.schema import Scenario
from surgesim.scenario.supply import ARRAY_POLES, BATTERY_POLES, Battery, Supply
from surgesim.studies.compare import Findings, compose
from surgesim.studies.crosscheck import crosschecked
from surgesim.studies.earth_cautions import earth_cautions
from surgesim.studies.info import (
    AxisInfo,
    ClaimInfo,
    EngineRecord,
    Failure,
    ScenarioInfo,
    StudyInfo,
    Unassessed,
)
from surgesim.studies.lead_cautions import lead_cautions
from surgesim.studies.life import events_of
from surgesim.studies.planned import axes_of
from surgesim.studies.run import TIMEOUT, Result, case_info, measure, run
from surgesim.studies.worst import Badness, Record, readings, terminal_badness

Chosen = dict[str, list[str]]
Watch = Callable[[Result, Record | None, int], None]
"""Called with each result as it finishes, its record unless it failed, and how many have."""


def study(
    file: ScenarioFile,
    *,
    chosen: Chosen | None = None,
    workers: int | None = None,
    timeout: float = TIMEOUT,
    certify: bool = False,
    crosscheck: bool = False,
    watch: Watch | None = None,
    keep: Path | None = None,
) -> Findings:
    """Run the cases of a file and compose the findings object (surgesim.findings/1).

    ``chosen`` keeps only those levels of some factors. ``certify`` runs every case three times
    more for its numerical errors (:mod:`surgesim.studies.certify`). With ``crosscheck`` every
    case is run by the second solver too, and one on which the two disagree has no result.
    ``watch`` serves progress, or keeping waveforms; ``keep`` is a folder for every deck and log.
    A case that fails is among the ``failures`` of the object; the others go on.
    """
    cases = file.cases(chosen=chosen)
    check = crosschecked if crosscheck else None
    records: list[Record] = []
    failures: list[Failure] = []
    options: dict[str, str] = {}
    results = run(cases, workers=workers, timeout=timeout, keep=keep, certify=certify, check=check)
    for finished, result in enumerate(results, start=1):
        record: Record | None = None
        try:
            record = measure(result).as_json()
        except SurgesimError as error:
            failures.append(failure(result.case, error))
        else:
            records.append(record)
            options[result.case.id] = result.front.options if result.front else ""
        if watch is not None:
            watch(result, record, finished)
    # of the first case that has a result, whichever finished first
    first = next((options[case.id] for case in cases if case.id in options), "")
    return compose(study_info(file, cases, first), records, failures=failures)


def failure(case: Case, error: SurgesimError) -> Failure:
    """A failed case: the error in its own words, and what to try."""
    words = getattr(error, "message", None) or str(error)
    return Failure(case=case_info(case), error=words, hint=getattr(error, "hint", ""))


def study_info(file: ScenarioFile, cases: Iterable[Case], options: str) -> StudyInfo:
    """What the findings object says of the scenario, apart from its cases."""
    engine = EngineRecord(
        name="ngspice", version=engine_version().version, options=options, surgesim=__version__
    )
    return described(
        list(cases), file=file.file, engine=engine, axes=axes_of(file), claims=claims_of(file)
    )


def described(
    cases: Sequence[Case],
    *,
    file: str,
    engine: EngineRecord,
    axes: Mapping[str, AxisInfo],
    claims: tuple[ClaimInfo, ...],
) -> StudyInfo:
    """What the findings object says of the cases as a whole, taken from their scenarios."""
    first = cases[0].scenario
    return StudyInfo(
        scenario=ScenarioInfo(
            title=first.title,
            question=first.question or "",
            file=file,
            hash=hash_of(case.scenario for case in cases),
        ),
        engine=engine,
        asked_margin_percent=100 * first.asked_margin,
        axes=axes,
        not_assessed=_not_assessed(cases),
        assumptions=_assumptions(cases),
        cautions=tuple(dict.fromkeys(c for case in cases for c in _cautions(case))),
        claims=claims,
        events=events_of(case.scenario for case in cases),
    )


def hash_of(scenarios: Iterable[Scenario]) -> str:
    """SHA-256 over the resolved forms of several scenarios, in their order."""
    prints = "".join(fingerprint(scenario) for scenario in scenarios)
    return hashlib.sha256(prints.encode()).hexdigest()


def claims_of(file: ScenarioFile) -> tuple[ClaimInfo, ...]:
    """The claims of a file, as the findings object tells them."""
    return tuple(
        ClaimInfo(
            name=name,
            axes=claim.alternative,
            equipment=claim.equipment,
            pair=claim.pair,
            asked_percent=100 * claim.margin,
        )
        for name, claim in file.claims.items()
    )


def _not_assessed(cases: Sequence[Case]) -> tuple[Unassessed, ...]:
    found = {
        (name, thing.at, thing.not_assessed): None
        for case in cases
        for name, thing in case.scenario.equipment.items()
        if thing.not_assessed is not None
    }
    return tuple(Unassessed(equipment=n, place=p, reason=r) for n, p, r in found)


def _cautions(case: Case) -> Iterator[str]:
    yield from below_the_array(case)
    yield from earth_cautions(case.scenario)
    yield from lead_cautions(case.scenario)


def below_the_array(case: Case) -> Iterator[str]:
    """A word on each arrester to earth whose Ucpv is below what an earth fault puts on it.

    The standing state that was run is that of a sound array. With one pole at earth the other
    pole's element stands at the whole voltage, for as long as there is light.
    """
    for name, slot in case.scenario.arresters.items():
        card = case.scenario.cards[slot.card]
        conductors = {end for words in slot.across for end in words.split(" to ", 1)}
        for source, (things, poles) in _buses(case.scenario).items():
            highest = max((thing.voltage for thing in things), default=0.0)
            on_it = not conductors.isdisjoint(poles)
            assert isinstance(card, ArresterCard | ArresterDevice)
            key, bears = _continuous(card)
            if on_it and bears < highest:
                yield (
                    f"Arrester {name}: {key} {bears:g} V of {slot.card!r} is below the"
                    f" {source}'s {highest:g} V, which stands across it while the other pole has an"
                    " earth fault."
                )


def _continuous(card: ArresterCard | ArresterDevice) -> tuple[str, float]:
    """The largest continuous voltage of an arrester by its key; endless where there is none."""
    if isinstance(card, TextbookLimiter):
        return "", math.inf
    if isinstance(card, GapArrester):
        return "Uc", card.Uc.value
    if card.Ucpv is not None:
        return "Ucpv", card.Ucpv.value
    assert card.Uc is not None
    return "for direct current 1.25 Uc,", 1.25 * card.Uc.value


def _buses(
    scenario: Scenario,
) -> dict[str, tuple[Iterable[Supply | Battery], tuple[str, str]]]:
    """What feeds direct current, and on which two conductors."""
    return {
        "array": (scenario.supply.values(), ARRAY_POLES),
        "battery": (scenario.batteries.values(), BATTERY_POLES),
    }


def _assumptions(cases: Sequence[Case]) -> tuple[str, ...]:
    """Every assumption of any case once; one that names things is kept in its longest form."""
    longest: dict[str, str] = {}
    for case in cases:
        for words in (*case.scenario.assumed, *modelled(case.scenario)):
            stem = words.split(" [", 1)[0]
            longest[stem] = max(longest.get(stem, ""), words, key=len)
    return tuple(longest.values())


@dataclass
class WorstResults:
    """Keeps, of each alternative, the one result on which its verdict rests.

    Feed it every result with its record; ``held`` maps an alternative's levels to its result.
    Only these waveforms stay in memory, however many cases there are.
    """

    file: ScenarioFile
    held: dict[tuple[str | None, ...], Result] = field(default_factory=dict)
    _badness: dict[tuple[str | None, ...], Badness] = field(default_factory=dict)

    def add(self, result: Result, record: Record) -> None:
        """Keep ``result`` if its worst terminal is worse than any before it."""
        names = [f.name for f in self.file.factors if f.role == ALTERNATIVES]
        key = tuple(result.case.axes[name] for name in names)
        badness = max(map(terminal_badness, readings(record, "terminals")), default=None)
        if badness is None:
            return
        held = self.held.get(key)
        # Results come in any order; of equals the first case counts, as in the summary.
        order = (badness, [-ord(letter) for letter in result.case.id])
        if held is None or order > (self._badness[key], [-ord(x) for x in held.case.id]):
            self._badness[key], self.held[key] = badness, result
