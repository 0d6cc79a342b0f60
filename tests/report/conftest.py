"""A findings object of an invented dairy barn, as the report would get it: numbers made up."""

from __future__ import annotations

import copy
import itertools
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from rich.cells import cell_len

Findings = dict[str, Any]

SURGES = {
    "frame struck, first stroke share": {
        "formula": "Heidler", "peak": 5e3, "unit": "A", "t1_s": 10e-6, "t2_s": 350e-6,
        "charge_c": 2.5, "specific_energy_j_per_ohm": 6250.0, "steepest_per_s": 8.1e8,
        "generator": None,
    },
    "frame struck, steep share": {
        "formula": "Heidler", "peak": 2.5e3, "unit": "A", "t1_s": 1e-6, "t2_s": 200e-6,
        "charge_c": 0.72, "specific_energy_j_per_ohm": 900.0, "steepest_per_s": 4.1e9,
        "generator": None,
    },
}  # fmt: skip
FITTED = {
    "none": [],
    "array only": ["array box"],
    "barn only": ["inverter"],
    "both": ["array box", "inverter"],
}
CARDS = ["class II", "class I"]
BONDS = ["none", "in the duct"]
RODS = ["wet", "dry"]
PAIRS = [  # equipment, pair, place, limit, kind, origin, insulation level
    ("inverter DC input", "plus to pe", "barn wall", 6e3, "withstand", "table", 12e3),
    ("inverter DC input", "minus to pe", "barn wall", 6e3, "withstand", "table", 12e3),
    ("inverter DC input", "plus to minus", "barn wall", 1100.0, "highest voltage", "guess", None),
    ("modules", "plus to frame", "array", 8e3, "withstand", "guess", 10e3),
    ("modules", "minus to frame", "array", 8e3, "withstand", "guess", 10e3),
]
CAUTIONS = [
    "A simulation, not a design approval: computed margins under the listed assumptions.",
    "PV conductors are live whenever there is light. Do not work at arrays, boards, rods or "
    "bonds during thunderstorms.",
]
ASKED = 25.0
INVARIANTS = {  # worst figure, limit, unit
    "complete": (0.0, 0.0, "missing"),
    "steps": (1.0, 1.000001, "share"),
    "standing": (1e-3, 0.4, "V"),
    "charge_balance": (2e-5, 1e-3, "share"),
    "remote_earth": (1e-6, 1e-3, "share"),
    "voltage_balance": (1e-4, 5e-3, "share"),
    "energy": (9e-4, 5e-3, "share"),
    "peaks": (0.0, 0.01, "share"),
    "charge_to_come": (7e-3, 0.02, "share"),
}


@pytest.fixture
def dairy() -> Findings:
    """The dairy: 14 alternatives, two surges, worst of wet and dry array rods."""
    return build_dairy()


@pytest.fixture(scope="session")
def kit() -> SimpleNamespace:
    """The builders, for tests that need other findings than the dairy's."""
    return SimpleNamespace(
        assemble=assemble,
        build_dairy=build_dairy,
        build_many=build_many,
        build_single=build_single,
        rate=rate,
        swap=swap,
        fire=fire,
        assert_fits=assert_fits,
    )


def build_dairy() -> Findings:
    axes = {
        "fitted": {"role": "alternative", "levels": list(FITTED)},
        "card": {"role": "alternative", "levels": CARDS},
        "bond": {"role": "alternative", "levels": BONDS},
        "array earth": {"role": "worst of", "levels": RODS},
    }
    cases: list[Findings] = []
    for fitted, card, bond in itertools.product(FITTED, CARDS, BONDS):
        if not FITTED[fitted] and card != CARDS[0]:
            continue
        for surge, rods in itertools.product(SURGES, RODS):
            levels = {
                "fitted": fitted,
                "card": card if FITTED[fitted] else None,
                "bond": bond,
                "array earth": rods,
            }
            cases.append(_case(f"c{len(cases) + 1:04d}", levels, surge))
    return assemble(axes, cases)


def build_many(count: int) -> Findings:
    """So many alternatives with long names, the dairy's cases behind them."""
    levels = [
        f"arrester on the busbar of sub-board number {i}, south wall of the barn"[:60]
        for i in range(count // 2)
    ]
    axes = {
        "placement": {"role": "alternative", "levels": levels},
        "lead": {"role": "alternative", "levels": ["0.3 m", "1.2 m"]},
        "array earth": {"role": "worst of", "levels": RODS},
    }
    kinds = list(itertools.product(FITTED, CARDS, BONDS))
    cases: list[Findings] = []
    for number, (placement, lead) in enumerate(itertools.product(levels, axes["lead"]["levels"])):
        fitted, card, bond = kinds[number % len(kinds)]
        for surge, rods in itertools.product(SURGES, RODS):
            like = {"fitted": fitted, "card": card, "bond": bond, "array earth": rods}
            case = _case(f"c{len(cases) + 1:04d}", like, surge)
            for terminal in case["terminals"]:
                if terminal["peak_v"] is not None:
                    terminal["peak_v"] *= 1.0 + 0.01 * number
                    rate(terminal)
            case["axes"] = {"placement": placement, "lead": lead, "array earth": rods}
            cases.append(case)
    return assemble(axes, cases)


def build_single() -> Findings:
    """The dairy as one wiring without alternatives, both arresters and the bond in."""
    axes = {"array earth": {"role": "worst of", "levels": RODS}}
    cases: list[Findings] = []
    for surge, rods in itertools.product(SURGES, RODS):
        like = {"fitted": "both", "card": "class I", "bond": "in the duct", "array earth": rods}
        case = _case(f"c{len(cases) + 1:04d}", like, surge)
        case["axes"] = {"array earth": rods}
        cases.append(case)
    return assemble(axes, cases)


def swap(findings: Findings, one: int, other: int) -> Findings:
    """The findings with everything found for two alternatives exchanged, their names kept."""
    swapped = copy.deepcopy(findings)
    first, second = swapped["summary"][one], swapped["summary"][other]
    for key in ("verdict", "worst", "terminals", "arresters", "failed_cases"):
        first[key], second[key] = second[key], first[key]
    return swapped


def fire(terminal: Findings, level: float, at: float) -> Findings:
    """The terminal record with its own insulation fired."""
    terminal["insulation"] = {"level_v": level, "fired": True, "fired_at_s": at, "fired_v": level}
    for name in ("peak_v", "time_s", "above_half_s", "window", "to_bar_v", "to_remote_earth_v"):
        terminal[name] = None
    return rate(terminal)


def assert_fits(text: str, width: int = 80) -> None:
    """No line wider than the page, nothing cut off, no escape code."""
    assert "\x1b" not in text
    assert "\u2026" not in text
    wide = [line for line in text.splitlines() if cell_len(line) > width]
    assert not wide


def assemble(axes: Findings, cases: list[Findings], **parts: Any) -> Findings:
    """A findings object around cases: fills in the summary and the rest of the contract."""
    findings: Findings = {
        "schema": "surgesim.findings/1",
        "scenario": {
            "title": "Brackenmoss dairy barn",
            "question": "One arrester at the array, one at the inverter, or both; "
            "with and without a bond in the trench?",
            "file": "brackenmoss-dairy.yaml",
            "hash": "0f3a",
        },
        "engine": {"name": "ngspice", "version": "39", "options": "", "surgesim": "0.1"},
        "asked_margin_percent": ASKED,
        "axes": axes,
        "cases": cases,
        "failures": [],
        "not_assessed": [
            {"equipment": "AC port", "place": "barn wall", "reason": "no AC side described"},
            {
                "equipment": "parlour controller",
                "place": "parlour",
                "reason": "its supply is not described",
            },
        ],
        "assumptions": [
            "arrester leads: 1 uH/m (common practice, no source)",
            "modules: 155 nF a pole to frame (guess)",
        ],
        "claims": [],
        "summary": _summary(axes, cases),
        "influence": None,
        "failed_arresters": None,
        "breakdown": None,
        "cautions": CAUTIONS,
    }
    findings.update(parts)
    return findings


def verdict_of(ratio: float | None, conditions: list[str], asked: float = ASKED) -> str:
    """The verdict the findings would give; ratio None: the pair's own insulation fired."""
    if ratio is None or ratio < 1.0:
        return "exceeded"
    if conditions:
        return "void"
    return "holds" if 100.0 * (ratio - 1.0) >= asked else "thin"


def rate(terminal: Findings) -> Findings:
    """Fills in ratio, margin and verdict from peak, limit and conditions."""
    peak = terminal["peak_v"]
    ratio = None if peak is None else terminal["withstand_v"] / abs(peak)
    terminal["ratio"] = ratio
    terminal["margin_percent"] = None if ratio is None else 100.0 * (ratio - 1.0)
    terminal["asked_percent"] = ASKED
    asked = ASKED if terminal["limit"]["kind"] == "withstand" else 0.0
    terminal["asked_percent"] = asked
    terminal["verdict"] = verdict_of(ratio, terminal["conditional_on"], asked)
    return terminal


def _case(case_id: str, levels: Findings, surge: str) -> Findings:
    slots = FITTED[levels["fitted"]]
    arresters = [
        _element(slot, element, levels, surge)
        for slot in slots
        for element in ("plus to pe", "minus to pe")
    ]
    prospective = {pair[:2]: _prospective(pair, levels, surge) for pair in PAIRS}
    flashed = [pair for pair in PAIRS if pair[6] and prospective[pair[:2]] > pair[6]]
    beyond = [
        f"{a['name']}, {a['element']}: {a['rated_by']} {a['share_of_rating']:.2g} x rating"
        for a in arresters
        if a["verdict"] == "exceeded"
    ]
    terminals = []
    for pair in PAIRS:
        elsewhere = [
            f"{other[0]}, {other[1]}: flashed over at 0.61 us"
            for other in flashed
            if other[0] != pair[0]
        ]
        # Once the modules have flashed over, most of the rise no longer reaches the barn.
        relief = 0.6 if elsewhere and slots == ["inverter"] and " pe" in pair[1] else 1.0
        voltage = prospective[pair[:2]] * relief
        terminals.append(_terminal(pair, voltage, pair in flashed, [*elsewhere, *beyond]))
    return {
        "id": case_id,
        "axes": levels,
        "surge": surge,
        "surge_figures": SURGES[surge],
        "terminals": terminals,
        "arresters": arresters,
        "modes": [],
        "earths": [
            _earth("array rods", "array", 30.0 if levels["array earth"] == "wet" else 70.0, surge),
            _earth("barn foundation", "main board", 9.0, surge),
        ],
        "split": None,
        "energy_closure": {"front": 0.0004, "tail": 0.0009},
        "invariants": {
            name: {"worst": worst, "limit": limit, "unit": unit, "where": "the tail window"}
            for name, (worst, limit, unit) in INVARIANTS.items()
        },
        "windows": {
            "front": {"step_s": 8e-9, "stop_s": 12e-6, "points": 1740, "lumped": []},
            "tail": {"step_s": 0.5e-6, "stop_s": 2.5e-3, "points": 5012, "lumped": ["field run"]},
        },
        "notes": [],
        "certification": [],
        "crosscheck": None,
    }


def _prospective(pair: tuple[Any, ...], levels: Findings, surge: str) -> float:
    """Voltage the pair would see without breaking down, V: invented, the right order."""
    equipment, name, *_ = pair
    steep = "steep" in surge
    bonded = levels["bond"] != "none"
    slots = FITTED[levels["fitted"]]
    dry = 1.15 if levels["array earth"] == "dry" else 1.0
    minus = 0.96 if name.startswith("minus") else 1.0
    if name == "plus to minus":
        return 824.0 * (1.0 if "inverter" in slots else 1.04) + (9.0 if steep else 2.0)
    if equipment == "modules":
        if "array box" in slots:
            return minus * (3.4e3 if steep else 2.2e3)
        return minus * dry * (31e3 if steep else 7.2e3 if bonded else 90e3)
    if "inverter" in slots:
        return minus * (4.4e3 if steep else 2.1e3) * (1.08 if slots == ["inverter"] else 1.0)
    bare = (39.5e3 if steep else 8.3e3) if bonded else 166e3
    return minus * dry * bare * (0.14 if slots and bonded else 1.1 if slots else 1.0)


def _terminal(
    pair: tuple[Any, ...], voltage: float, flashed: bool, conditions: list[str]
) -> Findings:
    equipment, name, place, limit, kind, origin, level = pair
    insulation = None
    sign = -1.0 if name.startswith("minus") else 1.0
    if level:
        at = 0.61e-6 if flashed else None
        insulation = {
            "level_v": level,
            "fired": flashed,
            "fired_at_s": at,
            "fired_v": sign * level if flashed else None,
        }
    return rate(
        {
            "equipment": equipment,
            "pair": name,
            "place": place,
            "peak_v": None if flashed else sign * voltage,
            "time_s": None if flashed else 1.34e-6,
            "window": None if flashed else "front",
            "above_half_s": None if flashed else 62e-6,
            "bias_v": 874.0 if name == "plus to minus" else sign * 437.0,
            "withstand_v": limit,
            "limit": {
                "kind": kind,
                "origin": origin,
                "where": "IEC 62109-1 Table 16" if origin == "table" else "",
            },
            "to_bar_v": None if flashed else sign * voltage,
            "to_remote_earth_v": None if flashed else sign * voltage * 3.1,
            "insulation": insulation,
            "conditional_on": conditions,
            "numerical_error": error(peak_v=0.31, to_bar_v=0.31, to_remote_earth_v=0.12),
            "could_be": [],
        }
    )


def error(**percent: float | None) -> Findings:
    """A numerical error as every value of these findings has one."""
    return {"how": "estimated", "percent": percent}


def _element(slot: str, element: str, levels: Findings, surge: str) -> Findings:
    bonded = levels["bond"] != "none"
    alone = 0.7 if len(FITTED[levels["fitted"]]) == 1 else 1.0
    charge = (0.011 if bonded else 0.83) * (1.0 if "first" in surge else 0.22) * alone
    peak = (430.0 if bonded else 1780.0) * (1.0 if "first" in surge else 0.8) * alone
    rated = 0.35 if levels["card"] == "class II" else 6.2
    shares = {
        "peak": peak / 2e4,
        "charge": charge / rated,
        "specific_energy": 0.4 * charge / rated,
        "continuous": 0.437,
    }
    pulse = {name: share for name, share in shares.items() if name != "continuous"}
    by = max(pulse, key=lambda name: pulse[name])
    return {
        "name": slot,
        "element": element,
        "card": f"pv 1000 {levels['card']}",
        "place": "array" if slot == "array box" else "barn wall",
        "class": levels["card"],
        "peak_a": -peak,
        "time_s": 11e-6,
        "charge_c": charge,
        "net_charge_c": -charge,
        "energy_j": charge * 2100.0,
        "specific_energy_j_per_ohm": peak * charge / 1.4,
        "residual_v": -2140.0,
        "standing_v": 437.0,
        "series": [],
        "shares": {**shares, "in_series": None, "follow_current": None},
        "share_of_rating": shares[by],
        "rated_by": by,
        "basis": "charge equivalence, our own rule",
        "verdict": "exceeded" if shares[by] > 1.0 else "holds",
        "numerical_error": error(peak_a=0.4, residual_v=0.1, charge_c=0.2),
        "could_be": [],
        "discharge": None,
    }


def _earth(name: str, place: str, resistance: float, surge: str) -> Findings:
    current = 1.1e3 if "first" in surge else 640.0
    return {
        "name": name,
        "place": place,
        "resistance_ohm": resistance,
        "from_shape_ohm": None,
        "rise_v": current * resistance,
        "peak_a": current,
        "charge_c": current * 4.9e-4,
        "numerical_error": error(rise_v=0.1, peak_a=0.1, charge_c=0.05),
    }


_ORDER = ["holds", "thin", "void", "exceeded"]


def _bad(record: Findings) -> tuple[int, float]:
    ratio = record["ratio"]
    return _ORDER.index(record["verdict"]), float("inf") if ratio is None else -ratio


def _summary(axes: Findings, cases: list[Findings]) -> list[Findings]:
    alternatives = [name for name, axis in axes.items() if axis["role"] == "alternative"]
    worst_of = [name for name, axis in axes.items() if axis["role"] == "worst of"]
    groups: dict[tuple[Any, ...], list[Findings]] = {}
    for case in cases:
        groups.setdefault(tuple(case["axes"].get(a) for a in alternatives), []).append(case)
    summary = []
    for levels, members in groups.items():
        terminals = _worst_each(members, "terminals", ("equipment", "pair"), _bad, worst_of)
        worst = max(terminals, key=_bad)
        summary.append(
            {
                "axes": dict(zip(alternatives, levels, strict=True)),
                "verdict": worst["verdict"],
                "worst": worst,
                "terminals": terminals,
                "arresters": _worst_each(
                    members, "arresters", ("name", "element"), _share, worst_of
                ),
                "life": None,
                "failed_cases": 0,
            }
        )
    return summary


def _share(record: Findings) -> float:
    return float(record["share_of_rating"])


def _worst_each(
    cases: list[Findings],
    what: str,
    keys: tuple[str, str],
    bad: Callable[[Findings], Any],
    worst_of: list[str],
) -> list[Findings]:
    found: dict[tuple[Any, ...], Findings] = {}
    for case in cases:
        for record in case[what]:
            key = tuple(record[k] for k in keys)
            if key in found and bad(record) <= bad(found[key]):
                continue
            found[key] = {
                **record,
                "case": case["id"],
                "surge": case["surge"],
                "worst_of": {name: case["axes"].get(name) for name in worst_of},
            }
    return list(found.values())
