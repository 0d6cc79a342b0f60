"""How heat, cold and age change the law of a metal-oxide varistor.

What changes is the grain boundaries: the voltage at 1 mA and the leak beside it. At thousands of
amperes the grains' own resistance rules, which hardly changes; so the law is held where it was at
the nominal current and bent below it.
"""

from __future__ import annotations

import math
from dataclasses import replace

from surgesim.physics.varistor import VaristorLaw

BOLTZMANN = 8.617e-5
"""eV/K."""

ROOM = 298.15
"""K, at which a card's numbers hold."""

PER_KELVIN = -0.05e-2
"""Change of the voltage at 1 mA per kelvin (-0.05 %/K in the alpha region, from memory)."""

ACTIVATION = 0.5
"""Energy of the leak in eV (0.3 to 0.8 measured, from memory)."""

AGED_VOLTAGE = 0.9
"""Voltage at 1 mA of a disc at the end of its life over that of a new one: -10 % is what tests
of varistors count as failed (IEC 61051, IEC 61643-11, from memory)."""

AGED_LEAK = 10.0
"""Leak of a disc at the end of its life over that of a new one (a guess)."""


def at_temperature(law: VaristorLaw, kelvin: float) -> VaristorLaw:
    """The law at another temperature, in K.

    V1 changes by -0.05 %/K, the leak by exp(Ea/k (1/298 K - 1/T)), Ea 0.5 eV.
    """
    if not (math.isfinite(kelvin) and kelvin > 0.0):
        raise ValueError(f"expected a temperature above 0 K but got {kelvin}")
    leak = math.exp(ACTIVATION / BOLTZMANN * (1.0 / ROOM - 1.0 / kelvin))
    return _bent(law, voltage=1.0 + PER_KELVIN * (kelvin - ROOM), leak=leak)


def aged(law: VaristorLaw) -> VaristorLaw:
    """The law at the end of a disc's life: V1 a tenth lower, ten times the leak."""
    return _bent(law, voltage=AGED_VOLTAGE, leak=AGED_LEAK)


def _bent(law: VaristorLaw, *, voltage: float, leak: float) -> VaristorLaw:
    """V1 times ``voltage``, the core's voltage at In as it was, the leak times ``leak``.

    From V1' (In/I1)^(1/a') = V1 (In/I1)^(1/a): 1/a' = 1/a - ln(V1'/V1) / ln(In/I1).
    """
    decades = math.log(law.nominal_current / law.reference_current)
    return replace(
        law,
        reference_voltage=voltage * law.reference_voltage,
        exponent=1.0 / (1.0 / law.exponent - math.log(voltage) / decades),
        leakage_resistance=law.leakage_resistance * voltage / leak,
    )
