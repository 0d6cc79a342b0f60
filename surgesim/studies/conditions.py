"""What has to be kept: every terminal holds, or has a margin of its own."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from surgesim.errors import InputError
from surgesim.reading.names import did_you_mean

HOLDS = "holds"
_MARGIN = re.compile(r"margin\s*>=\s*(-?\d+(?:\.\d+)?)\s*%")

Record = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """``margin`` in percent asked of each terminal, None where each is to hold as its file asks.

    ``equipment`` and ``pair`` narrow it to some terminals; None means all of them. A margin that
    is asked of all terminals is asked of withstands; a highest voltage is only not to be exceeded.
    """

    margin: float | None = None
    equipment: str | None = None
    pair: str | None = None

    @classmethod
    def of(cls, words: str, at: str | None) -> Condition:
        """From ``holds`` or ``margin >= 25 %``, and ``inverter`` or ``inverter, plus to pe``.

        Raises InputError saying what was expected.
        """
        equipment, _, pair = (at or "").partition(",")
        margin: float | None = None
        if words.strip() != HOLDS:
            found = _MARGIN.fullmatch(words.strip())
            if found is None:
                raise InputError.of(
                    f"{words!r} is nothing that can be kept",
                    file="--keep", hint="'holds', or such as 'margin >= 25 %'",
                )  # fmt: skip
            margin = float(found[1])
        return cls(margin=margin, equipment=equipment.strip() or None, pair=pair.strip() or None)

    @property
    def words(self) -> str:
        """The condition as people read it."""
        what = HOLDS if self.margin is None else f"margin >= {self.margin:g} %"
        where = self.equipment or "every terminal"
        return f"{what} at {where}" + (f", {self.pair}" if self.pair else "")

    def broken_by(self, terminals: list[Record]) -> list[Record]:
        """Those of an alternative's terminals that do not keep it.

        Raises InputError where there is none to look at.
        """
        mine = list(self._mine(terminals))
        if not mine:
            known = dict.fromkeys(record["equipment"] for record in terminals)
            hint = did_you_mean(self.equipment or "", known)
            raise InputError.of(f"no terminal {self.words.partition(' at ')[2]!r}", hint=hint)
        return [record for record in mine if not self._kept(record)]

    def _mine(self, terminals: list[Record]) -> Iterator[Record]:
        for record in terminals:
            if self.equipment in (None, record["equipment"]) and self.pair in (
                None, record["pair"],
            ):  # fmt: skip
                yield record

    def _kept(self, record: Record) -> bool:
        if self.margin is None:
            return bool(record["verdict"] == HOLDS)
        if record["verdict"] in ("void", "exceeded") and self.margin >= 0.0:
            return False
        asked = self.margin
        if record["limit"]["kind"] != "withstand" and self.equipment is None:
            asked = min(asked, 0.0)
        margin = record["margin_percent"]
        return record["peak_v"] is not None and (margin is None or margin >= asked)
