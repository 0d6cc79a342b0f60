"""What is protected: equipment by its terminal pairs, with their limits and their insulation."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    model_serializer,
    model_validator,
)

from surgesim.reading.form import Form, Name, Text, refused
from surgesim.reading.names import is_printable
from surgesim.reading.quantities import PERCENT, VOLTAGE, Quantity, format_quantity, parse
from surgesim.reading.tree import shorten
from surgesim.scenario.values import Capacitance, Inductance, Resistance, Voltage

MOTOR_PHASES = ("u", "v", "w")

InsulationLevel = Literal["low", "nominal", "high"]

LEVELS: dict[InsulationLevel, float] = {"low": -1.0, "nominal": 0.0, "high": 1.0}
"""Of its spread, how much is added to a flashover level."""

MOST_SPREAD = 0.5
"""Share of its level from which a spread says nothing any more."""

MOST_ARC = 0.1
"""Share of the level that insulation fires at, at most, for what its arc still holds."""


class Flashover(Form):
    """The voltage at which insulation fires, V, and how far it may be off, a share of it.

    Written ``10 kV`` or ``10 kV +-15 %``.
    """

    level: Annotated[float, Quantity(VOLTAGE, most=2e8)]
    spread: float = 0.0

    def at(self, insulation_level: InsulationLevel) -> float:
        """The voltage at one end of the spread, or in its middle, V."""
        return self.level * (1.0 + LEVELS[insulation_level] * self.spread)


_SPREAD = re.compile(r"(?P<level>.*?)\s*(?:\+-|\+/-|±)\s*(?P<spread>.*)")


def _flashover(value: object) -> Any:
    match = _SPREAD.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        return {"level": value}
    try:
        spread = parse(match["spread"], PERCENT)
    except ValueError as error:
        raise refused(f"{error}; a spread is written such as '10 kV +-15 %'") from None
    if not 0 <= spread < MOST_SPREAD:
        raise refused(f"{shorten(match['spread'])!r} is no spread; expected 0 to below 50 %")
    return {"level": match["level"], "spread": spread}


FlashoverText = Annotated[
    Flashover,
    BeforeValidator(_flashover),
    PlainSerializer(
        lambda flashover: (
            format_quantity(flashover.level, VOLTAGE)
            + (f" +-{format_quantity(flashover.spread, PERCENT)}" if flashover.spread else "")
        ),
        return_type=str,
    ),
]


class Pair(Form):
    """One terminal pair: what it stands and where that is from, its capacitance, its insulation.

    ``withstand`` is a rated impulse withstand voltage (1.2/50); ``highest voltage`` is for
    parts that are no clearance, such as a filter capacitor. ``arc voltage`` is what is left
    across insulation that has fired.
    """

    withstand: Voltage | None = None
    highest_voltage: Voltage | None = None
    from_: Literal["certificate", "table", "guess"]
    where: Text | None = None
    capacitance: Capacitance
    flashover: FlashoverText | None = None
    arc_voltage: Voltage | None = None

    examples: ClassVar[dict[str, str]] = {"from": "guess"}
    example: ClassVar[str] = "{withstand: 6 kV, from: guess, capacitance: 10 nF}"

    @model_validator(mode="after")
    def _one_limit(self) -> Pair:
        if (self.withstand is None) == (self.highest_voltage is None):
            raise refused("give one of the two, 'withstand: 6 kV' or 'highest voltage: 1100 V'")
        if self.from_ != "guess" and self.where is None:
            raise refused(
                f"'from: {self.from_}' needs 'where', such as 'where: IEC 62109-1 Table 16'"
            )
        if self.flashover is not None and self.flashover.at("low") < (self.withstand or 0):
            low = "the low end of " if self.flashover.spread else ""
            raise refused(f"{low}'flashover' is below 'withstand'")
        if self.flashover is not None and self.highest_voltage is not None:
            raise refused("'flashover' goes with 'withstand'; a 'highest voltage' has none")
        if self.arc_voltage is not None:
            self._arc(self.arc_voltage)
        return self

    def _arc(self, volts: float) -> None:
        if self.flashover is None:
            raise refused("'arc voltage' goes with 'flashover'")
        if volts > MOST_ARC * self.flashover.at("low"):
            raise refused(
                "'arc voltage' is more than a tenth of 'flashover'; an arc in air holds some"
                " tens of volts and ten to twenty a centimetre"
            )


def _pair_words(value: object) -> str:
    if not isinstance(value, str) or value != " ".join(value.split()) or not is_printable(value):
        raise refused("expected two terminals with single spaces, such as 'plus to pe'")
    return value


PairWords = Annotated[str, BeforeValidator(_pair_words)]


class Join(Form):
    """What equipment joins inside: a converter its two minus poles, a winding two phases."""

    resistance: Resistance
    inductance: Inductance

    examples: ClassVar[dict[str, str]] = {"resistance": "5 mohm", "inductance": "100 nH"}
    example: ClassVar[str] = "{resistance: 5 mohm, inductance: 100 nH}"


class Equipment(Form):
    """Equipment at a place: its terminal pairs, or why it is not assessed.

    In a file the pairs stand beside ``at``: ``plus to pe: {withstand: 6 kV, …}``. ``joins`` are
    pairs that conduct inside. ``end of`` makes it the end of that cable, whose insulation lies
    before whatever the place's conductors run through first.
    """

    at: Name
    end_of: Name | None = None
    bar: Text | None = None
    not_assessed: Text | None = None
    joins: dict[PairWords, Join] = Field(default_factory=dict)
    pairs: dict[PairWords, Pair] = Field(default_factory=dict)

    examples: ClassVar[dict[str, str]] = {
        "at": "inverter room",
        "joins": f"{{minus to battery minus: {Join.example}}}",
    }
    example: ClassVar[str] = (
        "{at: inverter room, plus to pe: {withstand: 6 kV, from: guess, capacitance: 10 nF}}"
    )
    also: ClassVar[tuple[str, ...]] = ("plus to pe", "minus to pe", "plus to minus")
    gathered: ClassVar[str] = "pairs"

    @model_validator(mode="before")
    @classmethod
    def _gather(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        if "pairs" in value:
            raise refused("has no 'pairs'; write each pair beside 'at', such as 'plus to pe: {…}'")
        pairs = {key: pair for key, pair in value.items() if " to " in key}
        rest = {key: item for key, item in value.items() if " to " not in key}
        return {**rest, "pairs": pairs}

    @model_validator(mode="after")
    def _assessed_or_not(self) -> Equipment:
        if self.pairs and self.not_assessed is not None:
            raise refused("has terminal pairs and is 'not assessed'; keep one of the two")
        if not self.pairs and self.not_assessed is None:
            raise refused(
                "give its terminal pairs, such as 'plus to pe: {withstand: 6 kV, from: guess, "
                "capacitance: 10 nF}', or 'not assessed: why'"
            )
        return self

    @model_serializer(mode="wrap")
    def _spread(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        written: dict[str, Any] = handler(self)
        plain = {k: v for k, v in written.items() if k != "pairs" and (k != "joins" or v)}
        return {**plain, **written.get("pairs", {})}
