"""`make` sets up once, and says what to install where it cannot do so itself."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOOLS = ("bash", "cat", "chmod", "dirname", "env", "id", "ls", "mkdir", "printf", "sh", "touch")
DEBIAN_12 = "ID=debian\nVERSION_ID=12\n"


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of what the set-up reads, with a folder of tools that is its whole PATH."""
    folder = tmp_path / "checkout"
    shutil.copytree(ROOT / ".ci", folder / ".ci")
    for name in ("Makefile", "pyproject.toml"):
        shutil.copy(ROOT / name, folder / name)
    tools = folder / "tools"
    tools.mkdir()
    for tool in TOOLS:
        found = shutil.which(tool)
        assert found, f"{tool} is needed to run the set-up"
        (tools / tool).symlink_to(found)
    return folder


def script(path: Path, text: str) -> None:
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(0o755)


def set_up(checkout: Path, *, release: str) -> subprocess.CompletedProcess[str]:
    """Run the set-up as if on the system that ``release`` describes."""
    (checkout / "os-release").write_text(release)
    setup = checkout / ".ci" / "setup.sh"
    there = f"os_release={checkout / 'os-release'}"
    text = setup.read_text()
    assert "os_release=/etc/os-release" in text
    setup.write_text(text.replace("os_release=/etc/os-release", there))
    env = {"PATH": str(checkout / "tools"), "HOME": str(checkout)}
    return subprocess.run(["bash", str(setup)], env=env, capture_output=True, text=True, timeout=60)


def make(checkout: Path, *arguments: str) -> str:
    command = ["make", "-C", str(checkout), *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def test_elsewhere_it_names_what_to_install_and_stops(checkout: Path) -> None:
    script(checkout / "tools" / "apt-get", f"touch {checkout}/apt-was-called")
    done = set_up(checkout, release="ID=fedora\nVERSION_ID=42\n")
    assert done.returncode != 0
    assert "not Debian 12" in done.stderr
    assert "ngspice" in done.stderr
    assert "dnf install ngspice" in done.stderr
    assert not (checkout / "apt-was-called").exists()
    assert not (checkout / ".venv").exists()


def test_on_debian_12_it_installs_only_what_is_missing(checkout: Path) -> None:
    """The stand-in for apt-get writes its calls down and fails, which must stop the set-up."""
    script(checkout / "tools" / "sudo", 'exec "$@"')
    script(
        checkout / "tools" / "apt-get",
        f'echo "$@" >> {checkout}/calls; case "$1" in install) exit 7;; esac',
    )
    script(checkout / "tools" / "python3", "exit 0")  # a Python that has all it needs
    done = set_up(checkout, release=DEBIAN_12)
    assert done.returncode == 7
    update, install = (checkout / "calls").read_text().splitlines()
    assert update.split()[0] == "update"
    assert install.split()[0] == "install"
    assert "ngspice" in install
    assert "python3-venv" not in install
    assert not (checkout / ".venv").exists()


def test_without_root_and_sudo_it_says_what_root_must_do(checkout: Path) -> None:
    (checkout / "tools" / "id").unlink()
    script(checkout / "tools" / "id", "echo 1000")
    script(checkout / "tools" / "apt-get", "exit 0")
    script(checkout / "tools" / "python3", "exit 0")
    done = set_up(checkout, release=DEBIAN_12)
    assert done.returncode != 0
    assert "apt-get update && apt-get install ngspice" in done.stderr


@pytest.mark.parametrize("target", ["demo", "test", "verify", "lint", "bench"])
def test_second_call_sets_nothing_up_again(target: str, checkout: Path) -> None:
    (checkout / "benchmarks").mkdir()
    (checkout / "benchmarks" / "bench_nothing.py").touch()
    assert "setup.sh" in make(checkout, "--dry-run", target)
    (checkout / ".venv").mkdir()
    (checkout / ".venv" / ".ready").touch()
    assert "setup.sh" not in make(checkout, "--dry-run", target)


@pytest.mark.parametrize("changed", ["pyproject.toml", ".ci/constraints.txt", ".ci/setup.sh"])
def test_changed_dependencies_set_up_again(changed: str, checkout: Path) -> None:
    stamp = checkout / ".venv" / ".ready"
    stamp.parent.mkdir()
    stamp.touch()
    newer = stamp.stat().st_mtime + 10
    os.utime(checkout / changed, (newer, newer))
    assert "setup.sh" in make(checkout, "--dry-run", "test")


def test_help_names_every_target_a_reader_meets() -> None:
    listing = make(ROOT, "--no-print-directory", "help")
    for target in ("demo", "test", "verify", "lint", "bench", "clean", "help"):
        assert f"make {target} " in listing
