"""What every run is held to, and how near it came: one figure against its limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from surgesim.errors import ResultRefused


@dataclass(frozen=True, slots=True, kw_only=True)
class Invariant:
    """An invariant as measured on one case: its worst figure, in ``unit``, against ``limit``.

    ``where`` says where the worst was found, in the words of the scenario; "" where there was
    nothing to measure.
    """

    worst: float
    limit: float
    unit: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """An invariant with what to say should it be broken.

    ``told`` is the figure and its limit in words, ``hint`` what to try.
    """

    name: str
    worst: float
    limit: float
    unit: str
    where: str = ""
    told: str = ""
    hint: str = ""

    def check(self) -> None:
        """Raise ResultRefused, by name, unless the figure is within its limit."""
        # a figure that is no number is within no limit
        if not self.worst <= self.limit:
            at = f" at {self.where}" if self.where else ""
            raise ResultRefused(f"{self.name}{at}: {self.told}", hint=self.hint)

    @property
    def share_of_limit(self) -> float:
        """1 at the limit; of a limit of zero either nothing is used or more than all."""
        if self.limit == 0.0:
            return 0.0 if self.worst == 0.0 else math.inf
        return self.worst / self.limit

    @property
    def invariant(self) -> Invariant:
        """The figures alone, for the findings."""
        return Invariant(worst=self.worst, limit=self.limit, unit=self.unit, where=self.where)


def worse(first: Measured, *others: Measured) -> Measured:
    """The one nearest to, or furthest beyond, its limit; the first of equals."""
    return max((first, *others), key=lambda measured: measured.share_of_limit)
