"""What stands on the wires before the surge: arrays and batteries, referred to earth."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, PlainSerializer, model_validator

from surgesim.errors import InputError
from surgesim.physics.array import voltage_by_coefficient, voltage_by_table
from surgesim.reading.form import Count, Form, Name, Text, refused
from surgesim.reading.quantities import (
    CAPACITANCE,
    CAPACITANCE_PER_POWER,
    format_quantity,
    parse,
)
from surgesim.reading.tree import shorten
from surgesim.scenario.values import (
    Current,
    Inductance,
    PerKelvin,
    Power,
    Resistance,
    Temperature,
    Voltage,
)

ARRAY_POLES = ("plus", "minus")
BATTERY_POLES = ("battery plus", "battery minus")

FRAME = "frame"
"""The terminal that the modules' frames are."""

MOST_CAPACITANCE = 1e-4
"""Farad of one module, or farad per kilowatt, beyond which a unit has slipped."""


class ModuleCapacitance(Form):
    """Capacitance of a module: as it is, or by the module's power.

    Written ``12 nF`` or ``80 nF per kW``; ``value`` is in F or in F/W.
    """

    value: float
    per: Literal["module", "kW"]


def _module_capacitance(value: object) -> Any:
    if not isinstance(value, str):
        raise refused("expected a capacitance such as '12 nF' a module or '80 nF per kW'")
    by_power = re.search(r"per|/", value) is not None
    try:
        number = parse(value, CAPACITANCE_PER_POWER if by_power else CAPACITANCE)
    except ValueError as error:
        other = "'12 nF' of each module" if by_power else "'80 nF per kW'"
        raise refused(f"{error} (or {other})") from None
    if not 0 <= number * (1e3 if by_power else 1) <= MOST_CAPACITANCE:
        raise refused(f"{shorten(value)!r} must not be negative, and at most 100 uF")
    return {"value": number, "per": "kW" if by_power else "module"}


def _module_capacitance_text(capacitance: ModuleCapacitance) -> str:
    dimension = CAPACITANCE_PER_POWER if capacitance.per == "kW" else CAPACITANCE
    return format_quantity(capacitance.value, dimension)


ModuleCapacitanceText = Annotated[
    ModuleCapacitance,
    BeforeValidator(_module_capacitance),
    PlainSerializer(_module_capacitance_text, return_type=str),
]


class DryAndWet(Form):
    """Capacitance of a module with its surface dry and wet."""

    dry: ModuleCapacitanceText
    wet: ModuleCapacitanceText

    examples: ClassVar[dict[str, str]] = {"dry": "10 nF per kW", "wet": "100 nF per kW"}
    example: ClassVar[str] = "{dry: 10 nF per kW, wet: 100 nF per kW}"

    @model_validator(mode="after")
    def _wet_is_more(self) -> DryAndWet:
        if self.dry.per == self.wet.per and self.wet.value < self.dry.value:
            raise refused("'wet' is below 'dry'; water on the glass adds capacitance")
        return self


class Modules(Form):
    """The modules of an array, all equal: ``in series`` to a string, ``strings`` in parallel.

    ``capacitance to frame`` is that of the cells of one module, ``frame capacitance to earth``
    that of one module's frame.
    """

    Voc_at_STC: Voltage
    Voc_coefficient: PerKelvin | None = None
    Isc_at_STC: Current
    in_series: Count
    strings: Count
    power: Power | None = None
    capacitance_to_frame: DryAndWet
    frame_capacitance_to_earth: ModuleCapacitanceText

    examples: ClassVar[dict[str, str]] = {
        "Voc at STC": "49.6 V",
        "Isc at STC": "13.9 A",
        "in series": "16",
        "strings": "4",
        "frame capacitance to earth": "50 pF",
    }
    example: ClassVar[str] = (
        "{Voc at STC: 49.6 V, Voc coefficient: -0.26 % per K, Isc at STC: 13.9 A, "
        "in series: 16, strings: 4}"
    )

    @model_validator(mode="after")
    def _falling(self) -> Modules:
        if self.Voc_coefficient is not None and self.Voc_coefficient >= 0:
            raise refused(
                "'Voc coefficient' is not below zero; an open-circuit voltage falls as cells"
                " warm, such as '-0.26 % per K'"
            )
        return self

    @property
    def number(self) -> int:
        """How many modules there are."""
        return self.in_series * self.strings

    def cold_voltage(self, temperature: float) -> float:
        """Open-circuit voltage of a string of cells at ``temperature`` (K), V.

        By the modules' coefficient, or without one by the table for crystalline silicon.
        Raises InputError where the table has ended.
        """
        stc = self.Voc_at_STC * self.in_series
        if self.Voc_coefficient is None:
            return voltage_by_table(at_stc=stc, temperature=temperature)
        return voltage_by_coefficient(
            at_stc=stc, coefficient=self.Voc_coefficient, temperature=temperature
        )

    def total(self, capacitance: ModuleCapacitance) -> float:
        """Capacitance of all modules together, F."""
        if capacitance.per == "module":
            return self.number * capacitance.value
        assert self.power is not None  # filled in where a capacitance goes by it
        return self.number * self.power * capacitance.value


class Reference(Form):
    """How a DC side stands to earth: leakage of each pole, or the pole that is earthed.

    ``at`` is where, when that is another place than the supply's own, such as an inverter that
    earths a pole.
    """

    at: Name | None = None
    to: Text
    each_pole: Resistance | None = None
    earthed_pole: Literal["plus", "minus"] | None = None
    through: Resistance | None = None

    examples: ClassVar[dict[str, str]] = {"to": "frame"}
    example: ClassVar[str] = "{to: frame, each pole: 2 Mohm}"

    @model_validator(mode="after")
    def _one_kind(self) -> Reference:
        if (self.each_pole is None) == (self.earthed_pole is None):
            raise refused(
                "give one of the two, 'each pole: 2 Mohm' or 'earthed pole: minus' with 'through'"
            )
        if (self.earthed_pole is None) != (self.through is None):
            raise refused("'earthed pole' and 'through' belong together, such as 'through: 1 ohm'")
        return self

    @property
    def poles(self) -> Mapping[str, float]:
        """Resistance in ohm of each pole, ``plus`` or ``minus``, that is tied to earth."""
        if self.each_pole is not None:
            return {"plus": self.each_pole, "minus": self.each_pole}
        assert self.earthed_pole is not None
        assert self.through is not None
        return {self.earthed_pole: self.through}


class EarthFault(Form):
    """A pole that lies on something earthed, by a fault, before the surge comes."""

    pole: Literal["plus", "minus"]
    at: Name | None = None
    to: Text
    through: Resistance

    examples: ClassVar[dict[str, str]] = {"to": "frame", "through": "1 ohm"}
    example: ClassVar[str] = "{pole: minus, to: frame, through: 1 ohm}"


class Supply(Form):
    """A photovoltaic array on plus and minus.

    ``voltage`` is its open-circuit voltage; ``dark`` it stands at zero and delivers nothing,
    but its cells still conduct above that voltage and its bypass diodes below zero, through
    ``resistance``. Given as ``modules``, voltage and current follow from them.
    """

    at: Name
    modules: Modules | None = None
    surface: Literal["dry", "wet"] | None = None
    voltage: Voltage
    Isc_at_STC: Current
    resistance: Resistance
    state: Literal["lit", "dark"]
    reference: Reference
    earth_fault: EarthFault | None = None

    examples: ClassVar[dict[str, str]] = {"at": "array", "Isc at STC": "13.9 A"}
    example: ClassVar[str] = (
        "{at: array, voltage: 874 V, Isc at STC: 13.9 A, reference: {to: frame, each pole: 2 Mohm}}"
    )

    @model_validator(mode="after")
    def _standing(self) -> Supply:
        """Leakage that loads the array is a slip of mohm for Mohm: it would stand at nothing."""
        leak = self.reference.each_pole
        if leak is not None and self.voltage / (2 * leak) > 0.1 * self.Isc_at_STC:
            raise refused(
                "'each pole' draws more than a tenth of 'Isc at STC' from the array;"
                " insulation has megohms, such as '2 Mohm'"
            )
        if self.surface is not None and self.modules is None:
            raise refused("'surface' goes with 'modules', whose capacitance it decides")
        return self

    @property
    def to_frame(self) -> float:
        """Capacitance of all cells to the frames, F; 0 without module data."""
        if self.modules is None:
            return 0.0
        both = self.modules.capacitance_to_frame
        return self.modules.total(both.dry if self.surface == "dry" else both.wet)

    @property
    def frames_to_earth(self) -> float:
        """Capacitance of all frames to earth, F; 0 without module data."""
        if self.modules is None:
            return 0.0
        return self.modules.total(self.modules.frame_capacitance_to_earth)


def disagreement(supply: Supply, lowest: Temperature | None) -> tuple[str, str, str] | None:
    """Key, message and hint where an array's figures are not those of its modules."""
    modules = supply.modules
    if modules is None:
        return None
    if lowest is None:
        words = "needs 'lowest air temperature' under 'site', for the modules' voltage in the cold"
        return "modules", words, "for example '-14 degC'"
    try:
        voltage = modules.cold_voltage(lowest)
    except InputError as error:
        return "modules", error.problems[0].message, error.problems[0].hint
    if abs(supply.voltage - voltage) > 1e-3 * voltage:
        words = f"{supply.voltage:.5g} V is not the {voltage:.5g} V of the modules in the cold"
        return "voltage", words, "leave 'voltage' out, or 'modules'"
    current = modules.strings * modules.Isc_at_STC
    if abs(supply.Isc_at_STC - current) > 1e-3 * current:
        words = f"{supply.Isc_at_STC:.5g} A is not the {current:.5g} A of the strings"
        return "Isc at STC", words, "leave 'Isc at STC' out, or 'modules'"
    return None


class Battery(Form):
    """A battery on ``battery plus`` and ``battery minus``.

    A constant voltage behind its resistance and the inductance of its cells and links.
    """

    at: Name
    voltage: Voltage
    resistance: Resistance
    inductance: Inductance
    reference: Reference
    earth_fault: EarthFault | None = None

    examples: ClassVar[dict[str, str]] = {
        "at": "battery shelf",
        "voltage": "52 V",
        "resistance": "20 mohm",
        "inductance": "1 uH",
    }
    example: ClassVar[str] = (
        "{at: battery shelf, voltage: 52 V, resistance: 20 mohm, inductance: 1 uH, "
        "reference: {to: pe, each pole: 1 Mohm}}"
    )
