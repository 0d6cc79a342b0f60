"""Knife-edge: when two outcomes are both legitimate, and when they are not."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from surgesim.errors import ResultRefused
from surgesim.scenario.file import loads
from surgesim.studies.compare import Findings
from surgesim.studies.crosscheck import crosscheck
from surgesim.studies.run import measure
from surgesim.studies.study import study
from tests.crosscheck.shed import open_peaks, ran, shed_case, shed_text

PLUS, MINUS = "inverter, plus to pe", "inverter, minus to pe"
LevelOff = Callable[[float], None]


def studied(text: str, *, checked: bool = True) -> Findings:
    return study(loads(text, name="shed"), crosscheck=checked)


def at_its_withstand() -> str:
    """The shed at the edge, its insulation proved to just where it gives way."""
    level = 1.005 * open_peaks()["plus to pe"]
    return shed_text(plus=level, withstand=level)


def test_just_below_its_level_is_suspected_without_a_second_solver(at_the_edge: str) -> None:
    found = studied(at_the_edge, checked=False)
    (case,) = found["cases"]
    assert case["crosscheck"] is None
    (note,) = case["notes"]
    assert note.startswith(f"knife-edge suspected: {PLUS} did not fire and came to 99.50 %")
    assert any(c.startswith("Knife-edge suspected: in c0001") for c in found["cautions"])


@pytest.mark.parametrize(("share", "fires"), [(0.95, [PLUS]), (1.02, [])])
def test_away_from_its_level_nothing_is_suspected(share: float, fires: list[str]) -> None:
    result = ran(shed_case(plus=share * open_peaks()["plus to pe"]))
    assert measure(result).notes == ()
    found = crosscheck(result)
    assert found["status"] == "agreed"
    assert found["fires"] == fires
    assert found["others"] == []


def test_a_suspect_is_examined_and_both_outcomes_are_told(at_the_edge: str) -> None:
    found = studied(at_the_edge)
    (case,) = found["cases"]
    checked = case["crosscheck"]
    assert checked["status"] == "knife-edge"
    assert checked["fires"] == []
    (other,) = checked["others"]
    assert other["fires"] == [PLUS]
    assert other["moved_percent"] == {PLUS: pytest.approx(-1.0)}
    peaks = {t["pair"]: t["peak_v"] for t in case["terminals"]}
    elsewhere = {t["pair"]: t["peak_v"] for t in other["terminals"]}
    assert peaks["plus to pe"] == pytest.approx(open_peaks()["plus to pe"], rel=0.005)
    assert elsewhere["plus to pe"] is None


def test_the_worse_outcome_counts() -> None:
    text = at_its_withstand()
    assert studied(text, checked=False)["summary"][0]["verdict"] == "holds"
    (entry,) = studied(text)["summary"]
    assert entry["verdict"] == "exceeded"
    assert entry["worst"]["pair"] == "plus to pe"
    assert entry["worst"]["insulation"]["fired"]
    # what falls with the pole that fires stands on a failure
    assert [t["verdict"] for t in entry["terminals"]] == ["exceeded", "void"]


def test_a_claim_has_to_be_met_in_both_outcomes() -> None:
    claim = (
        "claims: {enough: {alternative: {}, equipment: inverter, pair: plus to pe, margin: 0.1 %}}"
    )
    text = at_its_withstand() + claim
    assert studied(text, checked=False)["claims"][0]["met"]
    assert not studied(text)["claims"][0]["met"]


def test_solvers_that_differ_by_a_hair_are_at_an_edge(level_off: LevelOff) -> None:
    """One has the level in reach, the other just does not; a move of 0.3 % shows it."""
    result = ran(shed_case(plus=1.0005 * open_peaks()["plus to pe"]))
    level_off(0.998)
    found = crosscheck(result)
    assert found["status"] == "knife-edge"
    assert found["fires"] == []
    assert found["moved_percent"] == {PLUS: pytest.approx(0.3)}
    (other,) = found["others"]
    assert other["fires"] == [PLUS]
    assert other["moved_percent"] == {}


def test_solvers_that_differ_by_more_disagree(level_off: LevelOff) -> None:
    """The same difference of outcomes, and no edge: moving the level by 1 % does not help."""
    result = ran(shed_case(plus=1.005 * open_peaks()["plus to pe"]))
    level_off(0.95)
    with pytest.raises(
        ResultRefused, match=r"^c0001: the two solvers disagree: ngspice has no"
    ) as e:
        crosscheck(result)
    assert f"the second solver {PLUS} fire" in e.value.message
    assert "moving the levels in question by one percent does not" in e.value.message


def test_a_second_solver_without_an_answer_is_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    from surgesim.oracle import check

    result = ran(shed_case())
    monkeypatch.setattr(check, "MOST_STEPS", 10.0)
    with pytest.raises(ResultRefused, match=r"^c0001: could not be cross-checked: the second"):
        crosscheck(result)


def test_poles_that_fire_together_are_suspected_and_examined() -> None:
    """With 2 V between them, at the inverter and at the array: there either order comes to the
    same, here the pole behind is relieved before it fires."""
    text = struck_text()
    (before,) = studied(text, checked=False)["cases"]
    (note,) = (note for note in before["notes"] if PLUS in note)
    assert re.sub(r"fired \S+ ns", "fired 1 ns", note) == (
        f"knife-edge suspected: {PLUS} and {MINUS} fired 1 ns apart, within the 10 ns of a"
        " collapse; either may relieve the other"
    )
    (case,) = studied(text)["cases"]
    checked = case["crosscheck"]
    assert checked["status"] == "knife-edge"
    both = {"modules, minus to pe", "modules, plus to pe"}
    assert set(checked["fires"]) == {PLUS, MINUS} | both
    others = [set(other["fires"]) for other in checked["others"]]
    assert all({PLUS, MINUS} < fired for fired in others)
    assert sorted(len(fired & both) for fired in others) == [1, 1]


def struck_text() -> str:
    """The shed without its earth wire, its array struck, both poles rising as one."""
    text = shed_text(plus=4000.0, minus=4000.0)
    wire = next(line for line in text.splitlines() if "earth wire" in line)
    rod = "  array rod: {at: array, bar: pe, measured: 30 ohm, inductance: 2 uH}"
    pole = "{withstand: 1 kV, from: guess, capacitance: 100 nF}"
    modules = f"  modules: {{at: array, plus to pe: {pole}, minus to pe: {pole}}}"
    for old, new in (
        (wire, ""),
        ("earths:", f"earths:\n{rod}"),
        ("equipment:", f"equipment:\n{modules}"),
        ("600 V", "2 V"),
        ("1 Mohm", "0.05 Mohm"),
        ("100 A, channel: 200 ohm, into: array plus", "500 A, into: array pe"),
    ):
        assert old in text
        text = text.replace(old, new)
    return text
