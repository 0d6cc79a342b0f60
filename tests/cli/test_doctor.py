"""``doctor``: a circuit with a known answer through the engine at hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Invoke = Callable[..., Result]
MakeEngine = Callable[..., Path]


def test_all_is_well(invoke: Invoke) -> None:
    answer = invoke("doctor")
    assert answer.exit_code == 0
    assert "ngspice" in answer.stdout
    assert answer.stdout.splitlines()[-1] == "answer    as expected"


def test_as_json(invoke: Invoke) -> None:
    """1200, 960, 1008, 998.4 V: Gönen, Electric Power Transmission System Engineering, 7.6."""
    record = json.loads(invoke("doctor", "--json").stdout)
    assert record["schema"] == "surgesim.doctor/1"
    check = record["check"]
    assert check["passed"] is True
    assert check["measured_v"] == pytest.approx(check["expected_v"], rel=1e-3, abs=0.1)
    assert {1200.0, 960.0, 1008.0, 998.4} <= set(check["expected_v"])


def test_an_engine_that_answers_nothing(invoke: Invoke, fake_engine: MakeEngine) -> None:
    fake_engine("exit 0")
    assert invoke("doctor").exit_code == 3


def test_nothing_missing_is_reported_that_is_not_needed(invoke: Invoke) -> None:
    packages = json.loads(invoke("doctor", "--json").stdout)["packages"]
    assert "missing" not in packages.values()
