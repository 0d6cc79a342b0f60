"""Limits: closed in on where a margin ends, and every stretch found that the scan can see."""

from __future__ import annotations

from pathlib import Path

import pytest

import surgesim
from surgesim.errors import InputError
from surgesim.reading.tree import read_tree
from surgesim.report.limit import sentence
from surgesim.scenario.axes import axis
from surgesim.studies.conditions import Condition
from surgesim.studies.limit import Limit, Probe, Search

SHED = Path(__file__).parents[1] / "cli" / "data" / "shed.yaml"
PEAK = "surges.induced.peak"


def peak_at(current: str) -> float:
    file = surgesim.load(SHED, settings={PEAK: current})
    (case,) = surgesim.study(file, chosen={"fitted": ["none"]})["cases"]
    return float(max(abs(terminal["peak_v"]) for terminal in case["terminals"]))


def test_the_largest_surge_of_a_linear_network_is_where_its_peak_meets_the_margin() -> None:
    """Without an arrester the shed is linear: its peak is a line over the surge's (superposition),
    and 25 % of margin are left where it meets 8 kV / 1.25."""
    low, high = peak_at("6 A"), peak_at("12 A")
    expected = 6.0 + 6.0 * (8e3 / 1.25 - low) / (high - low)
    search = Search(
        tree=read_tree(SHED), file=str(SHED), along=axis(PEAK, "4 A to 30 A"),
        condition=Condition.of("holds", None), chosen={"fitted": ["none"]}, scan=3, within=0.01,
    )  # fmt: skip
    (limit,) = search.limits()
    (stretch,) = limit.stretches
    assert stretch.below is None
    assert stretch.above is not None
    assert stretch.last.value < expected < stretch.above.value
    assert stretch.above.value - stretch.last.value <= 0.01 * stretch.above.value
    # three values, and so many halvings of 13 A until 1 % of the limit: 2^7 > 13 / 0.12
    assert len(limit.probes) == 3 + 7
    told = sentence(limit)
    assert told.startswith(f"Up to {stretch.last.text}; at {stretch.above.text} thin at charger")


def limit_of(kept: str) -> Limit:
    """``+`` kept, ``-`` not, ``?`` without a result, at 1 m, 2 m, …"""
    meaning = {"+": True, "-": False, "?": None}
    probes = [
        Probe(text=f"{k} m", value=float(k), kept=meaning[mark], worst=None)
        for k, mark in enumerate(kept, start=1)
    ]
    return Limit(choice=(), probes={probe.value: probe for probe in probes})


@pytest.mark.parametrize(
    ("kept", "stretches", "changes"),
    [
        ("++++", [(1, 4)], []),
        ("----", [], []),
        ("++--", [(1, 2)], [(2, 3)]),
        ("--++", [(3, 4)], [(2, 3)]),
        ("+-++-+", [(1, 1), (3, 4), (6, 6)], [(1, 2), (2, 3), (4, 5), (5, 6)]),
        ("+?-", [(1, 1)], []),
        ("?", [], []),
    ],
)
def test_stretches_and_changes(
    kept: str, stretches: list[tuple[int, int]], changes: list[tuple[int, int]]
) -> None:
    limit = limit_of(kept)
    assert [(s.first.value, s.last.value) for s in limit.stretches] == stretches
    assert [(one.value, other.value) for one, other in limit.changes()] == changes
    assert limit.unknown == kept.count("?")
    assert sentence(limit)


def terminal(verdict: str, margin: float | None, kind: str = "withstand") -> dict[str, object]:
    return {
        "equipment": "inverter", "pair": "plus to pe", "verdict": verdict,
        "margin_percent": margin, "peak_v": None if margin is None else 1.0,
        "limit": {"kind": kind},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "record", "kept"),
    [
        ("holds", terminal("holds", 30.0), True),
        ("holds", terminal("thin", 20.0), False),
        ("margin >= 10 %", terminal("thin", 20.0), True),
        ("margin>=25%", terminal("thin", 20.0), False),
        ("margin >= 10 %", terminal("void", 200.0), False),
        ("margin >= 10 %", terminal("exceeded", None), False),
        ("margin >= 10 %", terminal("holds", 4.0, "highest voltage"), True),
    ],
)
def test_conditions(words: str, record: dict[str, object], *, kept: bool) -> None:
    condition = Condition.of(words, None)
    assert condition.broken_by([record]) == ([] if kept else [record])


def test_a_condition_that_is_none_and_a_terminal_that_is_none_are_refused() -> None:
    with pytest.raises(InputError, match="nothing that can be kept"):
        Condition.of("peak < 3 kV", None)
    with pytest.raises(InputError, match="did you mean 'inverter'"):
        Condition.of("holds", "invertor").broken_by([terminal("holds", 30.0)])
