"""Both solvers against published numbers, claim by claim."""

from __future__ import annotations

import pytest

from tests.verification.circuits import Claim, claims
from tests.verification.solvers import SOLVERS, Solver


@pytest.mark.parametrize("solver", SOLVERS.values(), ids=list(SOLVERS))
@pytest.mark.parametrize("claim", claims(), ids=lambda claim: claim.name)
def test_the_published_number_comes_out(claim: Claim, solver: Solver) -> None:
    waves = solver(claim.circuit, claim.stop)
    assert claim.read(waves) == pytest.approx(claim.published, rel=claim.tolerance)
