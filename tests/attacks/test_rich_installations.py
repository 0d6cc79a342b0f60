"""Random installations with what a quarter of all sites have, by both solvers."""

from __future__ import annotations

import pytest

from surgesim.build import build
from surgesim.scenario.file import Case, loads
from surgesim.scenario.written import as_yaml
from surgesim.studies.crosscheck import crosschecked
from surgesim.studies.run import run
from tests.attacks.installations import installation
from tests.attacks.test_random_installations import AGREED, KNIFE_EDGE, ended

FEW_PLACES = 3


def rich(seed: int, *, most: int = FEW_PLACES) -> Case:
    text = as_yaml(installation(seed, most=most, rich=True))
    (case,) = loads(text, name=f"rich seed {seed}").all_cases
    return case


def test_a_seed_keeps_the_plain_installation_it_had() -> None:
    plain, more = installation(3, most=FEW_PLACES), installation(3, most=FEW_PLACES, rich=True)
    assert plain == installation(3, most=FEW_PLACES)
    assert plain["places"] == more["places"]
    assert plain != more


@pytest.mark.parametrize("seed", range(20))
def test_each_is_a_scenario_that_can_be_put_together(seed: int) -> None:
    case = rich(seed, most=6)
    network = build(case.scenario)
    assert network.terminals
    assert network.earths


@pytest.mark.parametrize("seed", [2, 3])
def test_both_solvers_agree_on_a_small_one(seed: int) -> None:
    (result,) = run([rich(seed)], check=crosschecked)
    assert ended(result) in (AGREED, KNIFE_EDGE)
