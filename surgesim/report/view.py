"""Reading the findings object: alternatives by name, cases by id, terminals that belong together.

Nothing is computed here that the findings do not hold; this only looks up and groups.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from surgesim.studies.crosscheck_tally import is_knife_edge
from surgesim.studies.worst import terminal_badness

Record = Mapping[str, Any]
Levels = tuple[str | None, ...]

# From the best to the worst; a word not listed ranks after all of them: nothing is known.
VERDICTS = ("holds", "thin", "void", "exceeded")

# Conductors that are each other's equal: their pairs are shown as one, the worse one named.
_FAMILIES = {
    "plus": "pole", "minus": "pole",
    "battery plus": "battery pole", "battery minus": "battery pole",
    "l1": "line", "l2": "line", "l3": "line",
    "u": "motor phase", "v": "motor phase", "w": "motor phase",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminal:
    """One pair of an equipment, or several equal ones, with the limit they share.

    ``pairs`` are the names in the findings, ``pair`` what is printed for them together.
    """

    equipment: str
    pairs: tuple[str, ...]
    pair: str
    limit_v: float | None
    limit_kind: str
    limit_origin: str
    asked_percent: float | None

    @property
    def name(self) -> str:
        """Equipment and pair, as printed."""
        return f"{self.equipment}, {self.pair}"

    def covers(self, record: Record) -> bool:
        """Whether a terminal record of a case or of the summary is about this terminal."""
        return (
            record["equipment"] == self.equipment
            and record["pair"] in self.pairs
            and record["withstand_v"] == self.limit_v
        )

    def worst_in(self, records: Iterable[Record]) -> Record | None:
        """The worst record about this terminal; None when there is none."""
        mine = [record for record in records if self.covers(record)]
        return max(mine, key=badness) if mine else None

    def pole(self, worst: Record, records: Iterable[Record]) -> str:
        """The conductor the worst of ``records`` is about, when this terminal stands for several.

        Empty when the insulation of all of them fires: none is worse then.
        """
        if len(self.pairs) == 1 or all(fired(record) for record in records if self.covers(record)):
            return ""
        return conductor(worst)


class View:
    """A findings object with what the report asks of it over and over."""

    def __init__(self, findings: Record) -> None:
        self.findings = findings
        self.entries: Sequence[Record] = findings["summary"]
        self.asked: float = findings["asked_margin_percent"]

    @cached_property
    def factors(self) -> tuple[str, ...]:
        """The alternatives' factors in file order, those with a choice if any has one."""
        axes: Mapping[str, Record] = self.findings["axes"]
        names = [name for name, axis in axes.items() if axis["role"] == "alternative"]
        return tuple(name for name in names if len(axes[name]["levels"]) > 1) or tuple(names)

    def all_levels(self, factor: str) -> tuple[str, ...]:
        """Every level of a factor, in the order of the file."""
        return tuple(str(level) for level in self.findings["axes"][factor]["levels"])

    def levels(self, entry: Record) -> Levels:
        """An alternative's level of each factor; None where the factor makes no difference."""
        found = (entry["axes"].get(factor) for factor in self.factors)
        return tuple(None if level is None else str(level) for level in found)

    def number(self, entry: Record) -> int:
        """An alternative's position in the summary, from 1."""
        return next(i for i, other in enumerate(self.entries, start=1) if other is entry)

    def label(self, entry: Record) -> str:
        """An alternative in words: ``fitted both, card class I, bond none``."""
        return self.label_of(tuple((level,) for level in self.levels(entry)))

    def label_of(self, cells: Sequence[Levels]) -> str:
        """Several alternatives in words, each factor with its levels."""
        return self._separator.join(self.parts_of(cells)) or "as described"

    def parts_of(self, cells: Sequence[Levels]) -> list[str]:
        """Each factor that matters with its levels: ``card class I or class II``."""
        parts = []
        for factor, levels in zip(self.factors, cells, strict=True):
            named = [level for level in levels if level is not None]
            if len(named) > 2 and set(named) == set(self.all_levels(factor)):
                parts.append(f"any {factor}")
            elif named:
                parts.append(f"{factor} {join_words(named, 'or')}")
        return parts

    @cached_property
    def _separator(self) -> str:
        """A comma between factors, or a semicolon when a level's own name has commas."""
        commas = any("," in level for factor in self.factors for level in self.all_levels(factor))
        return "; " if commas else ", "

    @cached_property
    def _cases(self) -> dict[str, Record]:
        return {case["id"]: case for case in self.findings["cases"]}

    def case(self, case_id: str | None) -> Record | None:
        """The case of that id; None where there is none."""
        return self._cases.get(case_id) if case_id is not None else None

    def cases_of(self, entry: Record) -> list[Record]:
        """The cases that belong to an alternative."""
        wanted = [(factor, entry["axes"].get(factor)) for factor in self.factors]
        return [
            case
            for case in self.findings["cases"]
            if all(case["axes"].get(factor) in (level, None) for factor, level in wanted)
        ]

    def in_case(self, record: Record) -> Record:
        """A terminal record of the summary with what only its case says about it."""
        case = self.case(record.get("case"))
        for terminal in case["terminals"] if case else ():
            if all(terminal[key] == record[key] for key in ("equipment", "pair")):
                return {**terminal, **record}
        return record

    def knife_edge(self, record: Record) -> bool:
        """Whether the case of a record has more than one legitimate outcome."""
        case = self.case(record.get("case"))
        return case is not None and is_knife_edge(case)

    @cached_property
    def asks_alike(self) -> bool:
        """Whether the same margin is asked of every terminal."""
        return len({self.asked_of(record) for e in self.entries for record in e["terminals"]}) < 2

    def asked_of(self, record: Record) -> float:
        """The margin asked of a terminal, percent: its own, or else that of the study."""
        percent = record.get("asked_percent")
        return self.asked if percent is None else float(percent)

    @cached_property
    def terminals(self) -> tuple[Terminal, ...]:
        """Every terminal of the summary, equal poles together, in order of appearance."""
        records = [self.in_case(record) for entry in self.entries for record in entry["terminals"]]
        return group_terminals(records)

    def terminal_of(self, record: Record) -> Terminal:
        """The terminal a record is about."""
        known = (terminal for terminal in self.terminals if terminal.covers(record))
        return next(known, None) or _terminal([record])


class CaseKey:
    """Letters for the worst cases named in a table, so that a row needs one character."""

    def __init__(self) -> None:
        self._letters: dict[str, str] = {}

    def letter(self, record: Record) -> str:
        """The letter of a record's worst case; the same case gets the same letter."""
        described = worst_case(record)
        return self._letters.setdefault(described, _letter(len(self._letters)))

    @property
    def entries(self) -> tuple[tuple[str, str], ...]:
        """(letter, worst case) in order of first use."""
        return tuple((letter, described) for described, letter in self._letters.items())


def worst_case(record: Record) -> str:
    """The case a worst value came from: ``frame struck, steep share; array earth dry``."""
    levels = record.get("worst_of") or {}
    named = ", ".join(f"{axis} {level}" for axis, level in levels.items() if level is not None)
    surge = str(record.get("surge") or "")
    return "; ".join(part for part in (surge, named) if part)


def conductor(record: Record) -> str:
    """The first conductor of a record's pair: ``plus`` of ``plus to pe``."""
    return str(record["pair"]).partition(" to ")[0]


def fired(record: Record) -> bool:
    """Whether the pair's own insulation broke down in this record."""
    insulation = record.get("insulation")
    return bool(insulation and insulation["fired"])


def severity(verdict: str | None) -> int:
    """Position of a verdict from the best to the worst."""
    return VERDICTS.index(verdict) if verdict in VERDICTS else len(VERDICTS)


def badness(record: Record) -> tuple[int, float]:
    """Orders terminal records: the verdict first, then as the summary's worst is found."""
    return severity(record["verdict"]), terminal_badness(record)[1]


def group_terminals(records: Iterable[Record]) -> tuple[Terminal, ...]:
    """The terminals that records are about; equal poles with one limit and insulation as one."""
    groups: dict[tuple[object, ...], dict[str, Record]] = {}
    for record in records:
        groups.setdefault(_family(record), {}).setdefault(record["pair"], record)
    return tuple(_terminal(list(members.values())) for members in groups.values())


def join_words(words: Sequence[str], conjunction: str) -> str:
    """``a``, ``a or b``, ``a, b or c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {conjunction} {words[-1]}"


def _family(record: Record) -> tuple[object, ...]:
    first, _, second = str(record["pair"]).partition(" to ")
    insulation = record.get("insulation")
    level = insulation["level_v"] if insulation else None
    family = _FAMILIES.get(first, first)
    return record["equipment"], family, second, record["withstand_v"], level


def _terminal(members: Sequence[Record]) -> Terminal:
    first, limit = members[0], members[0].get("limit") or {}
    lead, _, other = str(first["pair"]).partition(" to ")
    pair = f"{_FAMILIES.get(lead, lead)} to {other}" if len(members) > 1 else first["pair"]
    return Terminal(
        equipment=first["equipment"],
        pairs=tuple(member["pair"] for member in members),
        pair=pair,
        limit_v=first["withstand_v"],
        limit_kind=str(limit.get("kind") or "limit"),
        limit_origin=str(limit.get("origin") or ""),
        asked_percent=first.get("asked_percent"),
    )


def _letter(index: int) -> str:
    """a … z, aa, ab … for 0, 1, 2 …"""
    text = chr(ord("a") + index % 26)
    return text if index < 26 else _letter(index // 26 - 1) + text
