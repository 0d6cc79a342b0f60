"""Line constants against finite elements: bundles, a duct, and the soil around a buried one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.physics.bundle import packed_in_air, packed_in_duct
from surgesim.physics.conductors import (
    Conductor,
    LineConstants,
    aerial_constants,
    duct_constants,
    solid_radius,
)
from surgesim.physics.constants import MU_0
from surgesim.physics.earth_return import saad_ground_impedance
from tests.physics.finite_elements import Section, buried_wire, in_cylinder, matrices, over_plane

HEIGHT, DUCT, WIDE, DEEP, FAR = 0.5, 42e-3, 37.5e-3, 0.7, 2.0


def made(spots: NDArray[np.float64], sizes: list[tuple[float, float]]) -> list[Conductor]:
    """Cores of a section in mm2 and a diameter over the insulation in mm."""
    return [
        Conductor(
            x=float(x),
            y=float(y),
            radius=solid_radius(section * 1e-6),
            outer_radius=diameter * 0.5e-3,
            permittivity=2.5,
        )
        for (x, y), (section, diameter) in zip(spots, sizes, strict=True)
    ]


def in_air(sizes: list[tuple[float, float]]) -> list[Conductor]:
    return made(packed_in_air([d * 1e-3 for _, d in sizes], height=HEIGHT), sizes)


def in_duct(sizes: list[tuple[float, float]]) -> list[Conductor]:
    return made(packed_in_duct([d * 1e-3 for _, d in sizes], inner_radius=WIDE), sizes)


def aerial(conductors: list[Conductor]) -> LineConstants:
    return aerial_constants(
        conductors, soil=1e-12, front_frequency=3e5, tail_frequency=3e5,
        resistance=np.zeros(len(conductors)),
    )  # fmt: skip


def ducted(conductors: list[Conductor]) -> LineConstants:
    return duct_constants(
        conductors, duct_radius=DUCT, depth=DEEP, soil=1e-12, front_frequency=3e5,
        tail_frequency=3e5, resistance=np.zeros(len(conductors)),
    )  # fmt: skip


@dataclass(frozen=True)
class Bundle:
    """Conductors, ours, the finite elements, and what these gave: first rows of L' and C'."""

    conductors: list[Conductor]
    ours: Callable[[list[Conductor]], LineConstants]
    section: Callable[[list[Conductor]], Section]
    microhenry: tuple[float, ...]
    picofarad: tuple[float, ...]


SIX, SIXTEEN = (6.0, 6.4), (16.0, 7.0)

# By `pytest -m slow tests/physics/test_fields.py`: scikit-fem 12.0.2, some 20 000 unknowns,
# quadratic triangles; against the plane, or the wall of the duct, where the soil begins.
BUNDLES = {
    "touching pair in air": Bundle(
        in_air([SIX] * 2),
        aerial,
        lambda c: over_plane(c, reach=20.0),
        (1.307, 1.0105),
        (36.327, -31.268),
    ),
    "pair with its bond in air": Bundle(
        in_air([SIX, SIX, SIXTEEN]),
        aerial,
        lambda c: over_plane(c, reach=20.0),
        (1.2876, 0.98282, 0.99009),
        (46.64, -17.684, -25.641),
    ),
    "pair in a duct": Bundle(
        in_duct([SIX] * 2),
        ducted,
        lambda c: in_cylinder(c, radius=DUCT),
        (0.67317, 0.37668),
        (46.748, -24.632),
    ),
    "four pairs in a duct": Bundle(
        in_duct([SIX] * 8),
        ducted,
        lambda c: in_cylinder(c, radius=DUCT),
        (0.64538, 0.35487, 0.24206, 0.26796, 0.35352, 0.35742, 0.26878, 0.24589),
        (68.336, -18.503, -0.27935, -0.42047, -15.213, -19.552, -0.59807, -0.090577),
    ),
}


@pytest.mark.parametrize("name", BUNDLES)
def test_bundles_have_the_matrices_of_finite_elements(name: str) -> None:
    # 0.3 %: the triangles' own, most where insulations touch; measured 0.03 and 0.24 %
    bundle = BUNDLES[name]
    ours = bundle.ours(bundle.conductors)
    for found, wanted in (
        (ours.inductance[0], 1e-6 * np.array(bundle.microhenry)),
        (ours.capacitance[0], 1e-12 * np.array(bundle.picofarad)),
    ):
        np.testing.assert_allclose(found, wanted, rtol=0, atol=0.003 * float(wanted.max()))


def of_finite_elements(bundle: Bundle) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Of conductors in a duct the magnetic field does not end at the soil: a far cylinder, less
    what lies between that and the duct."""
    inductance, capacitance = matrices(bundle.section(bundle.conductors))
    if bundle.ours is ducted:
        far, _ = matrices(in_cylinder(bundle.conductors, radius=FAR))
        inductance = far - MU_0 / (2 * math.pi) * math.log(FAR / DUCT)
    return inductance, capacitance


@pytest.mark.slow
@pytest.mark.parametrize("name", BUNDLES)
def test_finite_elements_of_bundles(name: str) -> None:
    # 0.1 % where they are run again, and 0.3 % of every entry of the matrices, not only a row
    bundle = BUNDLES[name]
    inductance, capacitance = of_finite_elements(bundle)
    assert 1e6 * inductance[0] == pytest.approx(bundle.microhenry, rel=1e-3)
    assert 1e12 * capacitance[0] == pytest.approx(bundle.picofarad, rel=1e-3, abs=1e-3)
    ours = bundle.ours(bundle.conductors)
    for found, wanted in ((ours.inductance, inductance), (ours.capacitance, capacitance)):
        np.testing.assert_allclose(found, wanted, rtol=0, atol=0.003 * float(wanted.max()))


WIRE = 1.4e-3

# Soil outside a duct of 42 mm radius, 0.7 m deep, ohm/m: by the same, at Hz and ohm m.
SOILS = {
    (3e5, 170.0): (0.3187, 2.2050),
    (3e4, 170.0): (0.03040, 0.26580),
    (3e5, 1000.0): (0.3064, 2.5552),
    (1e6, 50.0): (1.1531, 5.6340),
}


@pytest.mark.parametrize(("frequency", "soil"), SOILS)
def test_a_buried_duct_has_the_impedance_of_finite_elements(frequency: float, soil: float) -> None:
    # 1.2 %: Saad's closed form for Pollaczek's integral
    wanted = complex(*SOILS[frequency, soil])
    found = saad_ground_impedance(DUCT, DEEP, soil, frequency)
    assert abs(found / wanted - 1.0) < 0.012


@pytest.mark.slow
def test_a_wire_on_the_floor_of_a_duct_has_the_inductance_of_one_on_its_axis() -> None:
    """Its magnetic field passes the soil around the duct as if nothing were there."""
    found = buried_wire(radius=WIRE, wall=DUCT, depth=DEEP, soil=170.0, frequency=3e5, below=30e-3)
    within = 1j * 3e5 * MU_0 * math.log(DUCT / WIRE)
    # 0.5 %: the wire is 3 cm deeper in the soil, and that does show
    assert abs((found - within) / complex(*SOILS[3e5, 170.0]) - 1.0) < 5e-3


@pytest.mark.slow
@pytest.mark.parametrize(("frequency", "soil"), SOILS)
def test_finite_elements_of_a_buried_duct(frequency: float, soil: float) -> None:
    found = buried_wire(radius=WIRE, wall=DUCT, depth=DEEP, soil=soil, frequency=frequency)
    within = 1j * frequency * MU_0 * math.log(DUCT / WIRE)
    assert abs((found - within) / complex(*SOILS[frequency, soil]) - 1.0) < 1e-3
