"""What a card becomes between two clamps."""

from __future__ import annotations

import pytest

from surgesim.build import build
from surgesim.network.elements import Capacitor, Inductor, SparkGap
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

TEXT = """\
surgesim: 1
title: one slot
question: none
site: {{soil: 100 ohm m}}
places:
  roof: {{}}
  house: {{}}
cables:
  run: {{from: roof, to: house, length: 20 m, type: pv pair 6 mm2, laying: plastic duct 0.7 m deep}}
earths:
  rod: {{at: roof, bar: frame, measured: 30 ohm, inductance: 1 uH}}
  foundation: {{at: house, bar: pe, measured: 10 ohm, inductance: 1 uH}}
supply:
  strings:
    {{at: roof, voltage: 100 V, Isc at STC: 10 A, reference: {{to: frame, each pole: 1 Mohm}}}}
equipment:
  drive:
    at: house
    plus to pe: {{withstand: 2.5 kV, from: guess, capacitance: 1 nF}}
arresters:
  slot:
    at: house
    across: plus to pe
    leads: {{line: 0.3 m, earth: 0.5 m to pe}}
    card: {card}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof frame, returns: remote earth}}
arrester tolerance: {tolerance}
"""


def scenario(card: str, *, tolerance: str = "declared") -> Scenario:
    (case,) = loads(TEXT.format(card=card, tolerance=tolerance)).all_cases
    return case.scenario


@pytest.mark.parametrize(
    ("tolerance", "volts"), [("low", 184.0), ("nominal", 230.0), ("declared", 276.0)]
)
def test_a_tube_is_a_gap_behind_its_own_inductance(tolerance: str, volts: float) -> None:
    network = build(scenario("gas tube 230", tolerance=tolerance))
    (gap,) = (e for e in network.elements if isinstance(e, SparkGap))
    assert gap.law.sparkover == pytest.approx(volts)
    (probe,) = network.arresters
    assert probe.gap == gap.name
    assert (probe.rating.continuous, probe.rating.peak) == (120.0, 20e3)
    beside = [e for e in network.elements if isinstance(e, Capacitor) and e.a == gap.a]
    assert [each.capacitance for each in beside] == pytest.approx([1.5e-12])
    own = [e for e in network.elements if isinstance(e, Inductor) and e.b == gap.a]
    assert [each.inductance for each in own] == pytest.approx([5e-9])
    assert gap.b == probe.b


def test_a_varistor_is_no_gap() -> None:
    network = build(scenario("pv 150 class II"))
    assert not [e for e in network.elements if isinstance(e, SparkGap)]
    assert [probe.gap for probe in network.arresters] == [None]
