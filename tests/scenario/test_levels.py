"""Strokes with a peak of their own, and shares of them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from surgesim.catalogue.cards import SurgeShape
from surgesim.catalogue.library import built_in
from surgesim.errors import InputError
from surgesim.physics.waveforms import shape_figures
from surgesim.scenario.file import loads
from surgesim.scenario.levels import parse_share
from surgesim.scenario.schema import Scenario
from surgesim.scenario.written import written

LEVELS = ("I", "II", "III", "IV")


def scenario(surge: str, *, more: str = "") -> Scenario:
    text = f"""
surgesim: 1
title: Mast
site: {{soil: 100 ohm m}}
places: {{mast: {{}}}}
earths: {{ring: {{at: mast, bar: pe, measured: 10 ohm, inductance: 2 uH}}}}
equipment: {{radio: {{at: mast, not assessed: no ports described}}}}
surges: {{struck: {{{surge}, into: mast pe, returns: remote earth}}}}
{more}"""
    (case,) = loads(text).all_cases
    return case.scenario


@pytest.mark.parametrize(
    ("stroke", "peaks"),
    [
        ("first positive", (200e3, 150e3, 100e3, 100e3)),
        ("first negative", (100e3, 75e3, 50e3, 50e3)),
        ("subsequent", (50e3, 37.5e3, 25e3, 25e3)),
    ],
)
def test_the_levels_have_the_peaks_of_the_standard(stroke: str, peaks: tuple[float, ...]) -> None:
    # IEC 62305-1:2010 Table 3, from memory
    for level, peak in zip(LEVELS, peaks, strict=True):
        assert scenario(f"shape: LPL {level} {stroke}").surge.peak.value == peak


@pytest.mark.parametrize(
    ("level", "charge", "heat"), [("I", 100.0, 10e6), ("II", 75.0, 5.6e6), ("III", 50.0, 2.5e6)]
)
def test_the_first_positive_stroke_has_the_charge_and_energy_of_its_level(
    level: str, charge: float, heat: float
) -> None:
    # IEC 62305-1:2010 Table 3: 3 % from Annex B's own constants, and 5.6 was 5.625 there: 4 %
    card = built_in()[f"LPL {level} first positive"]
    assert isinstance(card, SurgeShape)
    assert card.peak is not None
    figures = shape_figures(card.waveform(card.peak.value), kind="current")
    assert figures.charge == pytest.approx(charge, rel=0.03)
    assert figures.specific_energy == pytest.approx(heat, rel=0.04)


@pytest.mark.parametrize(("level", "rate"), [("I", 200e9), ("II", 150e9), ("III", 100e9)])
def test_the_subsequent_stroke_has_the_average_steepness_of_its_level(
    level: str, rate: float
) -> None:
    # IEC 62305-1:2010 Table 3, I/T1; the constants' own T1 is 0.2493 us
    card = built_in()[f"LPL {level} subsequent"]
    assert isinstance(card, SurgeShape)
    assert card.peak is not None
    figures = shape_figures(card.waveform(card.peak.value), kind="current")
    assert card.peak.value / figures.front == pytest.approx(rate, rel=0.01)


@pytest.mark.parametrize(
    ("own", "level"), [("10/350", "first positive"), ("1/200", "first negative"),
                       ("0.25/100", "subsequent")],
)  # fmt: skip
def test_the_strokes_of_every_level_are_the_shapes_they_are_named_after(
    own: str, level: str
) -> None:
    shape = built_in()[own]
    for number in LEVELS:
        stroke = built_in()[f"LPL {number} {level}"]
        assert isinstance(shape, SurgeShape)
        assert isinstance(stroke, SurgeShape)
        assert stroke.waveform(1.0) == shape.waveform(1.0)


def test_a_share_is_taken_and_told() -> None:
    found = scenario("shape: LPL II first positive, share: 1/8")
    assert found.surge.peak.value == 18.75e3
    assert found.surge.share is None
    assert "peak of a stroke as on its card [struck: 1/8 of 150 kA]" in found.assumed


def test_the_whole_stroke_is_told_too() -> None:
    assert "peak of a stroke as on its card [struck: 200 kA]" in (
        scenario("shape: LPL I first positive").assumed
    )


def test_a_peak_that_is_given_stays(read_again: Callable[[Scenario], Scenario]) -> None:
    found = scenario("shape: LPL II first positive, peak: 30 kA")
    assert found.surge.peak.value == 30e3
    assert not any("stroke" in line for line in found.assumed)
    assert read_again(found) == found


def test_the_resolved_form_reads_back(read_again: Callable[[Scenario], Scenario]) -> None:
    found = scenario("shape: LPL IV subsequent, share: 12.5 %")
    assert read_again(found) == found


@pytest.fixture
def read_again() -> Callable[[Scenario], Scenario]:
    def again(found: Scenario) -> Scenario:
        (case,) = loads(written(found)).all_cases
        return case.scenario

    return again


def test_a_card_of_ones_own_may_have_a_peak() -> None:
    own = """
cards:
  worst of the site:
    kind: surge shape
    measured as: current
    about: A stroke of a test
    formula: ramp
    peak: {value: 60 kA, source: a test}
    front: {value: 2 us, source: a test}
"""
    assert scenario("shape: worst of the site, share: 1/3", more=own).surge.peak.value == 20e3


@pytest.mark.parametrize(
    ("text", "share"), [("1/8", 0.125), ("1 / 4", 0.25), ("12.5 %", 0.125), ("1/1", 1.0)]
)
def test_shares(text: str, share: float) -> None:
    assert parse_share(text) == share


@pytest.mark.parametrize("text", ["0/8", "9/8", "1/0", "0.5", "120 %", "0 %", "-1/8", "half", ""])
def test_no_shares(text: str) -> None:
    with pytest.raises(ValueError, match="expected a part of the whole"):
        parse_share(text)


@pytest.mark.parametrize(
    ("surge", "words"),
    [
        ("shape: LPL II subsequent, share: half", "share: expected a part of the whole, such as"),
        ("shape: 10/350, peak: 9 kA, share: 1/8", "'share' goes with a stroke that has a peak of"),
        ("shape: LPL II subsequent, peak: 9 kA, share: 1/8", "without 'peak'"),
        ("shape: 10/350, share: 1/8", "peak: is missing"),
    ],
)
def test_a_share_that_cannot_be_taken_is_refused(surge: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        scenario(surge)
    assert len(caught.value.problems) == 1
    assert words in str(caught.value)
