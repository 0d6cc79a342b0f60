"""One cross-checked case of every kind of thing: surges, wirings."""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.catalogue.cards import SurgeShape
from surgesim.catalogue.library import built_in
from surgesim.scenario.file import load
from surgesim.studies.compare import Findings
from surgesim.studies.study import study

DATA = Path(__file__).parent / "data"


@pytest.fixture(
    scope="module",
    params=[
        "surges",
        "supplies",
        "earths",
        "nearby",
        pytest.param("wirings", marks=pytest.mark.slow),
    ],
)  # fmt: skip
def found(request: pytest.FixtureRequest) -> Findings:
    return study(load(DATA / f"{request.param}.yaml"), crosscheck=True)


def test_every_case_agrees(found: Findings) -> None:
    assert found["failures"] == []
    for case in found["cases"]:
        assert case["crosscheck"]["status"] == "agreed"
        assert case["crosscheck"]["compared"] >= 10
        assert abs(case["crosscheck"]["largest"]["difference_percent"]) <= 2.0


def test_every_shape_there_is_is_among_the_surges() -> None:
    shapes = {name for name, card in built_in().items() if isinstance(card, SurgeShape)}
    used = {case.scenario.surge.shape for case in load(DATA / "surges.yaml").all_cases}
    # the levels' strokes are the Heidler shapes by other names
    assert used == {name for name in shapes if not name.startswith("LPL ")}
