"""The wheel works without the checkout: cards and demos inside, command line on PATH."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]
OFFLINE = ["--no-index", "--no-deps"]


def succeed(command: list[str], *, cwd: Path, env: dict[str, str] | None = None) -> str:
    done = subprocess.run(command, cwd=cwd, env=env, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [*PIP, "wheel", *OFFLINE, "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    succeed(build, cwd=folder)
    (built,) = folder.glob("surgesim-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with nothing but the wheel's content, to be put on PYTHONPATH."""
    target = tmp_path_factory.mktemp("installed")
    succeed([*PIP, "install", *OFFLINE, "--target", str(target), str(wheel)], cwd=target)
    return target


@pytest.mark.parametrize("kind", ["models", "scenarios"])
def test_wheel_carries_the_data(kind: str, wheel: Path) -> None:
    here = {path.relative_to(ROOT).as_posix() for path in (ROOT / kind).rglob("*.yaml")}
    assert here
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    assert {f"surgesim/_data/{name}" for name in here} <= inside


def test_wheel_carries_types_and_licence_but_no_tests(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert "surgesim/py.typed" in names
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in names)
    assert not [name for name in names if name.startswith(("tests/", "benchmarks/", "docs/"))]


@pytest.mark.parametrize("kind", ["models", "scenarios"])
def test_installed_package_finds_its_own_data(kind: str, installed: Path, tmp_path: Path) -> None:
    ask = f"from surgesim.reading.data import data_folder; print(data_folder({kind!r}))"
    env = {**os.environ, "PYTHONPATH": str(installed)}
    answer = succeed([sys.executable, "-c", ask], cwd=tmp_path, env=env)
    assert Path(answer.strip()) == installed / "surgesim" / "_data" / kind


def test_console_script_works_from_another_folder(installed: Path, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(installed)}
    listing = succeed([str(installed / "bin" / "surgesim"), "--help"], cwd=tmp_path, env=env)
    assert "compare" in listing
