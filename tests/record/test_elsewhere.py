"""A record from here, reproduced by the wheel in a virtual environment of its own: another home,
another folder, another locale, nothing of this checkout."""

from __future__ import annotations

import os
import site
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.record.records import Made

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.slow


def succeed(
    command: Sequence[str | Path], *, cwd: Path, env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(command, cwd=cwd, env=env, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a fresh environment with the wheel in it.

    What surgesim depends on is lent from here by a path file, so that no network is needed; the
    checkout itself, which is installed here in place, is not on that path.
    """
    folder = tmp_path_factory.mktemp("another home")
    pip: list[str | Path] = [sys.executable, "-m", "pip", "--quiet"]
    offline = ["--no-index", "--no-deps"]
    build = [*pip, "wheel", *offline, "--no-build-isolation", "--wheel-dir", folder, ROOT]
    succeed(build, cwd=folder)
    (wheel,) = folder.glob("surgesim-*.whl")
    venv = folder / "venv"
    succeed([sys.executable, "-m", "venv", "--without-pip", venv], cwd=folder)
    (packages,) = venv.glob("lib/python*/site-packages")
    succeed([*pip, "--python", venv / "bin" / "python", "install", *offline, wheel], cwd=folder)
    lent = [path for path in site.getsitepackages() if Path(path).is_dir()]
    # a plain line adds a folder and reads no path files in it: the checkout stays away
    (packages / "lent.pth").write_text("\n".join(lent) + "\n", encoding="utf-8")
    return venv


def test_a_record_reproduces_elsewhere(elsewhere: Path, small: Made, tmp_path: Path) -> None:
    home = tmp_path / "höme"
    home.mkdir()
    env = {
        "HOME": str(home),
        "PATH": f"{elsewhere / 'bin'}{os.pathsep}{os.environ['PATH']}",
        "LC_ALL": "C",
        "LANG": "de_DE.UTF-8",
        "TZ": "Asia/Kathmandu",
    }
    where = succeed(
        [elsewhere / "bin" / "python", "-c", "import surgesim; print(surgesim.__file__)"],
        cwd=home, env=env,
    )  # fmt: skip
    assert str(elsewhere) in where.stdout
    done = succeed([elsewhere / "bin" / "surgesim", "reproduce", small.path], cwd=home, env=env)
    assert "REPRODUCED" in done.stdout.upper()
    assert not any(home.rglob("*.cir"))
