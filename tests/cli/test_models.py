"""``models``: what there is, where its numbers are from, and its picture."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import Result

from surgesim.build import build
from surgesim.catalogue.library import built_in
from surgesim.reading.data import data_folder
from surgesim.scenario.file import load

Invoke = Callable[..., Result]

DEMO = data_folder("scenarios") / "brackenmoss-dairy.yaml"
OWN = """surgesim: 1
cards:
  my shape:
    kind: surge shape
    measured as: current
    about: Linear front
    formula: ramp
    front: {value: 2 us, source: chosen}
"""


def test_list_names_every_card(invoke: Invoke) -> None:
    text = invoke("models", "list").stdout
    assert all(f"  {name}  " in text for name in built_in())
    rows = json.loads(invoke("models", "list", "--json").stdout)
    assert {row["name"] for row in rows} == set(built_in())


@pytest.mark.parametrize("name", built_in())
def test_show_gives_every_number_its_source(name: str, invoke: Invoke) -> None:
    record = json.loads(invoke("models", "show", name, "--json").stdout)
    assert record["name"] == name
    assert invoke("models", "show", name).exit_code == 0


@pytest.mark.parametrize("command", ["show", "plot"])
def test_a_card_that_is_not_there(command: str, invoke: Invoke) -> None:
    answer = invoke("models", command, "pv 1000 clas II")
    assert answer.exit_code == 2
    assert answer.stderr.startswith("surgesim: no card 'pv 1000 clas II'; did you mean")


def test_plot_an_arrester_and_a_surge(tmp_path: Path, invoke: Invoke) -> None:
    for name, file in (("pv 1000 class II", "curve.png"), ("8/20", "shape.svg")):
        answer = invoke("models", "plot", name, "--out", tmp_path / file)
        assert answer.exit_code == 0
        assert answer.stderr == f"drawn in {tmp_path / file}\n"
    assert (tmp_path / "curve.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (tmp_path / "shape.svg").read_text(encoding="utf-8")


def test_plot_replaces_nothing_unasked(tmp_path: Path, invoke: Invoke) -> None:
    picture = tmp_path / "a.png"
    picture.write_bytes(b"mine")
    answer = invoke("models", "plot", "8/20", "--out", picture)
    assert answer.exit_code == 2
    assert picture.read_bytes() == b"mine"
    assert invoke("models", "plot", "8/20", "--out", picture, "--overwrite").exit_code == 0
    assert picture.read_bytes() != b"mine"


def test_plot_what_cannot_be_drawn(tmp_path: Path, invoke: Invoke) -> None:
    cable = invoke("models", "plot", "5x16 mm2", "--out", tmp_path / "a.png")
    assert cable.exit_code == 2
    assert "has nothing to draw" in cable.stderr
    ending = invoke("models", "plot", "8/20", "--out", tmp_path / "a.doc")
    assert ending.exit_code == 2
    assert ".png or .svg" in ending.stderr
    assert list(tmp_path.iterdir()) == []


def test_plot_where_nothing_can_be_written(tmp_path: Path, invoke: Invoke) -> None:
    answer = invoke("models", "plot", "8/20", "--out", tmp_path / "nowhere" / "a.png")
    assert answer.exit_code == 2
    assert "cannot be written" in answer.stderr


def test_cards_of_a_file(tmp_path: Path, invoke: Invoke) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(OWN, encoding="utf-8")
    rows = json.loads(invoke("models", "list", "--file", file, "--json").stdout)
    assert [row["name"] for row in rows] == ["my shape"]
    assert invoke("models", "show", "my shape", "--file", file).exit_code == 0
    missing = invoke("models", "list", "--file", tmp_path / "nowhere.yaml")
    assert missing.exit_code == 2


def test_show_tells_what_a_shape_works_out_to(invoke: Invoke) -> None:
    """10/350 at 1 kA: 0.5 C and 0.257 kJ/ohm (IEC 62305-1:2010 Table 3 scaled, 0.5 and 0.25)."""
    record = json.loads(invoke("models", "show", "10/350", "--json").stdout)
    figures = record["works_out_to"]
    assert figures["charge_c"] == pytest.approx(0.5, rel=0.03)
    assert figures["specific_energy_j_per_ohm"] == pytest.approx(250.0, rel=0.03)
    text = invoke("models", "show", "10/350").stdout
    assert "front T1                  9.98" in text


def test_show_of_a_scenario_is_what_its_network_has(invoke: Invoke) -> None:
    text = invoke("models", "show", "field run", "--of", str(DEMO), "--json").stdout
    record = json.loads(text)
    (case,) = (c for c in load(DEMO).all_cases if c.id == record["case"])
    lines = [line for line in build(case.scenario).lines if line.group == "cable field run"]
    assert len(lines) == record["pieces"]
    assert sum(line.delay[0] for line in lines) == pytest.approx(record["modes"][0]["delay_s"])
    henry, farad = (np.array(record[f"{k}_per_m"]) for k in ("inductance_h", "capacitance_f"))
    for mode in record["modes"]:
        volts = np.array(mode["voltages"])
        # a mode is what L C only stretches: by 1 / v^2
        assert henry @ farad @ volts == pytest.approx(volts / mode["velocity_m_per_s"] ** 2)


def test_show_of_an_earth_gives_both_resistances(invoke: Invoke, tmp_path: Path) -> None:
    text = DEMO.read_text(encoding="utf-8")
    given = "measured: 9 ohm,  measured on: June, inductance: 3 uH"
    rod = "rod: {length: 2.4 m, diameter: 16 mm}"
    path = tmp_path / "site.yaml"
    path.write_text(text.replace(given, f"{given}, {rod}"), encoding="utf-8")
    picture = tmp_path / "earth.png"
    shown = invoke("models", "show", "barn foundation", "--of", str(path), "--plot", str(picture))
    assert "resistance                9 ohm, measured, June" in shown.stdout
    # Dwight 1936: rho / (2 pi l) (ln(4 l / a) - 1) with 170 ohm m, 2.4 m, radius 8 mm
    by_shape = 170 / (2 * math.pi * 2.4) * (math.log(4 * 2.4 / 8e-3) - 1)
    assert f"by its shape              {by_shape:.4g} ohm" in shown.stdout
    assert picture.stat().st_size > 10_000


VALID = Path(__file__).parents[1] / "scenarios" / "valid"


def test_show_of_a_bond_is_a_straight_wire(invoke: Invoke) -> None:
    record = json.loads(
        invoke("models", "show", "frame bonding", "--of", str(DEMO), "--json").stdout
    )
    # Rosa 1908: mu0 l / (2 pi) (ln(2 l / a) - 1), 0.5 m of 16 mm2; 2 pi f L far above its R
    henry = 2e-7 * 0.5 * (math.log(1.0 / math.sqrt(16e-6 / math.pi)) - 1)
    assert record["inductance_h"] == pytest.approx(henry, rel=1e-6)
    at = record["frequency_hz"].index(pytest.approx(1e6))
    assert record["impedance_ohm"][at] == pytest.approx(2 * math.pi * 1e6 * henry, rel=0.01)


def test_show_of_a_bare_bond_is_what_it_leaks(invoke: Invoke, tmp_path: Path) -> None:
    path, picture = VALID / "tape-beside-a-duct.yaml", tmp_path / "tape.png"
    arguments = ("models", "show", "tape", "--of", str(path))
    record = json.loads(invoke(*arguments, "--json").stdout)
    assert record["impedance_ohm"][0] == pytest.approx(record["to_remote_earth_ohm"], rel=2e-3)
    text = invoke(*arguments, "--plot", str(picture)).stdout
    assert "a conductor of the route of field run" in text
    assert picture.stat().st_size > 10_000


def test_show_of_a_route_tells_each_of_its_stretches(invoke: Invoke) -> None:
    path = VALID / "metal.yaml"
    (name,) = (name for name, c in load(path).all_cases[0].scenario.cables.items()
               if len(c.laying or ()) > 1)  # fmt: skip
    record = json.loads(invoke("models", "show", name, "--of", str(path), "--json").stdout)
    (second,) = record["further"]
    assert record["route"][-1].startswith("stretch 1 of 2: ")
    assert second["route"][-1].startswith("stretch 2 of 2: ")
    text = invoke("models", "show", name, "--of", str(path)).stdout
    assert text.count("INDUCTANCE") == 2


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("feld run", "--of", str(DEMO)), "did you mean 'field run'?"),
        (("field run", "--of", str(DEMO), "--plot", "x.pdf"), "expected a name ending in .png"),
        (("10/350", "--of", "none.yaml"), "none.yaml"),
        (("10/350", "--of", str(DEMO), "--file", "none.yaml"), "do not go together"),
    ],
)
def test_show_refuses_by_name(arguments: tuple[str, ...], message: str, invoke: Invoke) -> None:
    result = invoke("models", "show", *arguments)
    assert result.exit_code == 2
    assert message in result.stderr


def test_show_tells_what_a_generator_gives_open_and_shorted(invoke: Invoke) -> None:
    """IEC 61000-4-5:2014: 1.2/50 within 30 and 20 %; 9 uF and 10 ohm make 12 ohm of its 2."""
    answer = invoke("models", "show", "combination wave 12 ohm", "--json")
    record = json.loads(answer.stdout)["works_out_to"]
    assert record["front_s"] == pytest.approx(1.2e-6, rel=0.3)
    assert record["tail_s"] == pytest.approx(50e-6, rel=0.2)
    assert record["impedance_ohm"] == pytest.approx(12.0, rel=0.02)
    assert record["short_peak_a"] == pytest.approx(1000.0 / record["impedance_ohm"])
    text = invoke("models", "show", "combination wave 12 ohm").stdout
    assert "set to 1.0 kV open" in text
    assert "open voltage over short current  12.01 ohm" in text


def test_show_of_a_stroke_with_its_own_peak_is_at_that(invoke: Invoke) -> None:
    answer = invoke("models", "show", "LPL II first positive", "--json")
    record = json.loads(answer.stdout)["works_out_to"]
    assert record["peak"] == pytest.approx(150e3, rel=2e-3)
    # IEC 62305-1:2010 Table 3, from memory: 75 C; Annex B's constants are 0.2 % over
    assert record["charge_c"] == pytest.approx(75.0, rel=0.03)
