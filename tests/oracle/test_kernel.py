"""The compiled pieces, each against what it stands for."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.network import elements
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Clamp,
    Insulation,
    IonisingSoil,
    PhotovoltaicSource,
    Resistor,
    Varistor,
)
from surgesim.oracle import kernel
from surgesim.oracle.compiled import compiled, forget_unreadable
from surgesim.oracle.devices import devices_of
from surgesim.oracle.kernel import Point
from surgesim.oracle.layout import lay_out
from surgesim.oracle.records import Devices
from surgesim.physics.varistor import VaristorLaw, fit_three_numbers
from surgesim.physics.waveforms import Step

LAW = fit_three_numbers(430.0, 20e3, 1350.0)
LAG = 10e-9
HALF = 1e-9


@pytest.fixture(scope="module")
def devices() -> Devices:
    network = Network(
        title="devices",
        elements=(
            Varistor(name="disc", a="a", b=GROUND, law=LAW),
            Clamp(name="clamp", a="a", b=GROUND, voltage=500.0, resistance=0.5),
            PhotovoltaicSource(
                name="strings",
                a="a",
                b=GROUND,
                open_circuit_voltage=874.0,
                short_circuit_current=55.6,
                resistance=0.629,
            ),
            Insulation(name="gap", a="a", b=GROUND, level=10e3, lag=LAG),
            Insulation(name="arc", a="a", b=GROUND, level=10e3, lag=LAG, arc_voltage=400.0),
            IonisingSoil(name="soil", a="a", b=GROUND, resistance=10.0, critical=50.0),
            Resistor(name="path", a="a", b=GROUND, resistance=1.0),
        ),
        waveform=Step(peak=0.0, rise=1e-6),
    )
    return devices_of(network, lay_out(network))


Curve = Callable[[Devices, float], Point]

CURVES: dict[str, Curve] = {
    "varistor": lambda d, w: kernel.varistor(w, d.varistors, 0),
    "clamp": lambda d, w: kernel.clamp(w, d.clamps, 0),
    "photovoltaic": lambda d, w: kernel.photovoltaic(w, d.photovoltaics, 0),
    "soil": lambda d, w: kernel.soil(w, d.soils, 0),
    "sound insulation": lambda d, w: kernel.insulation(w, 0.0, 0.0, HALF, d.insulations, 0),
    "firing insulation": lambda d, w: kernel.insulation(w, 0.8, 0.55, HALF, d.insulations, 0),
    "insulation with an arc's voltage": lambda d, w: kernel.insulation(
        w, 0.8, 0.55, HALF, d.insulations, 1
    ),
    "an arc that holds a voltage": lambda d, w: kernel.insulation(
        w, 40.0, 1.0, HALF, d.insulations, 1
    ),
}


@given(amperes=st.floats(min_value=-9.0, max_value=6.5), sign=st.sampled_from([1.0, -1.0]))
def test_varistor_is_the_law(devices: Devices, amperes: float, sign: float) -> None:
    """Written a second time, and the same from a nanoampere to beyond a megaampere."""
    current = sign * 10.0**amperes
    u = sign * float(LAW._core_voltage(np.array([abs(current)]))[0])
    v, _, i, _ = kernel.varistor(u, devices.varistors, 0)
    assert i == pytest.approx(current, rel=1e-9)
    assert v == pytest.approx(float(LAW.voltage(current)), rel=1e-11)


def test_insulation_has_the_constants_of_its_law() -> None:
    mine = kernel.SOUND, kernel.WIDTH, kernel.HELD, kernel.HOLDING, kernel.CORNER
    law = (
        elements.SOUND_CONDUCTANCE, elements.OVERVOLTAGE, elements.HELD, elements.HOLDING,
        elements.ARC_CORNER,
    )  # fmt: skip
    assert mine == law


@pytest.mark.parametrize(("volts", "amperes"), [(5e3, 46e3), (-5e3, -46e3), (600.0, 2e3)])
def test_an_arc_drops_its_voltage_and_its_resistance(
    devices: Devices, volts: float, amperes: float
) -> None:
    """400 V and 0.1 ohm: (v - 400 V)/0.1 ohm; the corner of 10 % is worth 2 % at half above it."""
    _, _, i, _ = kernel.insulation(volts, 60.0, 1.0, 0.0, devices.insulations, 1)
    assert i == pytest.approx(amperes, rel=0.03)


def test_below_what_an_arc_holds_hardly_anything_flows(devices: Devices) -> None:
    _, _, i, _ = kernel.insulation(200.0, 60.0, 1.0, 0.0, devices.insulations, 1)
    assert 0.0 < i < 20.0
    _, _, bare, _ = kernel.insulation(200.0, 60.0, 1.0, 0.0, devices.insulations, 0)
    assert bare == pytest.approx(2000.0)


@pytest.mark.parametrize("name", CURVES)
@given(share=st.floats(min_value=-1.0, max_value=1.0))
def test_slopes_are_those_of_the_curves(devices: Devices, name: str, share: float) -> None:
    # the curves have corners; a difference across one is no slope
    corners = [0.0, 500.0, -500.0, 874.0, 874.0 - 55.6 * 0.629, 10e3, -10e3]
    w = share * (1500.0 if name == "varistor" else 10.05e3)
    nearby = 1e-6 * max(abs(w), 1.0)
    if any(abs(w - corner) < 10 * nearby for corner in corners):
        return
    low, here, high = (CURVES[name](devices, x) for x in (w - nearby, w, w + nearby))
    for value, slope in ((0, 1), (2, 3)):
        difference = (high[value] - low[value]) / (2 * nearby)
        assert here[slope] == pytest.approx(difference, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("name", CURVES)
@given(
    shares=st.lists(st.floats(min_value=-1.0, max_value=1.0), min_size=2, max_size=2, unique=True)
)
def test_current_rises_with_voltage(devices: Devices, name: str, shares: list[float]) -> None:
    """What makes the solution of a step the only one."""
    reach = 3e3 if name == "varistor" else 20e3
    low, high = (CURVES[name](devices, reach * share) for share in sorted(shares))
    assert low[0] <= high[0]
    assert low[2] <= high[2]


def test_array_at_its_marks(devices: Devices) -> None:
    """Short-circuit current up to the knee, half of it half-way, none at open circuit."""
    knee = 874.0 - 55.6 * 0.629
    marks = (0.0, knee, (knee + 874.0) / 2, 874.0)
    found = [-kernel.photovoltaic(w, devices.photovoltaics, 0)[2] for w in marks]
    assert found == pytest.approx([55.6, 55.6, 27.8, 0.0], abs=1e-9)


def test_insulation_does_not_creep_below_its_level(devices: Devices) -> None:
    rate, slope = kernel.drive(9999.9, 0.19, devices.insulations, 0)
    assert (rate, slope) == (0.0, 0.0)
    assert kernel.drive(-10.01e3, 0.0, devices.insulations, 0)[0] == pytest.approx(1.0)
    assert kernel.drive(0.0, 0.25, devices.insulations, 0)[0] == pytest.approx(0.5)
    assert kernel.drive(0.0, 0.35, devices.insulations, 0)[0] == 1.0


@given(seed=st.integers(min_value=0, max_value=2**31), n=st.integers(min_value=1, max_value=8))
def test_elimination(seed: int, n: int) -> None:
    random = np.random.default_rng(seed)
    matrix, solution = random.normal(size=(n, n)), random.normal(size=n)
    matrix[0, 0] = 0.0 if n > 1 else 1.0  # a pivot that must be sought
    right = matrix @ solution
    kernel.eliminate(matrix.copy(), right)
    assert right == pytest.approx(solution, rel=1e-6, abs=1e-6 * np.linalg.cond(matrix) * 1e-6)


def test_scaled_law_scales_its_voltage(devices: Devices) -> None:
    """A disc's tolerance multiplies every voltage at the same current."""
    scaled = devices.varistors._replace(scale=np.array([1.1]))
    plain = kernel.varistor(600.0, devices.varistors, 0)
    larger = kernel.varistor(600.0, scaled, 0)
    assert larger[0] == pytest.approx(1.1 * plain[0], rel=1e-12)
    assert larger[2] == plain[2]


def test_no_law_is_out_of_reach() -> None:
    """Beyond a megaampere the power law is its tangent: no number overflows."""
    extreme = VaristorLaw(
        reference_voltage=100.0,
        exponent=99.0,
        upturn=1.0,
        nominal_current=1e3,
        gamma=1.0,
        leakage_resistance=1e6,
    )
    network = Network(
        title="extreme",
        elements=(Varistor(name="disc", a="a", b=GROUND, law=extreme),),
        waveform=Step(peak=0.0, rise=1e-6),
    )
    table = devices_of(network, lay_out(network)).varistors
    assert np.all(np.isfinite(kernel.varistor(1e9, table, 0)))


def test_what_is_kept_of_another_version_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    """Numba reads it by the names of its types before it looks whether it is of this source."""
    kept = kernel.reading._cache._cache_file  # type: ignore[attr-defined]
    flushed: list[bool] = []

    def gone(_: object) -> None:
        raise AttributeError("no such record any more")

    monkeypatch.setattr(kept, "load", gone)
    monkeypatch.setattr(kept, "flush", lambda: flushed.append(True))
    forget_unreadable(kernel.reading)
    assert flushed


def test_code_that_cannot_be_kept_runs_all_the_same() -> None:
    """What has no file, or no folder to write to, is compiled for this process only."""
    namespace: dict[str, Callable[[float], float]] = {}
    exec("def twice(x): return 2.0 * x", namespace)
    assert compiled(namespace["twice"])(3.0) == 6.0
