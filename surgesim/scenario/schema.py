"""The scenario: one installation with one wiring and one surge, as frozen records.

The same forms are what a file is checked against and what ``surgesim show`` prints: printing
a resolved scenario and reading it again gives an equal object.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    model_validator,
)

from surgesim.catalogue.cards import AnyCard, Conductor
from surgesim.reading.form import CardName, Count, Form, Name, Remark, Text, Version, refused
from surgesim.reading.quantities import CURRENT, LENGTH, VOLTAGE, format_quantity, parse
from surgesim.reading.tree import shorten
from surgesim.scenario.bonds import Bond
from surgesim.scenario.electrodes import Earth
from surgesim.scenario.equipment import MOTOR_PHASES, Equipment, InsulationLevel
from surgesim.scenario.how_often import HowOftenPhrase
from surgesim.scenario.laying import Layings, MetalBondsPhrase, SpacingPhrase
from surgesim.scenario.leads import Breaker, Fuse, Leads
from surgesim.scenario.levels import parse_share
from surgesim.scenario.strokes import SLOWEST, Loop, Spot, Straight, StrokeSpeed
from surgesim.scenario.supply import ARRAY_POLES, BATTERY_POLES, Battery, Supply
from surgesim.scenario.values import (
    FlashDensity,
    Length,
    Percentage,
    Position,
    Resistance,
    Resistivity,
    Temperature,
)

REMOTE_EARTH = "remote earth"


# --- where ---------------------------------------------------------------------------------


class Site(Form):
    """What holds for the whole site."""

    soil: Resistivity
    flash_density: FlashDensity | None = None
    lowest_air_temperature: Temperature | None = None

    example: ClassVar[str] = "{soil: 170 ohm m}"


class Place(Form):
    """A spot of the installation. Its terminals are its conductors and its own ``bars``."""

    x: Position | None = None
    y: Position | None = None
    height: Position | None = None
    bars: tuple[Name, ...] = ()

    examples: ClassVar[dict[str, str]] = {"bars": "[inverter bar]"}
    example: ClassVar[str] = "{x: 0 m, y: 0 m}"

    @model_validator(mode="after")
    def _both(self) -> Place:
        if (self.x is None) != (self.y is None):
            raise refused("give both 'x' and 'y', or neither")
        return self


class Cable(Form):
    """Conductors from one place to another over one route.

    ``laying`` may be several stretches in a row, from ``from`` to ``to``. ``laid with`` names
    the cable whose duct or route it shares over its whole length, ``spacing`` how far beside it
    it lies where that is not in the same bundle; ``metal bonded`` joins its screen, or the metal
    it lies in, to a cable beside it all along. ``carries`` says which cores count (all, when
    absent); ``count`` is how many equal runs.
    """

    from_: Name
    to: Name
    length: Length
    type: Text
    laying: Layings | None = None
    laid_with: Name | None = None
    spacing: SpacingPhrase | None = None
    metal_bonded: MetalBondsPhrase | None = None
    carries: tuple[Conductor, ...] | None = Field(default=None, min_length=1)
    count: Count = 1

    examples: ClassVar[dict[str, str]] = {
        "from": "array",
        "to": "inverter room",
        "type": "pv pair 6 mm2",
        "laying": "plastic duct 0.7 m deep",
        "carries": "[plus, minus]",
        "metal bonded": "every 3 m to bond",
    }
    example: ClassVar[str] = (
        "{from: array, to: inverter room, length: 62 m, type: pv pair 6 mm2, "
        "laying: plastic duct 0.7 m deep}"
    )

    @model_validator(mode="after")
    def _stretches(self) -> Cable:
        lengths = [laying.length for laying in self.laying or () if laying.length is not None]
        if lengths and abs(sum(lengths) - self.length) > 1e-3 * self.length:
            total = format_quantity(sum(lengths), LENGTH)
            raise refused(f"its stretches of 'laying' add up to {total}, not to its 'length'")
        if self.spacing is not None and self.laid_with is None:
            raise refused("'spacing' goes with 'laid with': it is how far from that cable")
        return self


# --- arresters -------------------------------------------------------------------------------


_EACH: dict[str, tuple[str, ...]] = {
    "each pole": ARRAY_POLES,
    "each battery pole": BATTERY_POLES,
    "each motor phase": MOTOR_PHASES,
}


def _pairs(value: object) -> Any:
    if isinstance(value, str):
        value = [value]
    if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
        raise refused("expected 'each pole to pe', 'plus to minus' or a list of such pairs")
    pairs: list[str] = []
    for item in value:
        words = " ".join(item.split())
        each = next((each for each in _EACH if words.startswith(f"{each} to ")), None)
        if each is None:
            pairs.append(words)
        else:
            bar = words.removeprefix(f"{each} to ")
            pairs += [f"{conductor} to {bar}" for conductor in _EACH[each]]
    return pairs


class Arrester(Form):
    """A slot for an arrester: where it sits, across what, with which leads and which card."""

    at: Name
    across: Annotated[tuple[Text, ...], BeforeValidator(_pairs)]
    leads: Leads
    wiring: Literal["tee", "V"]
    earth_wiring: Literal["tee", "V"] | None = None
    fuse: Fuse | None = None
    breaker: Breaker | None = None
    failed: dict[Text, Literal["open", "shorted"]] | None = Field(default=None, min_length=1)
    card: Text

    examples: ClassVar[dict[str, str]] = {
        "at": "inverter room",
        "across": "each pole to pe",
        "earth wiring": "V",
        "fuse": "gG 63 A",
        "breaker": Breaker.example,
        "failed": "{plus to pe: open}",
        "card": "pv 1000 class II",
    }
    example: ClassVar[str] = (
        "{at: inverter room, across: each pole to pe, card: pv 1000 class II, "
        "leads: {line: 0.3 m, earth: 0.5 m to pe}}"
    )

    @model_validator(mode="after")
    def _in_series(self) -> Arrester:
        if self.fuse is not None and self.breaker is not None:
            raise refused("has a 'fuse' and a 'breaker'; describe the one that opens first")
        return self

    @model_validator(mode="after")
    def _v_of_the_earth_lead(self) -> Arrester:
        if self.earth_wiring == "V" and self.leads.earth is None:
            raise refused("'earth wiring' goes with an earth lead, such as 'earth: 0.5 m to pe'")
        return self


# --- surges ----------------------------------------------------------------------------------


class Peak(Form):
    """Peak of a surge: a current or a voltage."""

    value: float
    unit: Literal["A", "V"]


def _peak(value: object) -> Any:
    if isinstance(value, str):
        for unit, dimension in (("A", CURRENT), ("V", VOLTAGE)):
            try:
                number = parse(value, dimension)
            except ValueError:
                continue
            if 0 < number <= 1e7:
                return {"value": number, "unit": unit}
            raise refused(
                f"{shorten(value)!r} must be more than zero and at most 10 million; "
                "a negative surge is 'polarity: negative'"
            )
        try:
            parse(value, CURRENT)
        except ValueError as error:
            raise refused(f"{error} (or a voltage such as '6 kV')") from None
    raise refused("expected a current such as '5 kA' or a voltage such as '6 kV'")


PeakText = Annotated[
    Peak,
    BeforeValidator(_peak),
    PlainSerializer(
        lambda peak: format_quantity(peak.value, CURRENT if peak.unit == "A" else VOLTAGE),
        return_type=str,
    ),
]


def _share(value: object) -> float:
    try:
        return parse_share(value if isinstance(value, str) else "")
    except ValueError as error:
        raise refused(str(error)) from None


Share = Annotated[float, BeforeValidator(_share)]


class Surge(Form):
    """A current or voltage that enters the installation, or a current beside it.

    What goes ``into`` a terminal ``returns`` by another. A ``shape`` with a current may have a
    ``channel`` impedance beside it; one with a voltage stands behind its ``source impedance``. A
    ``generator`` is a circuit of its own, and ``peak`` its open-circuit voltage. A ``share`` is of
    a shape with a peak of its own, and has become the ``peak`` before this is made. A current that
    ``strikes ground at`` a spot enters the soil there out of an upright channel, which it climbs
    at its ``return stroke speed``; one that
    ``flows in`` a straight conductor is as given, and may then go ``into`` a terminal. ``happens``
    says how often, for how long arresters last.
    """

    shape: Text | None = None
    generator: Text | None = None
    peak: PeakText
    share: Share | None = None
    into: Text | None = None
    returns: Text | None = None
    channel: Resistance | None = None
    source_impedance: Resistance | None = None
    strikes_ground_at: Spot | None = None
    return_stroke_speed: StrokeSpeed | None = None
    flows_in: Straight | None = None
    happens: HowOftenPhrase | None = None

    examples: ClassVar[dict[str, str]] = {
        "shape": "10/350",
        "peak": "5 kA",
        "share": "1/8",
        "into": "array frame",
        "returns": REMOTE_EARTH,
        "happens": "0.02 per year",
    }
    example: ClassVar[str] = "{shape: 10/350, peak: 5 kA, into: array frame, returns: remote earth}"

    @property
    def ends(self) -> tuple[str, str] | None:
        """Where it enters the installation and where it returns; None for one that does not."""
        return None if self.into is None or self.returns is None else (self.into, self.returns)

    @model_validator(mode="after")
    def _no_share(self) -> Surge:
        if self.share is not None:
            raise refused(
                "'share' goes with a stroke that has a peak of its own, without 'peak', such as"
                " 'shape: LPL II first positive'"
            )
        return self

    @model_validator(mode="after")
    def _shape_or_generator(self) -> Surge:
        if (self.shape is None) == (self.generator is None):
            raise refused(
                "give one of the two, 'shape: 10/350' or 'generator: combination wave 12 ohm'"
            )
        if self.generator is None:
            return self
        if self.peak.unit == "A":
            raise refused(
                "the 'peak' of a generator is its open-circuit voltage, such as '6 kV'; the"
                " current is what comes of it"
            )
        for key, given in (("channel", self.channel), ("source impedance", self.source_impedance)):
            if given is not None:
                raise refused(f"{key!r} goes with a 'shape'; a generator has its own impedance")
        return self

    @model_validator(mode="after")
    def _impedance(self) -> Surge:
        if self.generator is not None:
            return self
        if self.peak.unit == "V" and self.source_impedance is None:
            raise refused("a voltage surge needs 'source impedance', such as '2 ohm'")
        if self.peak.unit == "V" and self.channel is not None:
            raise refused("'channel' goes with a current; a voltage has a 'source impedance'")
        if self.peak.unit == "A" and self.source_impedance is not None:
            raise refused("'source impedance' goes with a voltage; a current has a 'channel'")
        return self

    @model_validator(mode="after")
    def _where(self) -> Surge:
        beside = self.strikes_ground_at is not None or self.flows_in is not None
        if (self.into is None) != (self.returns is None):
            raise refused("needs both, such as 'into: array frame' and 'returns: remote earth'")
        if self.ends is None and not beside:
            raise refused(
                "goes nowhere; give 'into: array frame, returns: remote earth'"
                " or 'strikes ground at: {x: 46 m, y: 10 m}'"
            )
        if beside and self.peak.unit == "V":
            raise refused("a voltage flows nowhere; give the peak of a current, such as '12 kA'")
        if self.strikes_ground_at is not None and (self.ends or self.flows_in or self.channel):
            raise refused("'strikes ground at' is all of its way; take out what else says where")
        if self.return_stroke_speed is not None:
            if self.strikes_ground_at is None:
                raise refused("'return stroke speed' goes with 'strikes ground at'")
            if self.return_stroke_speed < SLOWEST:
                raise refused("'return stroke speed' is slower than any seen: 30 to 240 m/us")
        return self

    @property
    def card(self) -> str:
        """Name of the card of its shape or its generator."""
        name = self.generator or self.shape
        assert name is not None
        return name


# --- the whole -------------------------------------------------------------------------------


class Scenario(Form):
    """One installation, one wiring, one surge; every default filled in, every card inlined."""

    surgesim: Version
    title: Text
    question: Text | None = None
    site: Site
    places: dict[Name, Place] = Field(min_length=1)
    cables: dict[Name, Cable] = Field(default_factory=dict)
    earths: dict[Name, Earth] = Field(min_length=1)
    bonds: dict[Name, Bond] = Field(default_factory=dict)
    supply: dict[Name, Supply] = Field(default_factory=dict)
    loops: dict[Name, Loop] = Field(default_factory=dict)
    batteries: dict[Name, Battery] = Field(default_factory=dict)
    arresters: dict[Name, Arrester] = Field(default_factory=dict)
    equipment: dict[Name, Equipment] = Field(min_length=1)
    surges: dict[Name, Surge] = Field(min_length=1)
    asked_margin: Percentage
    arrester_tolerance: Literal["low", "nominal", "declared", "unequal", "unequal turned"]
    arrester_condition: Literal["new", "hot", "cold", "aged"] | None = None
    insulation_level: InsulationLevel | None = None
    polarity: Literal["positive", "negative"]
    cards: dict[CardName, AnyCard] = Field(default_factory=dict)
    assumed: tuple[Remark, ...] = ()

    examples: ClassVar[dict[str, str]] = {
        "surgesim": "1",
        "title": "Dairy barn",
        "places": f"{{array: {Place.example}}}",
        "cables": f"{{field run: {Cable.example}}}",
        "earths": f"{{array rod: {Earth.example}}}",
        "bonds": f"{{frame bonding: {Bond.example}}}",
        "supply": f"{{strings: {Supply.example}}}",
        "batteries": f"{{bank: {Battery.example}}}",
        "loops": f"{{string wiring: {Loop.example}}}",
        "arresters": f"{{inverter: {Arrester.example}}}",
        "equipment": f"{{inverter: {Equipment.example}}}",
        "surges": f"{{stroke: {Surge.example}}}",
    }
    also: ClassVar[tuple[str, ...]] = ("alternatives", "worst of", "claims")

    @property
    def surge(self) -> Surge:
        """The one surge of a resolved scenario."""
        return next(iter(self.surges.values()))

    @property
    def surge_name(self) -> str:
        """Name of the first surge: the only one, in a resolved case."""
        return next(iter(self.surges))


class Claim(Form):
    """A margin that the author asserts for one alternative at one terminal pair."""

    alternative: dict[Name, Name]
    equipment: Name
    pair: Text
    margin: Percentage

    examples: ClassVar[dict[str, str]] = {
        "alternative": "{fitted: both}",
        "equipment": "inverter DC input",
        "pair": "plus to pe",
    }
    example: ClassVar[str] = (
        "{alternative: {fitted: both}, equipment: inverter, pair: plus to pe, margin: 25 %}"
    )
