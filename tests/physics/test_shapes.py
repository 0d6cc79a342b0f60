"""Wave shapes against the standards that name them.

Front and tail are those of IEC 60060-1:2010 (voltage) and IEC 62475:2010 (current).
Constants marked "from memory" are quoted without the document at hand; they reproduce the
figures they are published to have.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from surgesim.physics.waveforms import (
    CubicExponential,
    DampedSine,
    DoubleExponential,
    Heidler,
    RingWave,
    shape_figures,
)

US = 1e-6

# IEC 62305-1:2010 Annex B, exponent 10; the 10/350 row from memory
FIRST_POSITIVE = Heidler(peak=200e3, correction=0.93, front=19 * US, tail=485 * US, exponent=10)
FIRST_NEGATIVE = Heidler(peak=100e3, correction=0.986, front=1.82 * US, tail=285 * US, exponent=10)
SUBSEQUENT = Heidler(peak=50e3, correction=0.993, front=0.454 * US, tail=143 * US, exponent=10)

# IEEE Std C62.41.2-2002, 8/20 current, from memory
CUBIC_8_20 = CubicExponential(peak=1e3, scale=0.01243e18, time_constant=3.911 * US)

# the one damped sine with T1 = 8 us and T2 = 20 us exactly: a calculation
SINE_8_20 = DampedSine(
    peak=1e3, correction=0.61520, time_constant=24.022 * US, angular_frequency=120_023.0
)


def annex_form(*, k: float, front: float, tail: float, exponent: float, peak: float) -> Heidler:
    """IEC 61000-4-5:2014 Annex: k/ks y^e/(1+y^e) exp(-t/t2), y = t/t1, times in us."""
    ks = math.exp(-(front / tail) * (exponent * tail / front) ** (1.0 / exponent))
    return Heidler(
        peak=peak, correction=ks / k, front=front * US, tail=tail * US, exponent=exponent
    )


# IEC 61000-4-5:2014 Annex, from memory; the published k of 8/20 was at hand only as 0.895,
# which misses its own peak by 5 %, and 0.939 is what the form needs
ANNEX_8_20 = annex_form(k=0.939, front=47.52, tail=4.296, exponent=2.741, peak=1e3)


@pytest.mark.parametrize(
    ("shape", "front", "tail"),
    [(FIRST_POSITIVE, 10.0, 350.0), (FIRST_NEGATIVE, 1.0, 200.0), (SUBSEQUENT, 0.25, 100.0)],
    ids=["10/350", "1/200", "0.25/100"],
)
def test_lightning_strokes_have_the_nominal_figures(
    shape: Heidler, front: float, tail: float
) -> None:
    figures = shape_figures(shape, kind="current")
    assert figures.tail is not None
    # Annex B's constants are rounded: the tail of 10/350 comes out at 356.6 us
    assert figures.peak == pytest.approx(shape.peak, rel=0.01)
    assert figures.front == pytest.approx(front * US, rel=0.05)
    assert figures.tail == pytest.approx(tail * US, rel=0.02)


def test_first_positive_stroke_carries_the_charge_and_energy_of_protection_level_one() -> None:
    figures = shape_figures(FIRST_POSITIVE, kind="current")
    # IEC 62305-1:2010 Table 3: 100 C and 10 MJ/ohm, rounded there
    assert figures.charge == pytest.approx(100.0, rel=0.03)
    assert figures.specific_energy == pytest.approx(10e6, rel=0.03)


def test_half_the_first_positive_stroke_carries_half_the_charge_and_a_quarter_of_the_energy() -> (
    None
):
    half = Heidler(peak=100e3, correction=0.93, front=19 * US, tail=485 * US, exponent=10)
    figures = shape_figures(half, kind="current")
    # IEC 62305-1:2010 Table 3, level III: 50 C and 2.5 MJ/ohm
    assert figures.charge == pytest.approx(50.0, rel=0.03)
    assert figures.specific_energy == pytest.approx(2.5e6, rel=0.03)


@pytest.mark.parametrize(
    ("shape", "charge", "energy", "steepest"),
    [
        # quadrature of IEC 62305-1:2010 Annex B with four published digits
        (FIRST_POSITIVE, 100.23, 10_275e3, 27.31e9),
        (FIRST_NEGATIVE, 28.72, 1_445e3, 139.7e9),
        (SUBSEQUENT, 7.177, 180.0e3, 279.0e9),
    ],
    ids=["10/350", "1/200", "0.25/100"],
)
def test_charge_energy_and_steepness_of_the_strokes(
    shape: Heidler, charge: float, energy: float, steepest: float
) -> None:
    figures = shape_figures(shape, kind="current")
    assert figures.charge == pytest.approx(charge, rel=5e-4)
    assert figures.specific_energy == pytest.approx(energy, rel=5e-4)
    assert figures.steepest == pytest.approx(steepest, rel=5e-4)


def test_the_subsequent_stroke_is_as_steep_as_it_is_quoted() -> None:
    # quoted as "steepest rise 280 kA/us" for 50 kA 0.25/100, two digits and a half
    assert shape_figures(SUBSEQUENT, kind="current").steepest == pytest.approx(280e9, rel=0.01)


@pytest.mark.parametrize(
    ("kind", "front", "tail", "decay", "rise", "scale"),
    [
        # fitted to the nominal figures to nine digits, printed to six: a calculation
        ("voltage", 1.2, 50.0, 14_659.1, 2.46893e6, 1.03725),
        ("current", 10.0, 350.0, 2_127.18, 246_066.0, 1.05139),
        ("voltage", 10.0, 700.0, 1_025.13, 305_609.0, 1.02279),
        ("current", 10.0, 1000.0, 712.406, 262_027.0, 1.01901),
        ("current", 0.25, 100.0, 6_986.45, 1.08228e7, 1.00541),
        ("current", 1.0, 200.0, 3_517.07, 2.67424e6, 1.01010),
        # Kuffel, Zaengl, Kuffel, High Voltage Engineering, from memory
        ("voltage", 1.2, 50.0, 1.0 / (68.22 * US), 1.0 / (0.405 * US), 1.0373),
        # IEEE Std C62.41.2, A (1 - exp(-t/t1)) exp(-t/t2) multiplied out, from memory
        ("voltage", 1.2, 50.0, 1 / (68.22 * US), 1 / (68.22 * US) + 1 / (0.4074 * US), 1.037),
        ("current", 10.0, 1000.0, 1 / (1404 * US), 1 / (1404 * US) + 1 / (3.827 * US), 1.019),
    ],
)
def test_double_exponentials_have_the_figures_they_are_named_after(
    kind: str, front: float, tail: float, decay: float, rise: float, scale: float
) -> None:
    shape = DoubleExponential(peak=1.0, scale=scale, decay=decay, rise=rise)
    figures = shape_figures(shape, kind="voltage" if kind == "voltage" else "current")
    # 0.05 %: the constants have four digits at least
    assert figures.peak == pytest.approx(1.0, rel=5e-4)
    assert figures.front == pytest.approx(front * US, rel=5e-4)
    assert figures.tail == pytest.approx(tail * US, rel=5e-4)


def test_double_exponential_10_350_carries_less_than_the_heidler_form() -> None:
    shape = DoubleExponential(peak=100e3, scale=1.05139, decay=2127.18, rise=246_066.0)
    figures = shape_figures(shape, kind="current")
    assert figures.charge == pytest.approx(49.0, rel=2e-3)  # two exponentials integrated
    assert figures.specific_energy == pytest.approx(2.53e6, rel=2e-3)


def test_no_double_exponential_is_8_20() -> None:
    ratios = []
    for spread in np.geomspace(1.0001, 1e4, 60):
        shape = DoubleExponential(peak=1.0, scale=1.0, decay=1e5, rise=1e5 * float(spread))
        figures = shape_figures(shape, kind="current")
        assert figures.tail is not None
        ratios.append(figures.tail / figures.front)
    # the smallest ratio of the family, at equal exponents; 8/20 needs 2.5
    assert min(ratios) == pytest.approx(3.805, rel=1e-3)
    assert ratios == sorted(ratios)


def test_cubic_8_20_has_its_figures() -> None:
    figures = shape_figures(CUBIC_8_20, kind="current")
    assert figures.tail is not None
    assert figures.peak == pytest.approx(0.9996e3, rel=1e-4)
    assert figures.front == pytest.approx(8.023 * US, rel=1e-3)
    assert figures.tail == pytest.approx(19.94 * US, rel=1e-3)
    assert figures.time_to_peak == pytest.approx(3 * 3.911 * US, rel=1e-5)  # at 3 tau
    assert figures.charge == pytest.approx(17.449e-3, rel=1e-3)
    assert figures.specific_energy == pytest.approx(12.164, rel=1e-3)
    assert figures.steepest == pytest.approx(0.1490e9, rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "shape", "front", "tail"),
    [
        # IEC 61000-4-5:2014 Annex, from memory, with the figures its constants give
        ("voltage", (0.94, 0.356, 65.845, 1.852), 1.195, 50.00),
        ("current", (0.939, 47.52, 4.296, 2.741), 8.019, 19.997),
        ("voltage", (0.937, 2.574, 945.1, 1.749), 10.01, 698.9),
        ("current", (0.895, 1.355, 429.1, 1.556), 4.97, 322.6),
    ],
    ids=["1.2/50", "8/20", "10/700", "5/320"],
)
def test_annex_forms_have_their_figures(
    kind: str, shape: tuple[float, float, float, float], front: float, tail: float
) -> None:
    k, t1, t2, exponent = shape
    wave = annex_form(k=k, front=t1, tail=t2, exponent=exponent, peak=1.0)
    figures = shape_figures(wave, kind="voltage" if kind == "voltage" else "current")
    assert figures.peak == pytest.approx(1.0, rel=1e-3)
    assert figures.front == pytest.approx(front * US, rel=1e-3)
    assert figures.tail == pytest.approx(tail * US, rel=1e-3)


def test_damped_sine_8_20_has_exactly_its_front_and_tail_and_a_deep_undershoot() -> None:
    figures = shape_figures(SINE_8_20, kind="current")
    assert figures.peak == pytest.approx(1e3, rel=1e-4)
    assert figures.front == pytest.approx(8 * US, rel=1e-4)
    assert figures.tail == pytest.approx(20 * US, rel=1e-4)
    times = np.linspace(0.0, 100 * US, 100_001)
    assert -float(np.min(SINE_8_20.value(times))) == pytest.approx(336.0, rel=2e-3)


def test_three_formulas_for_8_20_agree_in_front_and_tail_but_not_in_steepness() -> None:
    figures = [shape_figures(s, kind="current") for s in (CUBIC_8_20, ANNEX_8_20, SINE_8_20)]
    for each in figures:
        assert each.tail is not None
        assert each.front == pytest.approx(8 * US, rel=0.005)
        assert each.tail == pytest.approx(20 * US, rel=0.005)
    cubic, annex, sine = (each.steepest for each in figures)
    # a calculation: 0.149, 0.149 and 0.195 times the peak a microsecond
    assert annex / cubic == pytest.approx(1.0, abs=0.01)
    assert sine / cubic == pytest.approx(1.31, abs=0.01)


# IEC 61643-12, annex on back-up fuses, from memory: I2t in A2s for Ip in kA
FUSE_RULE_8_20, FUSE_RULE_10_350 = 14.01, 256.3


def test_the_fuse_rule_for_10_350_is_the_energy_of_the_heidler_form() -> None:
    per_kiloampere = Heidler(peak=1e3, correction=0.93, front=19 * US, tail=485 * US, exponent=10)
    energy = shape_figures(per_kiloampere, kind="current").specific_energy
    assert energy == pytest.approx(FUSE_RULE_10_350, rel=5e-3)


def test_the_fuse_rule_for_8_20_needs_the_undershoot() -> None:
    with_undershoot = shape_figures(SINE_8_20, kind="current").specific_energy
    assert with_undershoot == pytest.approx(FUSE_RULE_8_20, rel=0.015)
    for unidirectional in (CUBIC_8_20, ANNEX_8_20):
        energy = shape_figures(unidirectional, kind="current").specific_energy
        assert energy == pytest.approx(12.2, rel=0.01)


def test_a_metre_of_lead_costs_149_volt_a_kiloampere_on_8_20() -> None:
    # 1 uH/m, common practice, no source; peak di/dt of the formula of IEEE Std C62.41.2
    assert 1e-6 * shape_figures(CUBIC_8_20, kind="current").steepest == pytest.approx(149, rel=0.01)


# IEEE Std C62.41.2-2002 and IEC 61000-4-12, from memory
RING = RingWave(
    peak=6e3, scale=1.590, front=0.533 * US, tail=9.788 * US, angular_frequency=2e5 * math.pi
)


def test_the_ring_wave_rises_in_half_a_microsecond_and_swings_at_100_khz() -> None:
    figures = shape_figures(RING, kind="voltage")
    assert figures.peak == pytest.approx(6e3, rel=1e-3)
    assert figures.time_to_peak == pytest.approx(0.852 * US, rel=2e-3)
    t = np.linspace(0.0, figures.time_to_peak, 100_001)
    low, high = np.interp([600.0, 5400.0], RING.value(t), t)
    # 0.5 us from 10 to 90 %, C62.41.2
    assert high - low == pytest.approx(0.5 * US, rel=2e-3)


def test_each_peak_of_the_ring_wave_is_some_60_percent_of_the_one_before() -> None:
    t = np.linspace(0.0, 24 * US, 240_001)
    v = RING.value(t) / 6e3
    turns = np.flatnonzero(np.diff(np.sign(np.diff(v)))) + 1
    assert v[turns[:5]] == pytest.approx([1.000, -0.967, 0.580, -0.348, 0.209], abs=1e-3)
    assert np.abs(v[turns[2:5]] / v[turns[1:4]]) == pytest.approx(0.6, rel=2e-3)


def test_the_tail_of_a_ring_wave_is_its_envelopes() -> None:
    figures = shape_figures(RING, kind="voltage")
    assert figures.tail == pytest.approx(math.log(2) * 9.788 * US)
