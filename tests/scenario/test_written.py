"""The resolved form of a scenario is a scenario file that reads back to an equal object."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.reading.quantities import (
    CAPACITANCE,
    CURRENT,
    INDUCTANCE,
    LENGTH,
    PERCENT,
    RESISTANCE,
    RESISTIVITY,
    VOLTAGE,
    Dimension,
    format_quantity,
)
from surgesim.reading.tree import Mapping, parse_tree, plain
from surgesim.scenario.file import Case, fingerprint, load, loads, read
from surgesim.scenario.schema import Scenario
from surgesim.scenario.written import written

TreeOf = Callable[[dict[str, Any]], Mapping]

ROOT = Path(__file__).resolve().parents[2]
FILES = [
    *sorted((ROOT / "tests" / "scenarios" / "valid").glob("*.yaml")),
    *sorted((ROOT / "scenarios").glob("*.yaml")),
]


def again(scenario: Scenario) -> Scenario:
    (case,) = loads(written(scenario)).all_cases
    return case.scenario


def some(cases: tuple[Case, ...]) -> tuple[Case, ...]:
    """Every case, or of many a few spread over them: YAML takes a quarter of a second each."""
    return cases[:: max(1, len(cases) // 6)]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_cases_written_read_back_to_equal_objects(path: Path) -> None:
    for case in some(load(path).all_cases):
        assert again(case.scenario) == case.scenario
        assert fingerprint(again(case.scenario)) == fingerprint(case.scenario)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_case_reads_back_from_its_resolved_form(path: Path, tree_of: TreeOf) -> None:
    for case in load(path).all_cases:
        (same,) = read(tree_of(case.scenario.written()), "resolved").all_cases
        assert same.scenario == case.scenario


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_text_holds_the_resolved_form_and_nothing_else(path: Path, tree_of: TreeOf) -> None:
    for case in some(load(path).all_cases):
        text = written(case.scenario).encode()
        assert plain(parse_tree(text, "f")) == plain(tree_of(case.scenario.written()))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_resolved_form_is_written_the_same_again(path: Path) -> None:
    scenario = load(path).all_cases[-1].scenario
    assert written(again(scenario)) == written(scenario)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_resolved_form_has_one_case_and_no_factors(path: Path) -> None:
    file = loads(written(load(path).all_cases[0].scenario))
    assert (len(file.all_cases), file.factors, file.claims) == (1, (), {})


def test_different_cases_have_different_fingerprints() -> None:
    cases = load(ROOT / "scenarios" / "brackenmoss-dairy.yaml").all_cases
    assert len({fingerprint(case.scenario) for case in cases}) == len(cases)


def quantities(dimension: Dimension, low: float, high: float) -> st.SearchStrategy[str]:
    """Written quantities between two SI values; what is smaller than any counts as zero."""
    return st.floats(low, high).map(
        lambda value: format_quantity(value if abs(value) > 1e-15 else 0.0, dimension)
    )


TEXT = """\
surgesim: 1
title: Numbers
site: {{soil: {soil}}}
places: {{array: {{x: {x}, y: {y}, height: {height}}}, room: {{}}}}
cables: {{run: {{from: array, to: room, length: {length}, type: pv pair 6 mm2, count: {count},
  laying: plastic duct {width} wide {depth} deep}}}}
earths:
  one: {{at: array, bar: pe, measured: {earth}, inductance: {henry}}}
  two: {{at: room, bar: pe, rod: {{length: {rod}, diameter: {thick}}}, inductance: {henry}}}
supply: {{pv: {{at: array, voltage: {volts}, Isc at STC: {amps},
  reference: {{to: pe, each pole: {leak}}}}}}}
equipment: {{inv: {{at: room,
  plus to pe: {{withstand: {volts}, from: guess, capacitance: {farad}}}}}}}
arresters: {{box: {{at: room, across: each pole to pe, card: pv 1000 class I,
  leads: {{line: {lead}, earth: {lead} to pe}}}}}}
surges: {{s: {{shape: 8/20, peak: {amps}, into: array pe, returns: remote earth}}}}
asked margin: {margin}
"""

NUMBERS = st.fixed_dictionaries(
    {
        "soil": quantities(RESISTIVITY, 0.2, 1e6),
        "x": quantities(LENGTH, -1e4, 1e4),
        "y": quantities(LENGTH, -1e4, 1e4),
        "height": quantities(LENGTH, -1e4, 1e4),
        "length": quantities(LENGTH, 1e-3, 1e5),
        "count": st.integers(1, 1000).map(str),
        "width": quantities(LENGTH, 1e-3, 10),
        "depth": quantities(LENGTH, 1e-3, 10),
        "earth": quantities(RESISTANCE, 1e-6, 1e12),
        "henry": quantities(INDUCTANCE, 0, 1e-2),
        "rod": quantities(LENGTH, 1, 150),
        "thick": quantities(LENGTH, 1e-4, 0.9),
        "volts": quantities(VOLTAGE, 1e-3, 1e4),
        "amps": quantities(CURRENT, 1, 1e6),
        "leak": quantities(RESISTANCE, 1e6, 1e12),
        "farad": quantities(CAPACITANCE, 0, 0.1),
        "lead": quantities(LENGTH, 0, 100),
        "margin": quantities(PERCENT, 0, 100),
    }
)


@settings(max_examples=30)
@given(numbers=NUMBERS)
def test_numbers_read_back_to_the_same_floats(numbers: dict[str, str]) -> None:
    (case,) = loads(TEXT.format(**numbers)).all_cases
    assert again(case.scenario) == case.scenario
