"""The command line, called in this process and as a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from surgesim.cli import cli
from surgesim.engine.version import VARIABLE
from surgesim.reading.data import data_folder

Invoke = Callable[..., Result]
Spawn = Callable[..., "subprocess.CompletedProcess[str]"]
MakeEngine = Callable[..., Path]


@pytest.fixture(scope="session")
def shed() -> Path:
    """A scenario of two cases that run in a moment: one holds, one is exceeded."""
    return Path(__file__).parent / "data" / "shed.yaml"


@pytest.fixture(scope="session")
def dairy() -> Path:
    return data_folder("scenarios") / "brackenmoss-dairy.yaml"


@pytest.fixture(scope="session")
def invoke() -> Invoke:
    """``invoke("compare", file, "--json")``: in this process, stdout and stderr apart."""

    def call(*words: object, env: Mapping[str, str] | None = None) -> Result:
        return CliRunner().invoke(cli, [str(word) for word in words], env=env)

    return call


@pytest.fixture(scope="session")
def spawn() -> Spawn:
    """The same as ``python -m surgesim`` in a process of its own."""

    def call(
        *words: object,
        cwd: Path | None = None,
        env: Mapping[str, str] | None = None,
        timeout: float = 120.0,
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "surgesim", *map(str, words)],
            cwd=cwd,
            env={**os.environ, **(env or {})},
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
            timeout=timeout,
        )

    return call


@pytest.fixture
def fake_engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> MakeEngine:
    """A shell script in ngspice's place: says its version, then does what ``body`` says."""

    def make(body: str, *, says: str = "ngspice-39") -> Path:
        script = tmp_path / "ngspice-in-its-place"
        asked = f'if [ "$1" = --version ]; then echo "{says}"; exit 0; fi'
        script.write_text(f"#!/bin/sh\n{asked}\n{body}\n", encoding="utf-8")
        script.chmod(0o755)
        monkeypatch.setenv(VARIABLE, str(script))
        # what is kept of cases that fail is not to stay behind
        monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
        return script

    return make
