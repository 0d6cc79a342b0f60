"""Both solvers against published numbers, claim by claim."""

from __future__ import annotations

import pytest

from tests.verification.__main__ import BEGIN, END, IN_README, README
from tests.verification.circuits import Claim
from tests.verification.every import claims
from tests.verification.solvers import SOLVERS, Solver


@pytest.mark.parametrize("solver", SOLVERS.values(), ids=list(SOLVERS))
@pytest.mark.parametrize("claim", claims(), ids=lambda claim: claim.name)
def test_the_published_number_comes_out(claim: Claim, solver: Solver) -> None:
    waves = solver(claim.circuit, claim.stop)
    assert claim.read(waves) == pytest.approx(claim.published, rel=claim.tolerance)


def test_the_readme_shows_the_published_numbers_of_today() -> None:
    """The command writes it; this notices a table that was left behind by a changed claim."""
    text = README.read_text(encoding="utf-8")
    section = text[text.index(BEGIN) : text.index(END)]
    known = {claim.name: claim for claim in claims()}
    for name in IN_README:
        claim = known[name]
        assert f"| {name} | {claim.source} | {claim.published:.5g} {claim.unit} |" in section
