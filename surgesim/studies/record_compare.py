"""Claimed against found: a case of a record's findings beside the same case run again.

Numbers are held to stated tolerances, what was given must be the same, verdicts must be equal.
A verdict may differ where the number it turns on lies within its tolerance of the threshold:
then either answer is a right one, and it is said that it was so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from types import MappingProxyType
from typing import Any

from surgesim.studies.crosscheck_tally import is_knife_edge
from surgesim.studies.worst import Record

REPRODUCED, EDGE, DIFFERS, NO_RESULT = "reproduced", "at a threshold", "differs", "no result"
MET, NOT_MET = "met", "not met"

FLOOR = 0.01
"""A number below this share of what it stands beside is held to the tolerance of that share:
what is left of two cancelling kilovolts is no number to agree on in percent. A voltage, current
or charge stands beside the largest of the case, a share of a rating beside the whole rating, an
electrode's charge also beside the surge's own, an arrester's also beside the one it is rated for,
its W/R beside the surge's, its energy beside that of the largest of these charges at its voltage.
What is left of a charge or an energy that came and went is held to all of what came and went."""

OUTCOME = ("terminals", "arresters", "earths")
"""What each outcome of a knife-edge has of its own."""

SAME_INPUT = 1e-6
"""Numbers that were given, or follow from what was given by arithmetic alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Largest differences, as shares of the claimed number, and why they are what they are."""

    number: float
    squared: float
    flashover: float
    why: str


SAME_ENGINE = Tolerances(
    number=0.005,
    squared=0.01,
    flashover=0.02,
    why=(
        "Half a percent of peaks and charges is what the steps are chosen for and the energy of"
        " a result must close within; another build of the engine places its steps otherwise"
        " within that. Energies go with the square. Insulation is read one step before it fires,"
        " and a steep front rises by up to two percent in a step."
    ),
)
SECOND_SOLVER = Tolerances(
    number=0.01,
    squared=0.02,
    flashover=0.02,
    why=(
        "Two solvers that share nothing may each be off by half a percent, so that they agree"
        " within one. Energies go with the square. Insulation is read one step before it fires,"
        " and a steep front rises by up to two percent in a step."
    ),
)

_VOLTS, _AMPS, _CHARGE, _ENERGY, _HEAT = "V", "A", "C", "J", "J/ohm"
_SHARE = "rating"
NO_CRESTS: Mapping[str, float] = MappingProxyType({})
_Key = tuple[str, ...]

_WORDS = {
    "peak_v": "peak",
    "peak_a": "peak",
    "to_bar_v": "voltage to its bar",
    "to_remote_earth_v": "voltage to remote earth",
    "bias_v": "voltage before the surge",
    "standing_v": "voltage before the surge",
    "fired_v": "voltage at which it fired",
    "residual_v": "residual voltage",
    "charge_c": "charge",
    "net_charge_c": "net charge",
    "energy_j": "energy",
    "specific_energy_j_per_ohm": "W/R",
    "rise_v": "rise",
}
"""Keys of the findings in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number of a case: what it is, its unit, and the field of the tolerances it has.

    ``beside`` is what it is large or small beside; None for the largest of its unit.
    """

    what: str
    unit: str
    value: float
    tolerance: str = "number"
    beside: float | None = None


def compare_case(
    claimed: Record,
    found: Record,
    tolerances: Tolerances,
    *,
    opposite: Mapping[str, float] = NO_CRESTS,
) -> dict[str, Any]:
    """How a case was reproduced: its status, its largest difference, all that differ.

    ``opposite`` are the crests of the other sign of what was found, between different solvers.
    """
    edges = list(_edges(claimed, found, tolerances))
    verdicts = list(_verdicts(claimed, found, edges, tolerances))
    numbers = list(numbers_beside(claimed, found, tolerances, opposite=opposite))
    given = [*_given(claimed, found), *_does_not_follow(claimed)]
    beyond = [item for item in numbers if item["status"] == DIFFERS]
    wrong = [*given, *(item["what"] for item in verdicts if not item["edge"])]
    # where insulation may as well fire as not, every number of the case is that of one outcome
    status = DIFFERS if wrong or (beyond and not edges) else REPRODUCED
    # which of its outcomes a knife-edge comes to says nothing, and its verdict is the worst one's
    edges += _knife_edge(claimed)
    if status == REPRODUCED and (edges or verdicts):
        status = EDGE
    largest = max(numbers, key=lambda item: abs(item["difference_percent"] or 0.0), default=None)
    return {
        "id": claimed["id"],
        "axes": claimed["axes"],
        "surge": claimed["surge"],
        "status": status,
        "compared": len(numbers),
        "largest_difference": largest,
        "numbers": beyond,
        "verdicts": verdicts,
        "edges": edges,
        "given": given,
        "reason": "",
    }


def compare_outcomes(
    claimed: Record,
    found: Record,
    tolerances: Tolerances,
    *,
    opposite: Mapping[str, float] = NO_CRESTS,
) -> dict[str, Any]:
    """As :func:`compare_case`; a knife-edge is reproduced by any of its outcomes.

    An outcome for which levels were moved is met within that much more.
    """
    first = compare_case(claimed, found, tolerances, opposite=opposite)
    if first["status"] != DIFFERS or not is_knife_edge(claimed):
        return first
    for other in claimed["crosscheck"]["others"]:
        more = max((abs(percent) / 100.0 for percent in other["moved_percent"].values()), default=0)
        outcome = {**claimed, **{key: other[key] for key in OUTCOME}}
        again = compare_case(outcome, found, widened(tolerances, more), opposite=opposite)
        if again["status"] != DIFFERS:
            return again
    return first


def widened(tolerances: Tolerances, more: float) -> Tolerances:
    """For levels moved by a share ``more``: what hangs on a level moves as much, energies twice."""
    return replace(
        tolerances,
        number=tolerances.number + more,
        squared=tolerances.squared + 2.0 * more,
        flashover=tolerances.flashover + more,
    )


def numbers_beside(
    claimed: Record,
    found: Record,
    tolerances: Tolerances,
    *,
    opposite: Mapping[str, float] = NO_CRESTS,
) -> Iterator[dict[str, Any]]:
    """Every number of both cases beside each other.

    Where the two solvers' crests have different signs, and the crest of the other sign that
    ``opposite`` gives is within the tolerance as large as the one found, that one is compared:
    either is the larger within what the solvers agree on.
    """
    there = {number.what: number for number in numbers_of(found)}
    mine = list(numbers_of(claimed))
    largest: dict[str, float] = {}
    for number in mine:
        largest[number.unit] = max(largest.get(number.unit, 0.0), abs(number.value))
    for number in mine:
        other = there.pop(number.what, None)
        share = getattr(tolerances, number.tolerance)
        beside = largest[number.unit] if number.beside is None else number.beside
        scale = max(abs(number.value), FLOOR * beside)
        yield _item(number, _as_signed(number, other, share, opposite), share, scale)
    for other in there.values():
        yield {**_item(other, other, 0.0, 0.0), "claimed": None, "status": DIFFERS}


def _as_signed(
    number: Number, other: Number | None, share: float, opposite: Mapping[str, float]
) -> Number | None:
    """The other number, or its crest of the other sign where that may as well be the larger."""
    if other is None or number.value * other.value >= 0.0:
        return other
    crest = opposite.get(number.what, 0.0)
    twin = abs(abs(crest) - abs(other.value)) <= share * abs(other.value)
    return replace(other, value=crest) if twin else other


def _item(number: Number, other: Number | None, share: float, scale: float) -> dict[str, Any]:
    difference = None if other is None else other.value - number.value
    percent = None
    if difference is not None and scale > 0.0:
        percent = 100.0 * difference / scale
    within = difference is not None and abs(difference) <= share * scale
    return {
        "what": number.what,
        "unit": number.unit,
        "claimed": number.value,
        "reproduced": None if other is None else other.value,
        "difference_percent": percent if percent is None or math.isfinite(percent) else None,
        "tolerance_percent": 100.0 * share,
        "status": REPRODUCED if within else DIFFERS,
    }


def in_words(what: str) -> str:
    """``inverter, plus to pe: peak_v`` in words."""
    name, separator, key = what.rpartition(": ")
    return f"{name}{separator}{_WORDS.get(key, key)}"


def numbers_of(case: Record) -> Iterator[Number]:
    """The numbers of a case that are compared: voltages, currents, charges, energies, shares.

    Times are not among them: the moment of a flat crest means little.
    """
    for terminal in case["terminals"]:
        name = f"{terminal['equipment']}, {terminal['pair']}"
        for key in ("peak_v", "to_bar_v", "to_remote_earth_v", "bias_v"):
            yield from _number(f"{name}: {key}", _VOLTS, terminal[key])
        fired = (terminal["insulation"] or {}).get("fired_v")
        yield from _number(f"{name}: fired_v", _VOLTS, fired, tolerance="flashover")
    for arrester in case["arresters"]:
        yield from _numbers_of_arrester(arrester, case)
    for earth in case["earths"]:
        yield from _number(f"{earth['name']}: rise_v", _VOLTS, earth["rise_v"])
        yield from _number(f"{earth['name']}: peak_a", _AMPS, earth["peak_a"])
        charges = [each["charge_c"] for each in (*case["arresters"], *case["earths"])]
        # of a surge that only induces, an electrode carries no more than the ringing
        whole = max(*charges, case["surge_figures"]["charge_c"] or 0.0)
        what = f"{earth['name']}: charge_c"
        yield from _number(what, _CHARGE, earth["charge_c"], beside=whole)


def _numbers_of_arrester(arrester: Record, case: Record) -> Iterator[Number]:
    name = f"{arrester['name']}, {arrester['element']}"
    yield from _number(f"{name}: peak_a", _AMPS, arrester["peak_a"])
    charges = [record["charge_c"] for record in (*case["arresters"], *case["earths"])]
    share = arrester["shares"]["charge"]
    borne = max(*charges, arrester["charge_c"] / share if share else 0.0)
    yield from _number(f"{name}: charge_c", _CHARGE, arrester["charge_c"], beside=borne)
    # what is left of charge that came and went is known no closer than what came and went
    whole = max(borne, arrester["charge_c"] / FLOOR)
    yield from _number(f"{name}: net_charge_c", _CHARGE, arrester["net_charge_c"], beside=whole)
    for key in ("residual_v", "standing_v"):
        yield from _number(f"{name}: {key}", _VOLTS, arrester[key])
    for key, unit, beside in (
        ("energy_j", _ENERGY, abs(arrester["residual_v"]) * whole),
        ("specific_energy_j_per_ohm", _HEAT, case["surge_figures"]["specific_energy_j_per_ohm"]),
    ):
        yield from _number(
            f"{name}: {key}", unit, arrester[key], tolerance="squared", beside=beside
        )
    for key, share in arrester["shares"].items():
        yield from _number(f"{name}: share {key}", _SHARE, share, tolerance="squared", beside=1.0)


def _number(
    what: str,
    unit: str,
    value: float | None,
    *,
    tolerance: str = "number",
    beside: float | None = None,
) -> Iterator[Number]:
    if value is not None:
        yield Number(
            what=what, unit=unit, value=float(value), tolerance=tolerance, beside=beside
        )  # fmt: skip


# --- what must be the same --------------------------------------------------------------------


def _given(claimed: Record, found: Record) -> Iterator[str]:
    """What is not as the scenario gives it: things, limits, ratings, the surge."""
    for section, keys in _SAME.items():
        mine = {_key(section, record): record for record in claimed[section]}
        theirs = {_key(section, record): record for record in found[section]}
        if list(mine) != list(theirs):
            yield f"not the same {section}"
            continue
        for key, record in mine.items():
            for name in keys:
                if not same_data(record[name], theirs[key][name], within=SAME_INPUT):
                    yield f"{', '.join(key)}: {name}"
    for name, value in claimed["surge_figures"].items():
        if not same_data(value, found["surge_figures"].get(name), within=SAME_INPUT):
            yield f"surge {claimed['surge']}: {name}"


_SAME: Mapping[str, tuple[str, ...]] = {
    "terminals": ("place", "withstand_v", "limit", "asked_percent"),
    "arresters": ("card", "place", "class", "basis"),
    "earths": ("place", "resistance_ohm", "from_shape_ohm"),
}


def _key(section: str, record: Record) -> _Key:
    if section == "terminals":
        return record["equipment"], record["pair"]
    return (record["name"], record["element"]) if section == "arresters" else (record["name"],)


def _does_not_follow(case: Record) -> Iterator[str]:
    """Numbers of a case that are not what its own other numbers make them."""
    for terminal in case["terminals"]:
        name = f"{terminal['equipment']}, {terminal['pair']}"
        peak, ratio = terminal["peak_v"], terminal["ratio"]
        followed = None if not peak else terminal["withstand_v"] / abs(peak)
        if followed is not None and not math.isfinite(followed):
            followed = None
        if not same_data(ratio, followed, within=SAME_INPUT):
            yield f"{name}: ratio does not follow from the peak"
        margin = None if ratio is None else 100.0 * (ratio - 1.0)
        if not same_data(terminal["margin_percent"], margin, within=SAME_INPUT):
            yield f"{name}: margin_percent does not follow from the ratio"
    for arrester in case["arresters"]:
        share = arrester["shares"].get(arrester["rated_by"])
        if not same_data(arrester["share_of_rating"], share, within=SAME_INPUT):
            name = f"{arrester['name']}, {arrester['element']}"
            yield f"{name}: share_of_rating is none of its shares"


def same_data(one: Any, other: Any, *, within: float) -> bool:
    """Whether two pieces of plain data are equal, numbers within a share of their size."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=within, abs_tol=1e-300)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(
            same_data(one[key], other[key], within=within) for key in one
        )
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(
            same_data(a, b, within=within) for a, b in zip(one, other, strict=True)
        )
    return bool(one == other)


# --- verdicts ---------------------------------------------------------------------------------


def _edges(claimed: Record, found: Record, tolerances: Tolerances) -> Iterator[str]:
    """Insulation that fired in the record and only just did not here.

    Only what was found here counts: that a record claims to have stayed just below a level is
    no reason to let its other numbers pass.
    """
    for mine, theirs in _pairs(claimed, found, "terminals"):
        peak = theirs["peak_v"]
        if _fired(mine) and not _fired(theirs) and peak is not None:
            level = (mine["insulation"] or {})["level_v"]
            if _near(peak, level, tolerances.flashover):
                yield f"{mine['equipment']}, {mine['pair']}: insulation at its level"


def _knife_edge(claimed: Record) -> Iterator[str]:
    if is_knife_edge(claimed):
        yield "a knife-edge: more than one outcome is legitimate"


def _verdicts(
    claimed: Record, found: Record, edges: Sequence[str], tolerances: Tolerances
) -> Iterator[dict[str, Any]]:
    """Each verdict that differs, and whether either answer is right."""
    devices = []
    for mine, theirs in _pairs(claimed, found, "arresters"):
        if mine["verdict"] != theirs["verdict"]:
            name = f"{mine['name']}, {mine['element']}"
            devices.append(_verdict(name, mine, theirs, _at_rating(mine, theirs, tolerances)))
    yield from devices
    # what fails first in a case is at an edge if each of the things that differ is
    elsewhere = bool(edges) or (bool(devices) and all(device["edge"] for device in devices))
    for mine, theirs in _pairs(claimed, found, "terminals"):
        if mine["verdict"] == theirs["verdict"] and _fired(mine) == _fired(theirs):
            continue
        name = f"{mine['equipment']}, {mine['pair']}"
        edge = _at_limit(mine, theirs, tolerances) or any(e.startswith(f"{name}:") for e in edges)
        if bool(mine["conditional_on"]) != bool(theirs["conditional_on"]):
            edge = elsewhere
        yield _verdict(name, mine, theirs, edge or bool(edges))


def _verdict(what: str, mine: Record, theirs: Record, edge: bool) -> dict[str, Any]:  # noqa: FBT001
    return {"what": what, "claimed": _said(mine), "reproduced": _said(theirs), "edge": edge}


def _said(record: Record) -> str:
    fired = "insulation" in record and _fired(record)
    return f"{record['verdict']}, insulation fired" if fired else str(record["verdict"])


def _at_rating(mine: Record, theirs: Record, tolerances: Tolerances) -> bool:
    shares = (*mine["shares"].values(), *theirs["shares"].values())
    return any(share is not None and _near(share, 1.0, tolerances.squared) for share in shares)


def _at_limit(mine: Record, theirs: Record, tolerances: Tolerances) -> bool:
    limits = (mine["withstand_v"], mine["withstand_v"] / (1.0 + mine["asked_percent"] / 100.0))
    peaks = [record["peak_v"] for record in (mine, theirs) if record["peak_v"] is not None]
    return any(_near(peak, limit, tolerances.number) for peak in peaks for limit in limits)


def _near(value: float, threshold: float, share: float) -> bool:
    return bool(abs(abs(value) - threshold) <= share * threshold)


def _fired(terminal: Record) -> bool:
    return bool(terminal["insulation"] and terminal["insulation"]["fired"])


def _pairs(claimed: Record, found: Record, section: str) -> Iterator[tuple[Record, Record]]:
    theirs = {_key(section, record): record for record in found[section]}
    for mine in claimed[section]:
        if (key := _key(section, mine)) in theirs:
            yield mine, theirs[key]


# --- the whole --------------------------------------------------------------------------------


def compare_alternatives(
    claimed: Iterable[Record], found: Iterable[Record], cases: Iterable[Record]
) -> list[dict[str, Any]]:
    """Each alternative of the summary: claimed and reproduced verdict and worst terminal.

    ``cases`` are the compared cases; a verdict that differs is at a threshold if it rests on
    cases that are.
    """
    theirs = {_levels(entry): entry for entry in found}
    statuses = {case["id"]: case["status"] for case in cases}
    entries = []
    for mine in claimed:
        other = theirs.pop(_levels(mine), None)
        entries.append(_alternative(mine, other, statuses))
    return [*entries, *(_alternative(None, other, statuses) for other in theirs.values())]


def _levels(entry: Record) -> _Key:
    return tuple(f"{axis}={level}" for axis, level in entry["axes"].items())


def _alternative(
    mine: Record | None, other: Record | None, statuses: Mapping[str, str]
) -> dict[str, Any]:
    entry = mine or other or {}
    status = DIFFERS
    if mine is not None and other is not None:
        rests_on = {record["worst"]["case"] for record in (mine, other) if record["worst"]}
        edge = any(statuses.get(case) == EDGE for case in rests_on)
        same = mine["verdict"] == other["verdict"]
        status = REPRODUCED if same else EDGE if edge else DIFFERS
    return {
        "axes": entry["axes"],
        "claimed": _worst(mine),
        "reproduced": _worst(other),
        "status": status,
    }


def _worst(entry: Record | None) -> dict[str, Any] | None:
    if entry is None:
        return None
    worst = entry["worst"] or {}
    keys = ("equipment", "pair", "peak_v", "withstand_v", "margin_percent", "surge", "case")
    return {"verdict": entry["verdict"], **{key: worst.get(key) for key in keys}}


def compare_claims(
    claimed: Iterable[Record], found: Iterable[Record], tolerances: Tolerances
) -> list[dict[str, Any]]:
    """Each claim of the author: the margin asked, claimed and reproduced, and whether it is met.

    Met or not is what the cases run here say; near the margin asked either answer is right.
    """
    recorded = {claim["name"]: claim for claim in claimed}
    return [_claim(recorded.get(claim["name"]), claim, tolerances) for claim in found]


def _claim(mine: Record | None, found: Record, tolerances: Tolerances) -> dict[str, Any]:
    margin = found["found_percent"]
    slack = tolerances.number * (100.0 + found["asked_percent"])
    near = margin is not None and abs(margin - found["asked_percent"]) <= slack
    status = MET if found["met"] else NOT_MET
    if mine is not None and mine["met"] != found["met"] and near:
        status = EDGE
    return {
        "name": found["name"],
        "axes": found["axes"],
        "equipment": found["equipment"],
        "pair": found["pair"],
        "asked_percent": found["asked_percent"],
        "claimed_percent": mine["found_percent"] if mine else None,
        "claimed_met": mine["met"] if mine else None,
        "reproduced_percent": margin,
        "reproduced_met": found["met"],
        "status": status,
    }


def tolerances_as_json(tolerances: Tolerances) -> dict[str, Any]:
    """As percentages, with the reason."""
    plain = asdict(tolerances)
    why = plain.pop("why")
    return {**{f"{key}_percent": 100.0 * value for key, value in plain.items()}, "why": why}
