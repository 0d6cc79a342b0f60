"""The law of spark gaps: sparkover by slope, stationary characteristic, calibration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from surgesim.physics.spark_gap import (
    RAMP_RESISTANCE,
    GapLaw,
    calibrated,
    ramp_sparkover,
    recovery_for,
)

LAW = calibrated(GapLaw(sparkover=600.0, collapse=1e-8), impulse=1100.0, slope=1e9)


def by_scipy(law: GapLaw, slope: float) -> float:
    """The crest on a ramp behind 50 ohm by a stiff solver of its own."""

    def volts(t: float, z: float) -> float:
        return slope * t / (1.0 + RAMP_RESISTANCE * float(law.current(1.0, z)))

    start = law.sparkover / slope
    found = solve_ivp(
        lambda t, y: [law.rate(volts(t, y[0]), y[0])], (start, 40 * start), [0.0],
        method="Radau", rtol=1e-8, atol=1e-8, max_step=start / 20,
    )  # fmt: skip
    return float(max(volts(t, z) for t, z in zip(found.t, found.y[0], strict=True)))


@pytest.mark.parametrize("slope", [1e8, 1e9, 5e9])
def test_crest_on_a_ramp_is_that_of_a_stiff_solver(slope: float) -> None:
    assert ramp_sparkover(LAW, slope) == pytest.approx(by_scipy(LAW, slope), rel=1e-3)


@pytest.mark.parametrize(
    ("static", "impulse", "collapse", "crests"),
    [
        # one tube a row: T0 and crests at 100 V/s, 1 and 100 V/us, 5 and 10 kV/us, by an
        # integration of the same equation with other means (LSODA), 2026
        (90.0, 600.0, 395e-9, (91, 126, 276, 1290, 1978)),
        (230.0, 650.0, 91e-9, (232, 276, 406, 1064, 1381)),
        (350.0, 850.0, 79.5e-9, (352, 409, 568, 1320, 1670)),
        (600.0, 1100.0, 34.2e-9, (603, 670, 841, 1514, 1810)),
        (1000.0, 1600.0, 22.8e-9, (1004, 1091, 1304, 2047, 2363)),
    ],
)
def test_one_impulse_point_gives_the_others(
    static: float, impulse: float, collapse: float, crests: tuple[float, ...]
) -> None:
    law = calibrated(GapLaw(sparkover=static, collapse=1e-8), impulse=impulse, slope=1e9)
    assert law.collapse == pytest.approx(collapse, rel=0.005)
    found = [ramp_sparkover(law, slope) for slope in (100.0, 1e6, 1e8, 5e9, 10e9)]
    assert found == pytest.approx(crests, rel=0.005)  # they are printed to three digits


def test_it_stands_at_the_glow_and_the_arc() -> None:
    assert LAW.held(0.0) == pytest.approx(600.0)
    # a tenth of an ampere is past the dark discharge (Ih = 5 mA) and before the arc (0.5 A)
    assert 60.0 < LAW.held(0.1) < 110.0
    assert LAW.held(1000.0) == pytest.approx(20.0 + 5.0, rel=0.01)


@given(share=st.floats(min_value=-0.9999, max_value=0.9999))
def test_nothing_creeps_below_the_static_level(share: float) -> None:
    assert LAW.rate(600.0 * share, 0.0) == 0.0


@given(volts=st.floats(min_value=1.0, max_value=5e3), z=st.floats(min_value=0.0, max_value=28.0))
def test_both_polarities_are_alike(volts: float, z: float) -> None:
    assert LAW.rate(volts, z) == LAW.rate(-volts, z)
    assert LAW.current(volts, z) == -LAW.current(-volts, z)


@pytest.mark.parametrize("ampere", [1.0, 100.0, 5e3])
def test_an_arc_stays_where_it_stands(ampere: float) -> None:
    """At Vst(i) with the conductance i/Vst the discharge neither grows nor decays."""
    volts = float(LAW.held(ampere))
    z = np.log(ampere / volts / 1e-10)
    assert LAW.rate(volts, z) == pytest.approx(0.0, abs=1.0)
    assert LAW.rate(0.5 * volts, z) < -1e4


def test_follow_current_sets_the_recovery() -> None:
    # 4.3 us (100 A/Ifi)^0.75: 0.8 of the times at which a 20 V arc just stays, computed
    assert recovery_for(100.0) == pytest.approx(4.3e-6)
    assert recovery_for(1000.0) == pytest.approx(0.8 * 1.0e-6, rel=0.1)


def test_what_no_gap_does_is_refused() -> None:
    gap = GapLaw(sparkover=600.0, collapse=1e-8)
    with pytest.raises(ValueError, match="too close to the static"):
        calibrated(gap, impulse=600.0, slope=1e9)
    with pytest.raises(ValueError, match="too far above"):
        calibrated(gap, impulse=1e6, slope=1e9)
    with pytest.raises(ValueError, match="below the sparkover"):
        GapLaw(sparkover=50.0, collapse=1e-8)
    with pytest.raises(ValueError, match="positive, finite"):
        GapLaw(sparkover=float("nan"), collapse=1e-8)
