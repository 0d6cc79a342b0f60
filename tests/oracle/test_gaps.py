"""The second solver's gaps: the law written a second time, its slopes, and one step of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Resistor, SparkGap, VoltageSource
from surgesim.oracle import gaps, solve
from surgesim.oracle.devices import devices_of
from surgesim.oracle.layout import lay_out
from surgesim.oracle.records import Discharges, Gaps
from surgesim.physics import spark_gap
from surgesim.physics.spark_gap import GapLaw, calibrated, ramp_sparkover
from surgesim.physics.waveforms import Ramp

LAW = calibrated(GapLaw(sparkover=600.0, collapse=1e-8), impulse=1100.0, slope=1e9)


def ramped(slope: float) -> Network:
    ramp = Ramp(peak=3e3, rise=3e3 / slope)
    return Network(
        title="ramp",
        elements=(
            VoltageSource(name="E", a="start", b=GROUND, waveform=ramp),
            Resistor(name="behind", a="start", b="end", resistance=50.0),
            SparkGap(name="tube", a="end", b=GROUND, law=LAW),
        ),
        waveform=ramp,
    )


@pytest.fixture(scope="module")
def tables() -> Gaps:
    network = ramped(1e9)
    return devices_of(network, lay_out(network)).gaps


def test_it_has_the_constants_of_the_law() -> None:
    mine = gaps.SOUND, gaps.MOST_OVERVOLTAGE, gaps.DENSEST
    assert mine == (spark_gap.SOUND, spark_gap.MOST_OVERVOLTAGE, spark_gap.DENSEST)


@given(volts=st.floats(-5e3, 5e3), z=st.floats(0.0, 28.0))
def test_it_is_the_law(tables: Gaps, volts: float, z: float) -> None:
    amps = volts * gaps.siemens(z)
    assert amps == pytest.approx(float(LAW.current(volts, z)), rel=1e-12)
    stands = gaps.held(amps, tables, 0)
    assert stands == pytest.approx(float(LAW.held(amps)), rel=1e-12)
    rate, _ = gaps.pace(volts, stands, z, tables, 0)
    assert rate == pytest.approx(LAW.rate(volts, z), rel=1e-9, abs=1e-6)


@given(volts=st.floats(-5e3, 5e3), z=st.floats(0.0, 25.0), stands=st.floats(20.0, 600.0))
def test_slopes_are_those_of_the_curve(tables: Gaps, volts: float, z: float, stands: float) -> None:
    near = 1e-6 * max(abs(volts), 1.0)
    if min(abs(abs(volts) - stands), abs(volts)) < 10 * near:
        return  # a corner has no slope
    going = Discharges(np.array([z]), np.array([stands]), np.array([z]))
    low, here, high = (gaps.gap(v, 1e-10, going, tables, 0) for v in
                       (volts - near, volts, volts + near))  # fmt: skip
    assert here[3] == pytest.approx((high[2] - low[2]) / (2 * near), rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("slope", [1e8, 1e9, 5e9])
def test_crest_in_fixed_steps(slope: float) -> None:
    waves = solve(ramped(slope), step=1.2 / slope, stop=2.5e3 / slope)
    expected = ramp_sparkover(LAW, slope)
    assert float(np.max(waves.at("end"))) == pytest.approx(expected, rel=2e-3)
