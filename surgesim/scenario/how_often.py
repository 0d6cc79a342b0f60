"""How often a surge happens: so often a year, or as lightning strikes what is described."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, model_validator

from surgesim.physics.strike_counts import (
    line_area,
    near_line_area,
    near_structure_area,
    strikes_per_year,
    structure_area,
)
from surgesim.reading.form import Form, refused
from surgesim.reading.quantities import NUMBER, PER_YEAR, Quantity
from surgesim.scenario.values import Length

PerYear = Annotated[float, Quantity(PER_YEAR, most=1e4)]
Factor = Annotated[float, Quantity(NUMBER, most=2.0)]


class HowOften(Form):
    """``0.02 per year``, or what lightning strikes: a structure or a line, or the ground near it.

    ``factor`` is that of IEC 62305-2 for the surroundings: a structure 0.25 among higher ones, 0.5
    among equal ones, 1 alone, 2 on a hilltop; a line 1 aerial or 0.5 buried, times 0.5 in suburbs.
    """

    per_year: PerYear | None = None
    strikes: Literal["to structure", "near structure", "to line", "near line"] | None = None
    length: Length | None = None
    width: Length | None = None
    height: Length | None = None
    factor: Factor | None = None

    examples: ClassVar[dict[str, str]] = {
        "per year": "0.02 per year",
        "strikes": "to structure",
        "length": "40 m",
        "width": "6 m",
        "height": "2.5 m",
        "factor": "1",
    }
    example: ClassVar[str] = (
        "{strikes: to structure, length: 40 m, width: 6 m, height: 2.5 m, factor: 1}"
    )

    @model_validator(mode="after")
    def _one_way(self) -> HowOften:
        if (self.per_year is None) == (self.strikes is None):
            raise refused(f"give one of the two, '0.02 per year' or '{self.example}'")
        given = {
            key for key in ("length", "width", "height", "factor") if getattr(self, key) is not None
        }
        wanted = {
            None: set(),
            "to structure": {"length", "width", "height", "factor"},
            "near structure": {"length", "width", "factor"},
        }.get(self.strikes, {"length", "factor"})
        for key in sorted(wanted - given):
            raise refused(f"'strikes: {self.strikes}' needs {key!r}")
        for key in sorted(given - wanted):
            raise refused(f"{key!r} is not asked for here; take it out")
        return self

    def events(self, flash_density: float | None) -> float:
        """How often a year, at ``flash_density`` flashes per km2 and year."""
        if self.per_year is not None:
            return self.per_year
        assert flash_density is not None
        assert self.factor is not None
        return strikes_per_year(self._area(), flash_density, self.factor)

    def _area(self) -> float:
        length, width, height = self.length or 0.0, self.width or 0.0, self.height or 0.0
        if self.strikes == "to structure":
            return structure_area(length, width, height)
        if self.strikes == "near structure":
            return near_structure_area(length, width)
        return line_area(length) if self.strikes == "to line" else near_line_area(length)


def _phrase(value: object) -> Any:
    return {"per year": value} if isinstance(value, str) else value


HowOftenPhrase = Annotated[HowOften, BeforeValidator(_phrase)]
