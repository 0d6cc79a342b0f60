"""Skin effect of a round wire against Bessel functions and its two limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ive

from surgesim.physics.constants import MU_0
from surgesim.physics.skin import skin_chain, skin_ratio

SIX, FIFTY = 3.39e-3, 0.387e-3
"""Ohm per metre of 6 and 50 mm2 of copper, IEC 60228:2004, from memory."""


@pytest.mark.parametrize("resistance", [SIX, FIFTY])
@pytest.mark.parametrize("frequency", [1.0, 1e3, 1e5, 1e7, 1e9])
def test_the_wire_is_that_of_bessel_functions(resistance: float, frequency: float) -> None:
    z = np.sqrt(2j * frequency * MU_0 / resistance)
    exact = z * ive(0, z) / (2 * ive(1, z))
    assert skin_ratio(resistance, frequency) == pytest.approx(complex(exact), rel=1e-9)


def test_slowly_it_has_its_resistance_and_its_inner_inductance() -> None:
    # mu0 / 8 pi, 50 nH/m: any text on fields
    found = SIX * skin_ratio(SIX, 10.0)
    assert found.real == pytest.approx(SIX, rel=1e-4)
    assert found.imag / (2 * math.pi * 10.0) == pytest.approx(50e-9, rel=1e-4)


def test_fast_its_current_flows_in_a_skin() -> None:
    # R = 1 / (2 pi a sigma delta), a wire of 6 mm2 and 58 MS/m at 10 MHz; half a skin more
    radius, conductivity, frequency = math.sqrt(6e-6 / math.pi), 58e6, 1e7
    resistance = 1 / (conductivity * 6e-6)
    depth = 1 / math.sqrt(math.pi * frequency * MU_0 * conductivity)
    expected = 1 / (2 * math.pi * radius * conductivity * depth)
    found = (resistance * skin_ratio(resistance, frequency)).real
    assert found == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(("front", "tail"), [(32e3, 455.0), (318e3, 796.0), (1.27e6, 1591.0)])
@pytest.mark.parametrize("resistance", [SIX, FIFTY])
def test_the_chain_follows_the_wire(resistance: float, front: float, tail: float) -> None:
    # 7 %, 5 % root mean square: what five sections leave over three to five decades
    chain = skin_chain(resistance, front=front, tail=tail)
    errors = [
        abs((1.0 + chain.impedance(f)) / skin_ratio(resistance, f) - 1.0)
        for f in np.geomspace(tail / 3, 10 * front, 60)
    ]
    assert max(errors) < 0.07
    assert math.sqrt(np.mean(np.square(errors))) < 0.05


def test_below_the_tail_it_is_even_current() -> None:
    chain = skin_chain(SIX, front=1.27e6, tail=1591.0)
    found = 1.0 + chain.impedance(50.0)
    assert abs(found / skin_ratio(SIX, 50.0) - 1.0) < 1e-3


@pytest.mark.parametrize(("resistance", "frequency"), [(0.0, 1e3), (SIX, 0.0), (SIX, math.inf)])
def test_what_is_no_wire_is_refused(resistance: float, frequency: float) -> None:
    with pytest.raises(ValueError, match="positive, finite resistance and frequency"):
        skin_ratio(resistance, frequency)
