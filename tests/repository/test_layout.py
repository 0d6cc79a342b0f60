"""The top level stays tidy, and the files that describe the project agree with each other."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

import surgesim
from surgesim.errors import SurgesimError
from surgesim.reading import data
from surgesim.reading.data import data_folder

ROOT = Path(__file__).resolve().parents[2]

TOP_LEVEL = {
    ".ci",
    ".editorconfig",
    ".gitattributes",
    ".gitignore",
    "CHANGELOG.md",
    "CITATION.cff",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "benchmarks",
    "docs",
    "models",
    "pyproject.toml",
    "scenarios",
    "surgesim",
    "tests",
}


@pytest.fixture(scope="module")
def tracked() -> list[str]:
    """Every file git knows, as a path from the top level."""
    git = ["git", "-C", str(ROOT), "ls-files", "-z"]
    listing = subprocess.run(git, check=True, capture_output=True, text=True).stdout
    return [name for name in listing.split("\0") if name]


@pytest.fixture(scope="module")
def project() -> dict[str, Any]:
    table: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return table


def test_top_level_holds_only_what_the_layout_names(tracked: list[str]) -> None:
    top = {name.split("/")[0] for name in tracked}
    assert top <= TOP_LEVEL


@pytest.mark.parametrize("name", sorted(TOP_LEVEL))
def test_top_level_is_complete(name: str, tracked: list[str]) -> None:
    assert any(path == name or path.startswith(f"{name}/") for path in tracked)


def test_no_source_is_ignored(tracked: list[str]) -> None:
    """An ignore rule that is too wide (``build/``) would leave a package out of every clone."""
    on_disk = {path.relative_to(ROOT).as_posix() for path in (ROOT / "surgesim").rglob("*.py")}
    git = ["git", "-C", str(ROOT), "check-ignore", "--no-index", "--stdin"]
    answer = subprocess.run(git, input="\n".join(sorted(on_disk)), capture_output=True, text=True)
    assert answer.stdout == ""
    assert any(path.startswith("surgesim/build/") for path in tracked)


def test_nothing_generated_is_tracked(tracked: list[str]) -> None:
    generated = re.compile(r"(^|/)(__pycache__|\.venv|demo-output|dist)/|\.(pyc|raw|whl)$")
    assert [name for name in tracked if generated.search(name)] == []


def test_licence_is_the_one_declared(project: dict[str, Any]) -> None:
    text = (ROOT / "LICENSE").read_text()
    assert "GNU GENERAL PUBLIC LICENSE" in text.splitlines()[0]
    assert "Version 3, 29 June 2007" in text
    assert "END OF TERMS AND CONDITIONS" in text
    assert project["license"] == "GPL-3.0-or-later"


def test_version_is_the_same_everywhere(project: dict[str, Any]) -> None:
    citation = YAML(typ="safe").load(ROOT / "CITATION.cff")
    newest = re.search(r"^## (\d+\.\d+\.\d+)", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert newest is not None
    assert surgesim.__version__ == project["version"]
    assert citation["version"] == project["version"] == newest[1]
    assert citation["license"] == project["license"]


def test_data_folders_are_found_in_a_checkout() -> None:
    assert data_folder("models") == ROOT / "models"
    assert data_folder("scenarios") == ROOT / "scenarios"


def test_missing_data_folder_says_where_it_looked(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(data, "__file__", str(tmp_path / "surgesim" / "reading" / "data.py"))
    with pytest.raises(SurgesimError, match="missing: looked in") as error:
        data_folder("models")
    assert str(tmp_path / "surgesim" / "_data" / "models") in str(error.value)
