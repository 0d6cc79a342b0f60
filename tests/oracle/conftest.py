"""Small circuits the second solver's tests are made of."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, CurrentSource
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers
from surgesim.physics.waveforms import Waveform

MakeNetwork = Callable[..., Network]


@pytest.fixture
def injected() -> MakeNetwork:
    """Elements that an ideal current source feeds at node ``start``."""

    def make(waveform: Waveform, *elements: AnyElement) -> Network:
        source = CurrentSource(name="source", a=GROUND, b="start", waveform=waveform)
        return Network(title="injected", elements=(source, *elements), waveform=waveform)

    return make


@pytest.fixture
def law() -> VaristorLaw:
    """A disc of the 34 to 40 mm class: 430 V at 1 mA, 1350 V at 20 kA."""
    return fit_three_numbers(430.0, 20e3, 1350.0)
