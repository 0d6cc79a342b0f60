"""Case records as the findings make them, numbers invented, and a study to put them in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from surgesim.findings.arresters import decisive
from surgesim.findings.case import CaseInfo
from surgesim.findings.verdicts import arrester_verdict, margin_percent, terminal_verdict
from surgesim.studies.info import (
    AxisInfo,
    ClaimInfo,
    EngineRecord,
    Failure,
    ScenarioInfo,
    StudyInfo,
    Unassessed,
)

Axes = Mapping[str, str | None]
ASKED = 25.0


def make_terminal(
    peak: float | None,
    *,
    equipment: str = "inverter",
    pair: str = "plus to pe",
    limit: float = 6e3,
    origin: str = "table",
    conditions: Sequence[str] = (),
) -> dict[str, Any]:
    """``peak`` None: the pair's own insulation fired."""
    ratio = None if peak is None or peak == 0.0 else limit / abs(peak)
    fired = peak is None
    return {
        "equipment": equipment, "pair": pair, "place": "barn wall",
        "peak_v": peak, "time_s": None if fired else 1.5e-6,
        "window": None if fired else "front", "above_half_s": None if fired else 2e-5,
        "bias_v": 437.0, "withstand_v": limit,
        "limit": {"kind": "withstand", "origin": origin, "where": "IEC 62109-1 Table 16"},
        "ratio": ratio, "margin_percent": margin_percent(ratio), "asked_percent": ASKED,
        "to_bar_v": peak, "to_remote_earth_v": peak,
        "insulation": {
            "level_v": 12e3, "fired": fired, "fired_at_s": 6.1e-7 if fired else None,
            "fired_v": 11.9e3 if fired else None,
        },
        "conditional_on": list(conditions),
        "verdict": terminal_verdict(
            fired=fired, ratio=ratio, asked_percent=ASKED, conditional=bool(conditions)
        ),
        "numerical_error": make_error(
            peak_v=None if fired else 0.2, to_bar_v=None if fired else 0.3,
            to_remote_earth_v=None if fired else 0.1,
        ),
        "could_be": [],
    }  # fmt: skip


def make_error(**percent: float | None) -> dict[str, Any]:
    return {"how": "estimated", "percent": percent}


def make_arrester(
    charge_share: float | None, *, slot: str = "array box", element: str = "plus to pe",
    test_class: str = "II",
) -> dict[str, Any]:  # fmt: skip
    shares: dict[str, float | None] = {
        "peak": None, "charge": charge_share, "specific_energy": None, "continuous": None,
        "in_series": None, "follow_current": None,
    }  # fmt: skip
    by = decisive(shares)
    return {
        "name": slot, "element": element, "card": "pv 1000 class II", "place": "array",
        "class": test_class, "peak_a": 1800.0, "time_s": 1e-5,
        "charge_c": 0.7 * (charge_share or 0.0), "net_charge_c": 0.4, "energy_j": 700.0,
        "specific_energy_j_per_ohm": 400.0, "residual_v": 2300.0, "standing_v": 437.0,
        "series": [], "shares": shares, "share_of_rating": charge_share, "rated_by": by,
        "basis": "one 8/20 impulse of Imax", "verdict": arrester_verdict(shares),
        "numerical_error": make_error(peak_a=0.4, residual_v=0.1, charge_c=0.2), "could_be": [],
        "discharge": None,
    }  # fmt: skip


def make_invariants() -> dict[str, Any]:
    """All held: the worst figure of each with its limit and unit."""
    shown = {
        "complete": (0.0, 0.0, "missing"), "steps": (1.0, 1.000001, "share"),
        "standing": (1e-3, 0.4, "V"), "charge_balance": (2e-5, 1e-3, "share"),
        "remote_earth": (1e-6, 1e-3, "share"), "voltage_balance": (1e-4, 5e-3, "share"),
        "energy": (2e-4, 5e-3, "share"), "peaks": (0.0, 0.01, "share"),
        "charge_to_come": (7e-3, 0.02, "share"),
    }  # fmt: skip
    return {
        name: {"worst": worst, "limit": limit, "unit": unit, "where": "the tail window"}
        for name, (worst, limit, unit) in shown.items()
    }


def make_case(
    number: int,
    axes: Axes,
    *terminals: dict[str, Any],
    surge: str = "frame struck",
    arresters: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    return {
        "id": f"c{number:04d}", "axes": dict(axes), "surge": surge,
        "surge_figures": {
            "formula": "Heidler", "peak": 5e3, "unit": "A", "t1_s": 1e-5, "t2_s": 3.5e-4,
            "charge_c": 2.5, "specific_energy_j_per_ohm": 6.4e3, "steepest_per_s": 6.8e8,
            "generator": None,
        },
        "terminals": list(terminals), "arresters": list(arresters),
        "modes": [],
        "earths": [{
            "name": "array rods", "place": "array", "resistance_ohm": 38.0,
            "from_shape_ohm": None, "rise_v": 9e4, "peak_a": 2.4e3, "charge_c": 1.1,
            "numerical_error": make_error(rise_v=0.1, peak_a=0.1, charge_c=0.05),
        }],
        "split": None,
        "energy_closure": {"front": 1e-6, "tail": 2e-4},
        "invariants": make_invariants(),
        "windows": {
            name: {"step_s": 1e-8, "stop_s": 1e-5, "points": 1000, "lumped": []}
            for name in ("front", "tail")
        },
        "notes": [],
        "certification": [],
        "crosscheck": None,
    }  # fmt: skip


def make_failure(number: int, axes: Axes) -> Failure:
    info = CaseInfo(id=f"c{number:04d}", axes=axes, surge="frame struck")
    return Failure(case=info, error="timestep too small", hint="a finer step")


def make_study(
    *,
    alternatives: Mapping[str, Sequence[str]] | None = None,
    worst_of: Mapping[str, Sequence[str]] | None = None,
    claims: Sequence[ClaimInfo] = (),
) -> StudyInfo:
    axes = {
        name: AxisInfo(role="alternative", levels=tuple(levels))
        for name, levels in (alternatives or {}).items()
    } | {
        name: AxisInfo(role="worst of", levels=tuple(levels))
        for name, levels in (worst_of or {}).items()
    }
    return StudyInfo(
        scenario=ScenarioInfo(title="Dairy", question="One or both?", file="d.yaml", hash="0f"),
        engine=EngineRecord(name="ngspice", version="39", options="trtol=1000", surgesim="0.1"),
        asked_margin_percent=ASKED,
        axes=axes,
        not_assessed=(Unassessed(equipment="AC port", place="barn", reason="no AC side"),),
        assumptions=("arrester leads: 1 uH/m (common practice, no source)",),
        claims=tuple(claims),
    )


class Made:
    """The makers above, for tests."""

    terminal = staticmethod(make_terminal)
    arrester = staticmethod(make_arrester)
    case = staticmethod(make_case)
    failure = staticmethod(make_failure)
    study = staticmethod(make_study)


@pytest.fixture(scope="session")
def made() -> type[Made]:
    return Made


@pytest.fixture(scope="session")
def dairy_study() -> Callable[[], tuple[StudyInfo, list[dict[str, Any]]]]:
    """Nothing, one or both fitted, two cards, dry and wet rods."""

    def build() -> tuple[StudyInfo, list[dict[str, Any]]]:
        study = make_study(
            alternatives={
                "fitted": ["none", "array only", "both"],
                "card": ["class II", "class I"],
            },
            worst_of={"array earth": ["wet", "dry"]},
        )
        cases, number = [], 0
        for fitted, peak in (("none", None), ("array only", 8e3), ("both", 2.3e3)):
            for card in (None,) if fitted == "none" else ("class II", "class I"):
                for rods, factor in (("wet", 1.0), ("dry", 1.5)):
                    number += 1
                    share = 2.4 * factor if (fitted, card) == ("both", "class II") else 0.3
                    gone = ["array box, plus to pe: charge 2.4 x rating"] if share > 1 else []
                    volts = None if peak is None else peak * factor
                    cases.append(
                        make_case(
                            number,
                            {"fitted": fitted, "card": card, "array earth": rods},
                            make_terminal(volts, conditions=gone),
                            make_terminal(
                                900.0,
                                equipment="modules",
                                pair="plus to frame",
                                limit=8e3,
                                origin="guess",
                                conditions=gone,
                            ),
                            arresters=[] if fitted == "none" else [make_arrester(share)],
                        )
                    )
        return study, cases

    return build
