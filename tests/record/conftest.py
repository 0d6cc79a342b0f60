"""One small record, made once by the real engine."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.record.records import SMALL, Made, run_command


@pytest.fixture(scope="session")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("record") / "small.record"
    result = run_command("compare", SMALL, "--record", path, "--quiet")
    assert result.exit_code == 0, result.output
    return path


@pytest.fixture
def small(recorded: Path, tmp_path: Path) -> Made:
    return Made(path=recorded, folder=tmp_path)
