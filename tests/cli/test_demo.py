"""The demo installation, all of it, as ``make demo`` runs it."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Spawn = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.mark.slow
def test_make_demos_command(dairy: Path, tmp_path: Path, spawn: Spawn) -> None:
    answer = spawn("compare", dairy, "--out", tmp_path / "out", "--overwrite", timeout=1200)
    assert answer.returncode == 0, answer.stderr
    findings = json.loads((tmp_path / "out" / "findings.json").read_text(encoding="utf-8"))
    assert findings["failures"] == []
    assert len(findings["cases"]) == 152
    assert len(findings["summary"]) == 14
    assert answer.stdout.startswith("Brackenmoss dairy barn\n")
    held = [entry for entry in findings["summary"] if entry["verdict"] == "holds"]
    assert f"HOLDS: {len(held)} OF 14" in answer.stdout
    assert "inverter AC port: no AC side described" in answer.stdout
    figures = {path.name for path in (tmp_path / "out" / "figures").iterdir()}
    assert {"comparison.png"} < figures
