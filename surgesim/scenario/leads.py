"""What joins an arrester to the installation: its leads, and a fuse or breaker in front of it."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, PlainSerializer, model_validator

from surgesim.physics.conductors import solid_radius, wire_inductance
from surgesim.physics.fuses import GG_PRE_ARCING
from surgesim.reading.form import Form, Text, refused
from surgesim.reading.quantities import (
    AREA,
    CURRENT,
    LENGTH,
    RESISTANCE,
    SPECIFIC_ENERGY,
    Quantity,
    format_quantity,
    parse,
)
from surgesim.reading.tree import shorten
from surgesim.scenario.values import Inductance, LeadLength, PerMetre

Section = Annotated[float, Quantity(AREA, most=1e-2)]
SeriesResistance = Annotated[float, Quantity(RESISTANCE, most=1e3)]
SpecificEnergy = Annotated[float, Quantity(SPECIFIC_ENERGY, most=1e9)]

SLENDER = 5.0
"""A lead is no wire below so many of its radii; the formula of one goes to zero there."""


# --- leads -----------------------------------------------------------------------------------


class EarthLead(Form):
    """Length of the earth lead and the bar it lands on: ``0.5 m to pe``."""

    length: LeadLength
    to: Text


def _earth_lead(value: object) -> Any:
    if not isinstance(value, str) or not (match := re.fullmatch(r"(.+?) to (.+)", value.strip())):
        shown = f"{shorten(value)!r} is no earth lead; " if isinstance(value, str) else ""
        raise refused(f"{shown}expected its length and the bar it lands on, such as '0.5 m to pe'")
    return {"length": match[1], "to": match[2]}


EarthLeadPhrase = Annotated[
    EarthLead,
    BeforeValidator(_earth_lead),
    PlainSerializer(
        lambda lead: f"{format_quantity(lead.length, LENGTH)} to {lead.to}", return_type=str
    ),
]


class Leads(Form):
    """Lengths and sections of an arrester's connecting leads. ``line`` is each conductor's own.

    A lead with a section has the inductance of a straight round wire of that length; one
    without has ``inductance`` for each metre. ``coupling`` is the mutual inductance per metre
    that is left between the two halves of a lead wired as a V.
    """

    line: LeadLength
    earth: EarthLeadPhrase | None = None
    line_section: Section | None = None
    earth_section: Section | None = None
    inductance: PerMetre | None = None
    coupling: PerMetre | None = None

    examples: ClassVar[dict[str, str]] = {
        "line": "0.3 m",
        "earth": "0.5 m to pe",
        "line section": "6 mm2",
        "earth section": "16 mm2",
        "coupling": "0.15 uH/m",
    }
    example: ClassVar[str] = "{line: 0.3 m, earth: 0.5 m to pe}"

    @model_validator(mode="after")
    def _each_has_an_inductance(self) -> Leads:
        if self.earth is None and self.earth_section is not None:
            raise refused("'earth section' goes with 'earth', such as '0.5 m to pe'")
        sections = [self.line_section, *([] if self.earth is None else [self.earth_section])]
        if None not in sections and self.inductance is not None:
            raise refused("'inductance' is of leads without a section; take one of the two out")
        for length, section in self._lengths():
            radius = 0.0 if section is None else solid_radius(section)
            if 0.0 < length < SLENDER * radius:
                short, thick = 1e3 * length, 2e3 * radius
                raise refused(f"{short:g} mm of a conductor {thick:.2g} mm thick is no lead")
        return self

    def _lengths(self) -> list[tuple[float, float | None]]:
        earth = [] if self.earth is None else [(self.earth.length, self.earth_section)]
        return [(self.line, self.line_section), *earth]

    @property
    def line_inductance(self) -> float:
        """Of each conductor's own lead, H."""
        return self._inductance(self.line, self.line_section)

    @property
    def earth_inductance(self) -> float:
        """Of the shared earth lead, H; zero where there is none."""
        return (
            0.0 if self.earth is None else self._inductance(self.earth.length, self.earth_section)
        )

    def coupling_of(self, length: float) -> float:
        """Mutual inductance of the halves of a V of that length each, H."""
        return (self.coupling or 0.0) * length

    def _inductance(self, length: float, section: float | None) -> float:
        if length == 0.0:
            return 0.0
        if section is not None:
            return wire_inductance(length, solid_radius(section))
        assert self.inductance is not None  # assumed where the file does not say
        return self.inductance * length


# --- in series -------------------------------------------------------------------------------


class FuseRating(Form):
    """Class and rated current of a fuse: ``gG 63 A``."""

    current: float

    @property
    def words(self) -> str:
        return f"gG {format_quantity(self.current, CURRENT)}"


def _rating(value: object) -> Any:
    match = re.fullmatch(r"gG (.+)", " ".join(value.split())) if isinstance(value, str) else None
    if match is None:
        shown = f"{shorten(value)!r} is no fuse; " if isinstance(value, str) else ""
        raise refused(f"{shown}expected its class and rated current, such as 'gG 63 A'")
    try:
        amps = parse(match[1], CURRENT)
    except ValueError as error:
        raise refused(str(error)) from None
    if amps not in GG_PRE_ARCING:
        known = ", ".join(f"{amps:g}" for amps in GG_PRE_ARCING)
        raise refused(
            f"no gG fuse of {format_quantity(amps, CURRENT)} is known; there are {known} A"
        )
    return {"current": amps}


FuseRatingPhrase = Annotated[
    FuseRating,
    BeforeValidator(_rating),
    PlainSerializer(lambda rating: rating.words, return_type=str),
]


class Fuse(Form):
    """A fuse in each line lead of an arrester.

    It may melt from the smallest pre-arcing I2t of its class on, and will by the largest.
    """

    rating: FuseRatingPhrase
    resistance: SeriesResistance
    inductance: Inductance

    examples: ClassVar[dict[str, str]] = {
        "rating": "gG 63 A",
        "resistance": "1 mohm",
        "inductance": "100 nH",
    }
    example: ClassVar[str] = "{rating: gG 63 A, resistance: 1.1 mohm, inductance: 100 nH}"

    @property
    def words(self) -> str:
        return f"fuse {self.rating.words}"

    @property
    def opens_from(self) -> float:
        """A2s from which on it may open."""
        return GG_PRE_ARCING[self.rating.current][0]

    @property
    def opens_by(self) -> float:
        """A2s by which it has opened."""
        return GG_PRE_ARCING[self.rating.current][1]


class Breaker(Form):
    """A breaker in each line lead of an arrester, by its maker's figures: no standard has any.

    ``opens at`` is the W/R above which it opens, or is no longer sound.
    """

    resistance: SeriesResistance
    inductance: Inductance
    opens_at: SpecificEnergy

    examples: ClassVar[dict[str, str]] = {
        "resistance": "3 mohm",
        "inductance": "0.6 uH",
        "opens at": "4200 A2s",
    }
    example: ClassVar[str] = "{resistance: 3 mohm, inductance: 0.6 uH, opens at: 4200 A2s}"

    @property
    def words(self) -> str:
        return "breaker"

    @property
    def opens_from(self) -> float:
        """A2s from which on it may open."""
        return self.opens_at

    @property
    def opens_by(self) -> float:
        """A2s by which it has opened."""
        return self.opens_at
