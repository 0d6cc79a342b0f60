"""Over many invented findings: no word that promises, nothing too wide, every verdict in words."""

import re
from types import SimpleNamespace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.report import comparison, console, tables

Findings = dict[str, Any]

PROMISES = re.compile(r"\b(safe|protected|compliant|guaranteed)\b", re.IGNORECASE)
PAIRS = ["plus to pe", "minus to pe", "plus to minus", "l1 to n", "l1 to pe", "screen to pe"]
NAMES = st.text(
    st.characters(categories=["L", "N", "P"], exclude_characters='./"'), min_size=1, max_size=60
).filter(lambda name: not PROMISES.search(name))
VOLTS = st.floats(1.0, 2e5)
FIGURES = {
    "formula": "Heidler", "peak": 5e3, "unit": "A", "t1_s": 10e-6, "t2_s": 350e-6,
    "charge_c": 2.5, "specific_energy_j_per_ohm": 6250.0, "steepest_per_s": 8.1e8,
    "generator": None,
}  # fmt: skip


@st.composite
def terminals(draw: st.DrawFn, conditions: list[str]) -> Findings:
    level = draw(st.none() | st.floats(1e3, 2e4))
    fired = level is not None and draw(st.booleans())
    return {
        "equipment": draw(st.sampled_from(["inverter DC input", "modules", "data port"])),
        "pair": draw(st.sampled_from(PAIRS)),
        "place": "barn wall",
        "peak_v": None if fired else draw(VOLTS) * draw(st.sampled_from([1.0, -1.0])),
        "time_s": draw(st.floats(1e-9, 1e-3)),
        "window": "front",
        "above_half_s": draw(st.floats(1e-9, 1e-2)),
        "bias_v": draw(st.floats(-1500.0, 1500.0)),
        "withstand_v": draw(VOLTS),
        "limit": {"kind": "withstand", "origin": draw(st.sampled_from(["table", "guess"])),
                  "where": ""},
        "to_bar_v": None if fired else draw(VOLTS),
        "to_remote_earth_v": None if fired else draw(VOLTS),
        "insulation": level
        and {"level_v": level, "fired": fired, "fired_at_s": 1e-6 if fired else None,
             "fired_v": level if fired else None},
        "conditional_on": draw(st.lists(st.sampled_from(conditions), unique=True, max_size=3)),
    }  # fmt: skip


@st.composite
def arresters(draw: st.DrawFn, name: str) -> Findings:
    share = draw(st.floats(0.0, 50.0))
    amount = st.floats(0.0, 1e6)
    return {
        "name": name, "element": draw(st.sampled_from(PAIRS)), "card": draw(NAMES),
        "place": "array", "class": "II", "peak_a": draw(amount), "time_s": 1e-6,
        "charge_c": draw(amount), "energy_j": draw(amount),
        "specific_energy_j_per_ohm": draw(amount), "residual_v": draw(VOLTS),
        "standing_v": draw(VOLTS), "shares": {}, "share_of_rating": share,
        "rated_by": draw(st.sampled_from(["peak", "charge", "specific_energy", "continuous"])),
        "basis": "", "verdict": "exceeded" if share > 1.0 else "holds",
    }  # fmt: skip


@st.composite
def installations(draw: st.DrawFn) -> tuple[Findings, list[Findings]]:
    """Axes and cases: up to eight alternatives of one factor, worst of two surges."""
    levels = draw(st.lists(NAMES, min_size=1, max_size=8, unique_by=str.casefold))
    slot = draw(NAMES)
    conditions = ["modules, plus to pe: flashed over at 0.61 us", f"{slot}, plus to pe: charge",
                  "something else"]  # fmt: skip
    axes = {draw(NAMES): {"role": "alternative", "levels": levels}}
    cases: list[Findings] = []
    for level in levels:
        for surge in ("first", "steep"):
            found = draw(
                st.lists(terminals(conditions), min_size=1, max_size=5,
                         unique_by=lambda t: (t["equipment"], t["pair"]))
            )  # fmt: skip
            cases.append(
                {
                    "id": f"c{len(cases) + 1:04d}",
                    "axes": {next(iter(axes)): level},
                    "surge": surge,
                    "surge_figures": FIGURES,
                    "terminals": found,
                    "arresters": draw(st.lists(arresters(slot), max_size=2)),
                    "modes": [],
                    "earths": [],
                    "split": None,
                    "energy_closure": {"front": 1e-4, "tail": None},
                    "windows": {"front": {"step_s": 1e-9, "stop_s": 1e-5, "points": 10000}},
                    "notes": [],
                    "crosscheck": None,
                }
            )
    return axes, cases


@settings(max_examples=40, deadline=None)
@given(installation=installations())
def test_no_promise_nothing_cut_and_every_verdict_in_words(
    kit: SimpleNamespace, installation: tuple[Findings, list[Findings]]
) -> None:
    axes, cases = installation
    for case in cases:
        for terminal in case["terminals"]:
            kit.rate(terminal)
    findings = kit.assemble(axes, cases)
    pages = [
        console.text(comparison.render(findings)),
        console.text(tables.render(findings)),
        "\n".join(comparison.plain_sentences(findings)),
    ]
    for page in pages:
        assert not PROMISES.search(page)
        for entry in findings["summary"]:
            assert re.search(rf"(?i)\b{entry['verdict']}\b", page)
    kit.assert_fits(pages[0])
    kit.assert_fits(pages[1])


def test_the_dairy_promises_nothing(dairy: Findings) -> None:
    for page in (comparison.render(dairy), tables.render(dairy)):
        assert not PROMISES.search(console.text(page))


def test_the_search_for_promises_finds_them() -> None:
    assert PROMISES.search("The inverter is Protected.")
    assert not PROMISES.search("surge protective device; a safety factor")
