"""What an earth of a scenario works out to."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.build import build
from surgesim.build.electrodes import as_remarks, worked_out
from surgesim.network.elements import GROUND, IonisingSoil, Resistor
from surgesim.physics.electrodes import rod_resistance, rods_resistance
from surgesim.physics.ionisation import critical_current
from surgesim.scenario.electrodes import Earth
from surgesim.scenario.file import load
from surgesim.studies.earth_cautions import earth_cautions
from surgesim.studies.guesses import guesses_of

FILE = Path(__file__).resolve().parents[1] / "scenarios" / "valid" / "electrodes.yaml"
SOIL = 170.0


def earth(**keys: object) -> Earth:
    return Earth.model_validate({"at": "a", "bar": "pe", "inductance": "2 uH", **keys})


TWO_RODS = {"length": "2.4 m", "diameter": "16 mm", "count": "2", "spacing": "5 m"}


def test_the_measured_one_counts_and_both_are_told() -> None:
    found = worked_out(earth(measured="38 ohm", rod=TWO_RODS), SOIL)
    by_shape = rods_resistance([(0, 0), (5, 0)], length=2.4, radius=0.008, soil=SOIL)
    assert found.resistance == 38.0
    assert found.from_shape == pytest.approx(by_shape)
    assert found.obtained == "measured, no date given"
    assert found.shape.startswith("2 rods in a row 5 m apart, each 2.4 m long")


def test_the_shape_counts_where_nothing_was_measured() -> None:
    found = worked_out(earth(rod={"length": "2.4 m", "diameter": "16 mm"}), SOIL)
    assert found.resistance == found.from_shape == rod_resistance(2.4, 0.008, SOIL)
    assert found.obtained == found.shape


def test_the_measured_one_alone() -> None:
    found = worked_out(earth(measured="38 ohm", **{"measured on": "June"}), SOIL)
    assert (found.resistance, found.from_shape, found.shape) == (38.0, None, "")
    assert found.obtained == "measured, June"


def test_a_season_multiplies_both() -> None:
    plain = worked_out(earth(measured="38 ohm", rod=TWO_RODS), SOIL)
    dry = worked_out(earth(measured="38 ohm", rod=TWO_RODS, **{"seasonal factor": "3"}), SOIL)
    assert plain.from_shape is not None
    assert dry.resistance == 114.0
    assert dry.from_shape == pytest.approx(3 * plain.from_shape)
    assert dry.obtained == "measured, no date given, times 3 for the season"


def test_its_own_soil_or_water_comes_before_the_sites() -> None:
    plate = {"length": "1 m", "width": "1 m", "depth": "1 m"}
    in_soil, in_water = (
        worked_out(earth(plates=plate, **{around: "38 ohm m"}), SOIL)
        for around in ("soil", "water")
    )
    assert in_soil.resistance == in_water.resistance == pytest.approx(9.966, rel=1e-3)
    assert in_water.obtained.endswith("in water of 38 ohm m")
    assert worked_out(earth(plates=plate), SOIL).resistance == pytest.approx(
        9.966 * 170 / 38, rel=1e-3
    )


@pytest.mark.parametrize(
    ("name", "ohm"),
    # each formula of surgesim.physics.electrodes, checked there, with the file's numbers
    [("rods", 57.0), ("row", 103.8), ("tape", 13.96), ("loop", 163.7), ("star", 12.18),
     ("block", 5.361), ("table", 6.015), ("lake", 5.689)],
)  # fmt: skip
def test_every_shape_reaches_the_circuit(name: str, ohm: float) -> None:
    (case,) = load(FILE).all_cases
    network = build(case.scenario)
    (probe,) = [probe for probe in network.earths if probe.name == name]
    kinds = Resistor | IonisingSoil
    parts = [e for e in network.elements if isinstance(e, kinds) and e.b == GROUND]
    leaks = [e.resistance for e in parts if e.group == f"earth {name}"]
    assert 1 / sum(1 / leak for leak in leaks) == pytest.approx(probe.resistance)
    assert probe.resistance == pytest.approx(ohm, rel=1e-3)
    assert probe.from_shape is not None


def test_posts_of_one_row_are_rods() -> None:
    posts = {"length": "2.4 m", "around": "50.26548245743669 mm", "in a row": "2", "spacing": "5 m"}
    by_posts = worked_out(earth(posts=posts), SOIL).resistance
    assert by_posts == pytest.approx(worked_out(earth(rod=TWO_RODS), SOIL).resistance)


def test_remarks_tell_both() -> None:
    (case,) = load(FILE).all_cases
    remarks = as_remarks(case.scenario.earths, case.scenario.site.soil)
    assert all(line.startswith("# ") for line in remarks.splitlines())
    assert "# earth rods: 57 ohm, measured, June, times 1.5 for the season\n" in remarks
    assert "#   by its shape 55.3 ohm, 2 rods in a row" in remarks
    assert as_remarks({"one": earth(measured="38 ohm")}, SOIL) == ""


def test_ionising_soil() -> None:
    # E4 of CIGRE TB 63, from memory: rho 100, R0 10, E0 400 kV/m: Ig 63.66 kA; R0 32, 300: 4.663
    found = worked_out(earth(measured="10 ohm", **{"ionises at": "400 kV/m"}), 100.0)
    assert found.critical == pytest.approx(63.66e3, rel=1e-4)
    assert found.obtained.endswith(", ionising from 63.7 kA (400 kV/m; CIGRE TB 63)")
    less = worked_out(earth(measured="32 ohm", **{"ionises at": "300 kV/m"}), 100.0)
    assert less.critical == pytest.approx(4.663e3, rel=1e-3)
    assert worked_out(earth(measured="10 ohm"), 100.0).critical is None


def test_ionising_soil_reaches_the_circuit() -> None:
    (case,) = load(FILE).all_cases
    (soil,) = (e for e in build(case.scenario).elements if isinstance(e, IonisingSoil))
    assert (soil.name, soil.b) == ("earth/block", GROUND)
    assert soil.critical == pytest.approx(critical_current(soil.resistance, SOIL, 300e3))


def test_the_field_and_the_chain_are_guesses_with_a_range() -> None:
    (case,) = load(FILE).all_cases
    found = {guess.what: guess for guess in guesses_of(case.scenario)}
    field = found["field at which the soil of earth block ionises"]
    assert [field.used, *(end.value for end in field.ends)] == ["300 kV/m", "300 kV/m", "1000 kV/m"]
    along = found["inductance along earth tape"]
    (lumped,) = (e for e in along.ends[0].network().elements if e.name == "earth/tape")
    assert isinstance(lumped, Resistor)


def test_cautions() -> None:
    (case,) = load(FILE).all_cases
    assert list(earth_cautions(case.scenario)) == []
    near = earth(rod={**TWO_RODS, "spacing": "1 m"})
    off = earth(measured="150 ohm", rod=TWO_RODS)
    scenario = case.scenario.model_copy(update={"earths": {"near": near, "off": off}})
    close, far_off = earth_cautions(scenario)
    assert close.startswith("Earth near: rods 2.4 m long and 1 m apart share their soil")
    assert far_off == (
        "Earth off: 150 ohm as measured, which counts, but 36.9 ohm by its shape and soil;"
        " one of the two is off."
    )
