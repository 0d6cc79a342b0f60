"""The quantities of a scenario: floats in SI inside, text with a unit in a file.

Each has the largest magnitude that can be meant; what is beyond is a slip of a unit.
"""

from __future__ import annotations

from typing import Annotated

from surgesim.reading.quantities import (
    CAPACITANCE,
    CURRENT,
    FLASH_DENSITY,
    INDUCTANCE,
    INDUCTANCE_PER_LENGTH,
    LENGTH,
    PER_KELVIN,
    PERCENT,
    POWER,
    RESISTANCE,
    RESISTIVITY,
    TEMPERATURE,
    VOLTAGE,
    Quantity,
)

Position = Annotated[float, Quantity(LENGTH, bound="any", most=1e5)]
Length = Annotated[float, Quantity(LENGTH, most=1e5)]
LeadLength = Annotated[float, Quantity(LENGTH, bound="not negative", most=100.0)]
Voltage = Annotated[float, Quantity(VOLTAGE, most=1e8)]
Current = Annotated[float, Quantity(CURRENT, most=1e6)]
Resistance = Annotated[float, Quantity(RESISTANCE, most=1e12)]
Inductance = Annotated[float, Quantity(INDUCTANCE, bound="not negative", most=1e-2)]
PerMetre = Annotated[float, Quantity(INDUCTANCE_PER_LENGTH, most=1e-5)]
Capacitance = Annotated[float, Quantity(CAPACITANCE, bound="not negative", most=0.1)]
Resistivity = Annotated[float, Quantity(RESISTIVITY, most=1e6)]
FlashDensity = Annotated[float, Quantity(FLASH_DENSITY, bound="not negative", most=1e3)]
Temperature = Annotated[float, Quantity(TEMPERATURE, bound="any", most=400.0)]
Percentage = Annotated[float, Quantity(PERCENT, bound="not negative", most=100.0)]
Power = Annotated[float, Quantity(POWER, most=1e4)]
PerKelvin = Annotated[float, Quantity(PER_KELVIN, bound="any", most=0.01)]
