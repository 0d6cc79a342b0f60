"""What a study is told about itself: plain data from the scenario, for the findings object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from surgesim.findings.case import CaseInfo

Role = Literal["alternative", "worst of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScenarioInfo:
    """Which scenario: its own title and question, the file's name, the resolved form's hash."""

    title: str
    question: str
    file: str
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineRecord:
    """Which engine ran it: name, version, its options, and this program's version."""

    name: str
    version: str
    options: str
    surgesim: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisInfo:
    """One factor: what it is for, and its levels in file order."""

    role: Role
    levels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unassessed:
    """A port nothing is said about, and why."""

    equipment: str
    place: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimInfo:
    """A margin the author asserts for one terminal pair, wherever ``axes`` have these levels."""

    name: str
    axes: Mapping[str, str]
    equipment: str
    pair: str
    asked_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A case without a result: the error in its own words, and what to try."""

    case: CaseInfo
    error: str
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyInfo:
    """Everything the findings object holds that no case can tell.

    ``events`` is how often a year each surge happens, of those that say so.
    """

    scenario: ScenarioInfo
    engine: EngineRecord
    asked_margin_percent: float
    axes: Mapping[str, AxisInfo]
    not_assessed: tuple[Unassessed, ...] = ()
    assumptions: tuple[str, ...] = ()
    claims: tuple[ClaimInfo, ...] = ()
    cautions: tuple[str, ...] = field(default=())
    events: Mapping[str, float] = field(default_factory=dict)
