"""Surge generators against the figures they are published to have, by their states alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from surgesim.catalogue.cards import SurgeGenerator
from surgesim.catalogue.library import built_in
from surgesim.physics.generators import Generator, charge_for, open_circuit, short_circuit
from surgesim.physics.waveforms import shape_figures

# Carobbi and Bonci, IEEE EMC Magazine 2013, ideal equivalent circuit of the 1.2/50-8/20 generator
IDEAL = Generator(
    capacitance=5.93e-6,
    discharge_resistance=20.2,
    series_resistance=0.814,
    series_inductance=10.9e-6,
    load_resistance=26.1,
)
# a second published set with the same targets
SECOND = Generator(
    capacitance=7.76e-6,
    discharge_resistance=14.8,
    series_resistance=1.05,
    series_inductance=9.74e-6,
    load_resistance=23.3,
)


@pytest.mark.parametrize(
    ("generator", "ratio"), [(IDEAL, 0.943), (SECOND, 0.931)], ids=["ideal", "second"]
)
def test_the_combination_wave_is_1_2_50_open(generator: Generator, ratio: float) -> None:
    """0.5 % of the published open-circuit ratio; T1 3 % and T2 5 % of 1.2/50."""
    figures = shape_figures(open_circuit(generator, peak=6e3), kind="voltage")
    assert figures.peak == pytest.approx(6e3, rel=1e-6)
    assert 6e3 / charge_for(generator, peak=6e3) == pytest.approx(ratio, rel=5e-3)
    assert figures.front == pytest.approx(1.2e-6, rel=0.03)
    assert figures.tail == pytest.approx(50e-6, rel=0.05)


@pytest.mark.parametrize(
    ("generator", "front", "tail", "heat"),
    [(IDEAL, 8.013e-6, 20.03e-6, 14.19), (SECOND, 7.753e-6, 21.32e-6, 14.09)],
    ids=["ideal", "second"],
)
def test_the_combination_wave_is_8_20_shorted(
    generator: Generator, front: float, tail: float, heat: float
) -> None:
    """Figures of both sets recomputed by another solver; A2s per kA2 of the oscillating 8/20."""
    short = short_circuit(generator, peak=6e3)
    assert short.front == pytest.approx(front, rel=1e-3)
    assert short.tail == pytest.approx(tail, rel=1e-3)
    assert short.specific_energy is not None
    assert short.specific_energy / (short.peak * 1e-3) ** 2 == pytest.approx(heat, rel=2e-3)
    # IEC 61000-4-5:2014: 8 us and 20 us, each within 20 %; 2 ohm within 10 %
    assert short.front == pytest.approx(8e-6, rel=0.2)
    assert short.tail == pytest.approx(20e-6, rel=0.2)
    assert 6e3 / short.peak == pytest.approx(2.0, rel=0.03)


@pytest.mark.parametrize(
    ("farad", "ohm", "impedance", "front"),
    [(18e-6, 0.0, 2.222, 7.08e-6), (9e-6, 10.0, 12.008, 2.687e-6)],
    ids=["18 uF", "9 uF and 10 ohm"],
)
def test_coupling_networks_of_the_ideal_circuit(
    farad: float, ohm: float, impedance: float, front: float
) -> None:
    """Open voltage over the current into a short behind them, and its front."""
    coupled = replace(IDEAL, coupling_capacitance=farad, coupling_resistance=ohm)
    short = short_circuit(coupled, peak=1e3)
    assert 1e3 / short.peak == pytest.approx(impedance, rel=2e-3)
    assert short.front == pytest.approx(front, rel=5e-3)


def test_the_signal_coupling_is_near_42_ohm() -> None:
    """40 ohm and the generator's 2 ohm (from memory); the 0.5 uF costs another 7 %."""
    coupled = replace(IDEAL, coupling_capacitance=0.5e-6, coupling_resistance=40.0)
    assert 1e3 / short_circuit(coupled, peak=1e3).peak == pytest.approx(42.0, rel=0.08)


def test_the_10_700_generator() -> None:
    """ITU-T K.44, from memory: 10 us within 30 %, 700 us and 320 us within 20 %, 40 ohm 10 %."""
    card = built_in()["10/700 generator"]
    assert isinstance(card, SurgeGenerator)
    figures = shape_figures(open_circuit(card.generator, peak=4e3), kind="voltage")
    short = short_circuit(card.generator, peak=4e3)
    assert figures.front == pytest.approx(9.13e-6, rel=2e-3)
    assert figures.tail == pytest.approx(700e-6, rel=0.05)
    assert short.front == pytest.approx(4.81e-6, rel=2e-3)
    assert short.tail == pytest.approx(320e-6, rel=0.02)
    assert 4e3 / short.peak == pytest.approx(39.99, rel=1e-3)


@pytest.mark.parametrize("name", ["direct", "2 ohm", "12 ohm", "42 ohm"])
def test_the_shipped_combination_waves_are_the_ideal_circuit(name: str) -> None:
    card = built_in()[f"combination wave {name}"]
    assert isinstance(card, SurgeGenerator)
    bare = replace(card.generator, coupling_capacitance=0.0, coupling_resistance=0.0)
    assert bare == IDEAL


def test_the_charge_is_proportional_to_the_peak_and_has_its_sign() -> None:
    assert charge_for(IDEAL, peak=-2e3) == pytest.approx(-2.0 * charge_for(IDEAL, peak=1e3))


@pytest.mark.parametrize(
    "wrong",
    [
        {"load_capacitance": 1e-6},
        {"series_inductance": 0.0},
        {"load_resistance": 0.0},
        {"series_inductance": 0.0, "load_resistance": 0.0},
    ],
)
def test_a_generator_has_one_thing_that_shapes_its_front(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="expected an inductance with a load resistance"):
        replace(IDEAL, **wrong)


def test_an_output_that_swings_is_no_impulse() -> None:
    ringing = replace(IDEAL, load_resistance=0.5, discharge_resistance=1e3)
    with pytest.raises(ValueError, match="swings instead of rising and falling"):
        open_circuit(ringing, peak=1.0)
