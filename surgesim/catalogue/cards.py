"""What a model card holds. Every number has a value with its unit, and a source."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Annotated, ClassVar, Generic, Literal, NamedTuple, TypeVar

import numpy as np
from pydantic import Field, model_validator

from surgesim.physics.bundle import packed_within
from surgesim.physics.generators import Generator, open_circuit
from surgesim.physics.spark_gap import RATED_SLOPE, UP_SLOPE, GapLaw, calibrated, recovery_for
from surgesim.physics.varistor import VaristorLaw, fit_four_numbers, fit_three_numbers
from surgesim.physics.waveforms import (
    LONGEST_RINGING,
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Heidler,
    Ramp,
    RingWave,
    Step,
    Waveform,
)
from surgesim.reading.form import CardName, Form, Text, Version, refused
from surgesim.reading.quantities import (
    AREA,
    CAPACITANCE,
    CUBIC_RATE,
    CURRENT,
    INDUCTANCE,
    INDUCTANCE_PER_LENGTH,
    LENGTH,
    NUMBER,
    RATE,
    RESISTANCE,
    RESISTANCE_PER_LENGTH,
    SPEED,
    TIME,
    VOLTAGE,
    Quantity,
)

Voltage = Annotated[float, Quantity(VOLTAGE, most=1e9)]
Current = Annotated[float, Quantity(CURRENT, most=1e7)]
Resistance = Annotated[float, Quantity(RESISTANCE, most=1e15)]
Capacitance = Annotated[float, Quantity(CAPACITANCE, bound="not negative", most=1.0)]
Inductance = Annotated[float, Quantity(INDUCTANCE, bound="not negative", most=1.0)]
Length = Annotated[float, Quantity(LENGTH, most=1e6)]
Area = Annotated[float, Quantity(AREA, most=1.0)]
PerLength = Annotated[float, Quantity(RESISTANCE_PER_LENGTH, bound="not negative", most=1e3)]
Transfer = Annotated[float, Quantity(INDUCTANCE_PER_LENGTH, bound="not negative", most=1e-6)]
Time = Annotated[float, Quantity(TIME, most=10.0)]
Rate = Annotated[float, Quantity(RATE, most=1e12)]
CubicRate = Annotated[float, Quantity(CUBIC_RATE, most=1e30)]
Speed = Annotated[float, Quantity(SPEED, most=3e8)]
Number = Annotated[float, Quantity(NUMBER, most=1e9)]

Value = TypeVar("Value")
Conductor = Literal[
    "plus", "minus", "battery plus", "battery minus", "l1", "l2", "l3", "n", "u", "v", "w",
    "pe", "pen", "frame", "screen", "data a", "data b",
    "trunking", "conduit", "tray", "lps",
]  # fmt: skip


class Sourced(Form, Generic[Value]):
    """A number and where it comes from."""

    value: Value
    source: Text = Field(min_length=3)

    examples: ClassVar[dict[str, str]] = {"source": "IEC 61643-31:2018"}


class Card(Form):
    """What every card has: its kind and a line about it."""

    about: Text = Field(min_length=3)

    examples: ClassVar[dict[str, str]] = {
        "about": "Generic class II varistor arrester",
        "Up": "{value: 4 kV, source: IEC 61643-31:2018}",
        "In": "{value: 20 kA, source: IEC 61643-31:2018}",
    }


class VaristorArrester(Card):
    """One metal-oxide element of a limiting arrester, by the numbers on its nameplate.

    ``Ucpv`` is of direct, ``Uc`` of alternating current, rms. ``reference voltage`` is at 1 mA;
    ``Up`` is the declared level at ``In``, ``second level`` that at a ``second current``, which
    bends the curve between and beyond them; ``inductance`` is the element's own with its base,
    without leads.
    """

    kind: Literal["varistor arrester"]
    test_class: Literal["I", "II"]
    Ucpv: Sourced[Voltage] | None = None
    Uc: Sourced[Voltage] | None = None
    reference_voltage: Sourced[Voltage]
    In: Sourced[Current]
    Imax: Sourced[Current] | None = None
    Iimp: Sourced[Current] | None = None
    Up: Sourced[Voltage]
    second_current: Sourced[Current] | None = None
    second_level: Sourced[Voltage] | None = None
    capacitance: Sourced[Capacitance]
    inductance: Sourced[Inductance]

    @model_validator(mode="after")
    def _consistent(self) -> VaristorArrester:
        _rated_for_its_class(self)
        if (self.Ucpv is None) == (self.Uc is None):
            raise refused("give one of the two, 'Ucpv' of a DC side or 'Uc' of an AC side")
        if self.reference_voltage.value < self.continuous:
            raise refused(f"'reference voltage' is below {'Ucpv' if self.Ucpv else 'Uc'!r}")
        if (self.second_current is None) != (self.second_level is None):
            raise refused("'second level' goes with 'second current', at which it stands")
        try:
            self.law()
        except ValueError as error:
            last = "'Up' and 'second level'" if self.second_level else "'In' and 'Up'"
            words = f"'reference voltage', {last} do not fit together"
            raise refused(f"{words} (Up / 1.1 at In): {error}") from None
        return self

    def law(self) -> VaristorLaw:
        """The nominal element's: through Up/1.1 at In, and through a second point the same way."""
        three = (self.reference_voltage.value, self.In.value, self.Up.value / 1.1)
        if self.second_current is None or self.second_level is None:
            return fit_three_numbers(*three)
        return fit_four_numbers(*three, self.second_current.value, self.second_level.value / 1.1)

    @property
    def continuous(self) -> float:
        """The largest voltage that may stand for long: Ucpv, or the crest of Uc, V."""
        if self.Ucpv is not None:
            return self.Ucpv.value
        assert self.Uc is not None
        return float(np.sqrt(2.0) * self.Uc.value)


GAP_TOLERANCE = {
    "low": 0.8,
    "nominal": 1.0,
    "declared": 1.2,
    "unequal": 1.2,
    "unequal turned": 1.2,
}
"""Static sparkover voltage over the nominal one (tubes +-20 %, ITU-T K.12, from memory). Of
unequal elements one is low."""


class GapArrester(Card):
    """A gas discharge tube, or a spark gap, by the numbers on its nameplate.

    ``sparkover`` is the nominal static one, at 100 V/s. How it rises with steepness follows from
    the largest ``impulse sparkover`` on 1 kV/us, or from ``Up`` on 6 kV of 1.2/50; either is kept
    by a gap whose static level is 20 % high. ``follow current`` is the largest alternating one it
    puts out. ``inductance`` is the element's own with its base, without leads.
    """

    kind: Literal["spark gap", "gas discharge tube"]
    test_class: Literal["I", "II"]
    Uc: Sourced[Voltage]
    sparkover: Sourced[Voltage]
    impulse_sparkover: Sourced[Voltage] | None = None
    Up: Sourced[Voltage] | None = None
    glow_voltage: Sourced[Voltage]
    arc_voltage: Sourced[Voltage]
    follow_current: Sourced[Current] | None = None
    In: Sourced[Current]
    Imax: Sourced[Current] | None = None
    Iimp: Sourced[Current] | None = None
    capacitance: Sourced[Capacitance]
    inductance: Sourced[Inductance]

    examples: ClassVar[dict[str, str]] = {
        **Card.examples,
        "sparkover": "{value: 600 V, source: ITU-T K.12}",
        "arc voltage": "{value: 20 V, source: 'generic, from memory'}",
    }

    @model_validator(mode="after")
    def _consistent(self) -> GapArrester:
        _rated_for_its_class(self)
        if (self.impulse_sparkover is None) == (self.Up is None):
            raise refused("give one of the two, 'impulse sparkover' (at 1 kV/us) or 'Up'")
        if self.sparkover.value * GAP_TOLERANCE["low"] <= self.Uc.value:
            raise refused("'sparkover' less its 20 % is not above 'Uc': it would fire by itself")
        try:
            self.law("declared")
        except ValueError as error:
            raise refused(
                f"its voltages do not fit together (static level + 20 %): {error}"
            ) from None
        return self

    def law(self, tolerance: str) -> GapLaw:
        """The gap's law at ``low``, ``nominal`` or ``declared``; only its static level differs."""
        impulse, slope = self.impulse_sparkover, RATED_SLOPE
        if impulse is None:
            impulse, slope = self.Up, UP_SLOPE
        assert impulse is not None
        follow = self.follow_current.value if self.follow_current else None
        return _gap_law(
            self.sparkover.value, GAP_TOLERANCE[tolerance], impulse.value, slope,
            self.glow_voltage.value, self.arc_voltage.value, follow,
        )  # fmt: skip


@lru_cache(maxsize=64)
def _gap_law(
    sparkover: float, scale: float, impulse: float, slope: float, glow: float, arc: float,
    follow: float | None,
) -> GapLaw:  # fmt: skip
    """Calibrated at the declared limit of the static level, then put at ``scale`` times that."""
    declared = GapLaw(
        sparkover=GAP_TOLERANCE["declared"] * sparkover, collapse=1e-8, glow_voltage=glow,
        arc_voltage=arc, **({} if follow is None else {"recovery": recovery_for(follow)}),
    )  # fmt: skip
    return replace(calibrated(declared, impulse=impulse, slope=slope), sparkover=scale * sparkover)


class ArresterDevice(Card):
    """Several elements in one housing, connected as the trade calls it.

    ``pole`` is the card of each element at a conductor, ``earth`` of the one between the star
    point, or the neutral, and the earth. Several cards stand in series. ``Up`` is that of every
    mode. ``2+0`` each pole to PE; ``star``, ``delta``; ``1+1`` and ``3+1`` lines to the neutral and
    that to PE; ``3+0`` and ``4+0`` each conductor to PE.
    """

    kind: Literal["arrester device"]
    connection: Literal["2+0", "star", "delta", "1+1", "3+0", "3+1", "4+0"]
    pole: tuple[CardName, ...] = Field(min_length=1)
    earth: tuple[CardName, ...] | None = Field(default=None, min_length=1)
    Ucpv: Sourced[Voltage] | None = None
    Uc: Sourced[Voltage] | None = None
    Up: Sourced[Voltage] | None = None

    examples: ClassVar[dict[str, str]] = {
        **Card.examples,
        "connection": "star",
        "pole": "[pv 600 class II]",
        "earth": "[n-pe gap 255]",
    }

    @model_validator(mode="after")
    def _whole(self) -> ArresterDevice:
        if (self.connection in ("star", "1+1", "3+1")) != (self.earth is not None):
            need = "has no" if self.earth is not None else "needs"
            raise refused(f"connection {self.connection!r} {need} 'earth', an element of its own")
        if (self.Ucpv is None) == (self.Uc is None):
            raise refused("give one of the two, 'Ucpv' of a DC side or 'Uc' of an AC side")
        return self


def _rated_for_its_class(card: VaristorArrester | GapArrester) -> None:
    if card.test_class == "I" and card.Iimp is None:
        raise refused("a class I arrester needs 'Iimp'")
    if card.test_class == "II" and card.Imax is None:
        raise refused("a class II arrester needs 'Imax'")


class TextbookLimiter(Card):
    """An ideal limiter of worked examples: open below ``voltage``, ``resistance`` above it."""

    kind: Literal["textbook limiter"]
    voltage: Sourced[Voltage]
    resistance: Sourced[Resistance]


class Screen(NamedTuple):
    """A screen in SI: inner diameter, resistance and transfer inductance a metre; the sheath."""

    diameter: float
    resistance: float
    transfer_inductance: float
    sheath_diameter: float
    sheath_permittivity: float


class Cable(Card):
    """A cable by its make-up: one core a conductor, round and equal, each insulated.

    ``core diameter`` is over the core's insulation. The conductor counts as solid with the
    radius of its cross-section; ``resistance`` is that of direct current at 20 degC.

    A screened cable has all five of its screen: inner ``screen diameter``, ``screen
    resistance`` at direct current, the ``screen transfer inductance`` that adds to it in its
    transfer impedance R + j omega L, and the ``sheath diameter`` over everything with the
    ``sheath permittivity``.
    """

    kind: Literal["cable"]
    cores: tuple[Conductor, ...] = Field(min_length=1)
    section: Sourced[Area]
    core_diameter: Sourced[Length]
    permittivity: Sourced[Number]
    resistance: Sourced[PerLength]
    screen_diameter: Sourced[Length] | None = None
    screen_resistance: Sourced[PerLength] | None = None
    screen_transfer_inductance: Sourced[Transfer] | None = None
    sheath_diameter: Sourced[Length] | None = None
    sheath_permittivity: Sourced[Number] | None = None

    examples: ClassVar[dict[str, str]] = {**Card.examples, "cores": "[plus, minus]"}

    @model_validator(mode="after")
    def _consistent(self) -> Cable:
        if len(set(self.cores)) != len(self.cores):
            raise refused("'cores' names a conductor twice")
        if self.core_diameter.value**2 * 0.785 <= self.section.value:
            raise refused("'core diameter' is smaller than the conductor")
        if self.permittivity.value < 1:
            raise refused("'permittivity' is below 1")
        return self

    @model_validator(mode="after")
    def _whole_screen(self) -> Cable:
        parts = {
            "screen diameter": self.screen_diameter,
            "screen resistance": self.screen_resistance,
            "screen transfer inductance": self.screen_transfer_inductance,
            "sheath diameter": self.sheath_diameter,
            "sheath permittivity": self.sheath_permittivity,
        }
        missing = [key for key, part in parts.items() if part is None]
        if len(missing) not in (0, len(parts)):
            raise refused(f"a screened cable needs {', '.join(map(repr, missing))} too")
        if "screen" in self.cores:
            raise refused("'cores' holds no 'screen'; give its 'screen diameter' and the rest")
        if self.screen is None:
            return self
        if self.screen.sheath_diameter <= self.screen.diameter:
            raise refused("'sheath diameter' is not wider than 'screen diameter'")
        if self.screen.sheath_permittivity < 1:
            raise refused("'sheath permittivity' is below 1")
        diameters = [self.core_diameter.value] * len(self.cores)
        try:
            packed_within(diameters, inner_radius=self.screen.diameter / 2)
        except ValueError as error:
            raise refused(f"its cores overlap its screen: {error}") from None
        return self

    @property
    def screen(self) -> Screen | None:
        """The screen's numbers, if it has one."""
        parts = (
            self.screen_diameter,
            self.screen_resistance,
            self.screen_transfer_inductance,
            self.sheath_diameter,
            self.sheath_permittivity,
        )
        given = [part.value for part in parts if part is not None]
        return Screen(*given) if len(given) == len(parts) else None


class Enclosure(Card):
    """Metal that cables lie in: a tray, which is a flat strip, or closed trunking or conduit.

    ``width`` is inside, of trunking that of a round tube of the same circumference;
    ``resistance`` at direct current with its joints. ``transfer inductance`` is what leaks in
    through slots and joints; of a tray it follows from where the cables lie on it.
    """

    kind: Literal["enclosure"]
    conductor: Literal["trunking", "conduit", "tray"]
    width: Sourced[Length]
    resistance: Sourced[PerLength]
    transfer_inductance: Sourced[Transfer] | None = None

    examples: ClassVar[dict[str, str]] = {**Card.examples, "conductor": "conduit"}

    @model_validator(mode="after")
    def _leak(self) -> Enclosure:
        if (self.conductor == "tray") == (self.transfer_inductance is not None):
            raise refused(
                "a tray has no 'transfer inductance', it follows from its width"
                if self.conductor == "tray"
                else f"{self.conductor} needs 'transfer inductance', such as 0 nH/m where it is"
                " closed all round"
            )
        return self


class TextbookLine(Card):
    """A lossless line of one conductor over earth, as worked examples state it."""

    kind: Literal["textbook line"]
    cores: tuple[Conductor, ...] = Field(min_length=1, max_length=1)
    surge_impedance: Sourced[Resistance]
    velocity: Sourced[Speed]

    examples: ClassVar[dict[str, str]] = {**Card.examples, "cores": "[plus]"}


CREST_TOLERANCE = 0.02
"""Largest deviation of a shape's peak from 1. Published constants are rounded: of the shipped
ones 10/350, with the correction 0.93 of IEC 62305-1, is off by 0.0013."""

SHAPES: dict[str, tuple[type[Waveform], dict[str, str]]] = {
    "heidler": (
        Heidler,
        {"correction": "correction", "front": "front", "tail": "tail", "exponent": "exponent"},
    ),
    "double exponential": (
        DoubleExponential,
        {"scale": "correction", "decay": "decay rate", "rise": "rise rate"},
    ),
    "cubic exponential": (CubicExponential, {"scale": "cubic rate", "time_constant": "tail"}),
    "damped sine": (
        DampedSine,
        {
            "correction": "correction",
            "time_constant": "tail",
            "angular_frequency": "angular frequency",
        },
    ),
    "ring wave": (
        RingWave,
        {
            "scale": "correction",
            "front": "front",
            "tail": "tail",
            "angular_frequency": "angular frequency",
        },
    ),
    "ramp": (Ramp, {"rise": "front"}),
    "step": (Step, {"rise": "front"}),
}
"""Formula name on a card -> its waveform and, for each parameter, the card's key."""


class SurgeShape(Card):
    """The shape of a surge, as a named formula with its constants; the scenario sets the peak.

    ``measured as`` says by which definition of T1 and T2 the shape is known: that of impulse
    currents (IEC 62475) or of impulse voltages (IEC 60060-1). A
    stroke of a lightning protection level has a ``peak`` of its own, for a scenario without one.
    """

    kind: Literal["surge shape"]
    measured_as: Literal["current", "voltage"]
    formula: Literal[
        "heidler",
        "double exponential",
        "cubic exponential",
        "damped sine",
        "ring wave",
        "ramp",
        "step",
    ]
    peak: Sourced[Current] | None = None
    correction: Sourced[Number] | None = None
    front: Sourced[Time] | None = None
    tail: Sourced[Time] | None = None
    exponent: Sourced[Number] | None = None
    decay_rate: Sourced[Rate] | None = None
    rise_rate: Sourced[Rate] | None = None
    cubic_rate: Sourced[CubicRate] | None = None
    angular_frequency: Sourced[Rate] | None = None

    @model_validator(mode="after")
    def _complete(self) -> SurgeShape:
        needed = set(SHAPES[self.formula][1].values())
        given = {key for key, constant in self._constants().items() if constant is not None}
        for key in sorted(needed - given):
            raise refused(f"formula {self.formula!r} needs {key!r}")
        for key in sorted(given - needed):
            raise refused(f"formula {self.formula!r} has no {key!r}")
        return self

    @model_validator(mode="after")
    def _peaks_at_one(self) -> SurgeShape:
        """The peak that a scenario asks for must be the peak that comes."""
        try:
            unit = self.waveform(1.0)
        except ValueError as error:
            raise refused(f"formula {self.formula!r}: {error}") from None
        if self.tail and self.angular_frequency:
            ringing = self.tail.value * self.angular_frequency.value
            if ringing > LONGEST_RINGING:
                raise refused("'tail' and 'angular frequency' make a ringing that hardly dies out")
        crest = self._crest(unit)
        if not abs(crest - 1.0) <= CREST_TOLERANCE:
            raise refused(f"its formula peaks at {crest:.4g} instead of 1; check the constants")
        return self

    def _crest(self, unit: Waveform) -> float:
        """Largest value of the shape with peak 1, sampled from well before to after its crest."""
        times = [c.value for c in (self.front, self.tail) if c is not None]
        rates = (self.decay_rate, self.rise_rate, self.angular_frequency)
        times += [1.0 / rate.value for rate in rates if rate is not None]
        with np.errstate(over="ignore", invalid="ignore"):
            return float(np.max(unit.value(np.geomspace(1e-3 * min(times), 10 * max(times), 4000))))

    def _constants(self) -> dict[str, Sourced[float] | None]:
        return {
            "correction": self.correction,
            "front": self.front,
            "tail": self.tail,
            "exponent": self.exponent,
            "decay rate": self.decay_rate,
            "rise rate": self.rise_rate,
            "cubic rate": self.cubic_rate,
            "angular frequency": self.angular_frequency,
        }

    def waveform(self, peak: float) -> Waveform:
        """The surge of this shape with ``peak`` in ampere or volt."""
        kind, keys = SHAPES[self.formula]
        given = self._constants()
        constants = {name: constant.value for name, key in keys.items() if (constant := given[key])}
        return kind(peak=peak, **constants)


class SurgeGenerator(Card):
    """A surge generator as a circuit, coupling network included; the scenario sets the peak of
    its open-circuit voltage.

    A capacitor beside its ``discharge resistance``; then in series a resistance and, for the
    combination wave, an inductance; then across the output a ``load resistance`` or a ``load
    capacitance``; then in series what is its own and what couples it to a line.
    """

    kind: Literal["surge generator"]
    capacitance: Sourced[Capacitance]
    discharge_resistance: Sourced[Resistance]
    series_resistance: Sourced[Resistance]
    series_inductance: Sourced[Inductance] | None = None
    load_resistance: Sourced[Resistance] | None = None
    load_capacitance: Sourced[Capacitance] | None = None
    output_resistance: Sourced[Resistance] | None = None
    coupling_capacitance: Sourced[Capacitance] | None = None
    coupling_resistance: Sourced[Resistance] | None = None

    @model_validator(mode="after")
    def _shapes(self) -> SurgeGenerator:
        for key, value in self._elements().items():
            if value is not None and value.value == 0.0:
                raise refused(f"{key.replace('_', ' ')!r} is zero; leave it out")
        try:
            open_circuit(self.generator, peak=1.0)
        except ValueError as error:
            raise refused(str(error)) from None
        return self

    @property
    def generator(self) -> Generator:
        """Its elements as the physics takes them."""
        given = self._elements()
        return Generator(**{key: e.value for key, e in given.items() if e is not None})

    def _elements(self) -> dict[str, Sourced[float] | None]:
        return {
            "capacitance": self.capacitance,
            "discharge_resistance": self.discharge_resistance,
            "series_resistance": self.series_resistance,
            "series_inductance": self.series_inductance,
            "load_resistance": self.load_resistance,
            "load_capacitance": self.load_capacitance,
            "output_resistance": self.output_resistance,
            "coupling_capacitance": self.coupling_capacitance,
            "coupling_resistance": self.coupling_resistance,
        }


AnyCard = Annotated[
    VaristorArrester
    | GapArrester
    | ArresterDevice
    | TextbookLimiter
    | Cable
    | TextbookLine
    | Enclosure
    | SurgeShape
    | SurgeGenerator,
    Field(discriminator="kind"),
]
Arrester = VaristorArrester | GapArrester | TextbookLimiter
"""Of one element."""
Conductors = Cable | TextbookLine


class CardFile(Form):
    """A file of cards, by name; a scenario's own ``cards`` section has the same form."""

    surgesim: Version
    cards: dict[CardName, AnyCard] = Field(min_length=1)

    examples: ClassVar[dict[str, str]] = {"surgesim": "1", "cards": "{my arrester: {kind: …}}"}
