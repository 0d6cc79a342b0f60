"""Random valid installations through the whole chain: a result, or a refusal with its reason."""

from __future__ import annotations

import pytest

from surgesim.errors import EngineError
from surgesim.scenario.file import loads
from surgesim.scenario.written import as_yaml
from surgesim.studies.run import measure, run
from tests.attacks.installations import installation

QUICK = range(100, 106)
MANY = range(200, 240)


def outcome(seed: int) -> str:
    """``result`` or the refusal's words; anything else raised is a fault of the program."""
    (case,) = loads(as_yaml(installation(seed)), name=f"seed {seed}").all_cases
    (result,) = run([case])
    try:
        findings = measure(result)
    except EngineError as refusal:
        return refusal.message or "a refusal without a word"
    for terminal in findings.terminals:
        assert terminal.insulation is not None
        assert (terminal.peak_v is None) == terminal.insulation.fired
        assert abs(terminal.peak_v or 0.0) <= 1.01 * terminal.insulation.level_v
    return "result"


def test_the_same_seed_is_the_same_installation() -> None:
    assert installation(7) == installation(7) != installation(8)


def test_a_few_end_in_results() -> None:
    outcomes = [outcome(seed) for seed in QUICK]
    assert outcomes.count("result") >= len(QUICK) - 1, outcomes


@pytest.mark.slow
def test_many_end_in_results_or_named_refusals() -> None:
    outcomes = [outcome(seed) for seed in MANY]
    assert "a refusal without a word" not in outcomes
    assert outcomes.count("result") >= 0.9 * len(MANY), outcomes
