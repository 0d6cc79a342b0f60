"""``models``: what there is, where its numbers are from, and its picture."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from surgesim.catalogue.library import built_in

Invoke = Callable[..., Result]

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
