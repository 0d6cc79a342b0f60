"""Detailed tables of a run: terminals, arresters, earths, and how far to trust the numbers.

For each alternative the worst value over its cases, each with a letter for the case it came
from; ``render_case`` shows one case alone. Every table fits 80 columns: what does not fit beside
each other stands in a second table about the same things.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import duty, fates, numbers, sentences, split, surges
from surgesim.report.blocks import Page, bullet, hanging, heading, paragraph
from surgesim.report.comparison import who_else
from surgesim.report.gaps import discharges
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.housed import housed, worst_modes
from surgesim.report.numerical import marked, numerical, of_cases
from surgesim.report.view import CaseKey, Record, View, fired, join_words

Blocks = Iterator[RenderableType]

_DUTIES = {
    "peak": "peak",
    "charge": "charge",
    "specific_energy": "W/R",
    "continuous": "Uc",
    "in_series": "in series",
    "follow_current": "follow",
}
_TEST_TAIL = 50e-6  # s, time to half value of the 1.2/50 impulse (IEC 60060-1), from memory
_SEEN_FROM = ("to_bar_v", "to_remote_earth_v", "bias_v")


def render(findings: Record) -> RenderableType:
    """The tables of a run: for each alternative its worst values, then what limits them."""
    return Page(_run(View(findings)))


def render_case(findings: Record, case_id: str) -> RenderableType:
    """The tables of one case. ``KeyError`` when the findings hold no such case."""
    view = View(findings)
    case = view.case(case_id)
    if case is None:
        raise KeyError(case_id)
    return Page(_single_case(case, view))


def _run(view: View) -> Blocks:
    scenario = view.findings["scenario"]
    yield Text(str(scenario["title"]), style="bold")
    yield heading("Answer")
    yield paragraph(sentences.answer(view))
    for entry in view.entries:
        yield from _alternative(entry, view)
    yield from duty.shared(view)
    yield from surges.table(view)
    yield from numerical(view)
    yield from who_else(view)


def _alternative(entry: Record, view: View) -> Blocks:
    cases, key = view.cases_of(entry), CaseKey()
    if view.factors:
        yield heading(view.label(entry), aside=sentences.rank(entry), word=entry["verdict"])
    else:
        yield Text("")
    yield paragraph(sentences.alternative(entry, view))
    yield from fates.table(entry, view)
    terminals = [view.in_case(record) for record in entry["terminals"]]
    yield from _terminals(terminals, view, key, aside=_of_how_many(len(cases)))
    yield from _elsewhere(terminals, key)
    yield from _arresters(entry["arresters"], key)
    yield from housed(worst_modes(cases, view), key)
    yield from _earths(_worst_earths(cases, view), key)
    yield from split.of_alternative(cases, view, key)
    yield from _key(key)
    yield from _numerics(cases)


def _of_how_many(cases: int) -> str:
    return f"the worst of {cases} cases" if cases > 1 else "one case was run"


def _single_case(case: Record, view: View) -> Blocks:
    axes = ", ".join(f"{axis} {level}" for axis, level in case["axes"].items() if level is not None)
    terminals = [{**record, "case": case["id"]} for record in case["terminals"]]
    yield Text(f"Case {case['id']}: {case['surge']}", style="bold")
    yield paragraph(axes)
    yield paragraph(sentences.surge(case))
    yield from _terminals(terminals, view, None)
    yield from _elsewhere(terminals, None)
    yield from _arresters(case["arresters"], None)
    yield from housed(case["modes"], None)
    yield from _earths(case["earths"], None)
    yield from split.of_case(case)
    yield from of_cases([case])
    yield from _numerics([case])


def _terminals(
    records: Sequence[Record], view: View, key: CaseKey | None, *, aside: str = ""
) -> Blocks:
    if not records:
        return
    yield heading("Terminals", aside=aside)
    heads = ["pair", "verdict", "peak", "at", "> half", "limit", "margin", "Uw/Upk", *_in(key)]
    groups = [
        Rows(
            name=equipment,
            cells=[[*_terminal_cells(record), *_letter(record, key)] for record in members],
            notes=_stands_on(members, view),
        )
        for equipment, members in _by(records, "equipment")
    ]
    yield from grouped_table(heads, groups)
    if any(fired(record) for record in records):
        yield paragraph(
            "Where a pair's own insulation fires no peak is given; 'at' is when it fires."
        )
    if any(_outlasts_its_test(record) for record in records):
        yield paragraph(
            "A withstand is proved with 1.2/50; a voltage above half its peak for more than "
            "50 us stresses insulation longer than that."
        )


def _terminal_cells(record: Record) -> list[str]:
    """Pair, verdict, peak, when, how long above half, limit, margin, ratio.

    A void voltage has no margin to speak of: it stands on something that has failed.
    """
    void = record["verdict"] == "void"
    limit = numbers.stated(record["withstand_v"], "V")
    if fired(record):
        insulation = record["insulation"]
        fires = f"fires {numbers.stated(insulation['level_v'], 'V')}"
        at = numbers.quantity(insulation.get("fired_at_s"), "s")
        peak_at_half = [fires, at, numbers.ABSENT]
    else:
        at = numbers.quantity(record.get("time_s"), "s")
        peak_at_half = [_peak(record), at, numbers.quantity(record.get("above_half_s"), "s")]
    margin = numbers.ABSENT if void else numbers.margin(record["margin_percent"])
    ratio = numbers.ABSENT if void else numbers.ratio(record["ratio"])
    return [record["pair"], record["verdict"], *peak_at_half, limit, margin, ratio]


def _outlasts_its_test(record: Record) -> bool:
    """Whether a voltage stays above half longer than the 1.2/50 wave of a withstand test."""
    kind = (record.get("limit") or {}).get("kind")
    duration = record.get("above_half_s") or 0.0
    return kind == "withstand" and not fired(record) and duration > _TEST_TAIL


def _peak(record: Record) -> str:
    text = numbers.apart(record["peak_v"], record["withstand_v"], "V")
    return marked(f"+{text}" if record["peak_v"] > 0.0 else text, record, "peak_v")


def _stands_on(records: Sequence[Record], view: View) -> list[str]:
    """Why void voltages are void, each reason once; and which stand on a knife-edge."""
    reasons: dict[str, list[str]] = {}
    for record in records:
        if record["verdict"] == "void":
            elsewhere = sentences.failures_elsewhere(record, view, after="only after ")
            reasons.setdefault(elsewhere, []).append(record["pair"])
    notes = [f"{join_words(pairs, 'and')}: void, {why}." for why, pairs in reasons.items() if why]
    edges = [record["pair"] for record in records if view.knife_edge(record)]
    if edges:
        notes.append(f"{join_words(edges, 'and')}: knife-edge, the worse of its outcomes.")
    return notes


def _elsewhere(records: Sequence[Record], key: CaseKey | None) -> Blocks:
    """The same voltages seen from the bar and from far away, and where each limit comes from."""
    if not records:
        return
    yield heading("The same terminals to their bar and to remote earth")
    heads = ["pair", "to local bar", "to remote earth", "before the surge", *_in(key)]
    groups = []
    for equipment, members in _by(records, "equipment"):
        cells = [
            [
                record["pair"],
                *(
                    marked(numbers.signed(record.get(name), "V"), record, name)
                    for name in _SEEN_FROM
                ),
                *_letter(record, key),
            ]
            for record in members
        ]
        place = members[0].get("place")
        aside = f", at {place}" if place else ""
        groups.append(Rows(name=equipment, cells=cells, aside=aside, notes=_origins(members)))
    yield from grouped_table(heads, groups)


def _origins(records: Sequence[Record]) -> list[str]:
    by_text: dict[str, list[str]] = {}
    for record in records:
        limit = record.get("limit") or {}
        where = f", {limit['where']}" if limit.get("where") else ""
        kind = f"{limit.get('kind') or 'limit'} {numbers.stated(record['withstand_v'], 'V')}"
        text = f"{kind}, from: {limit.get('origin') or 'not said'}{where}"
        if record.get("asked_percent"):
            text += f"; margin asked {numbers.percentage(record['asked_percent'])}"
        by_text.setdefault(text, []).append(record["pair"])
    return [f"{join_words(pairs, 'and')}: {text}" for text, pairs in by_text.items()]


def _arresters(records: Sequence[Record], key: CaseKey | None) -> Blocks:
    if not records:
        return
    yield heading("Arresters")
    heads = ["element", "verdict", "peak", "charge", "energy", "W/R\nkJ/ohm", "residual"]
    groups = [
        Rows(
            name=slot,
            aside=f", at {members[0]['place']}: {members[0]['card']}",
            cells=[[*_arrester_cells(record), *_letter(record, key)] for record in members],
        )
        for slot, members in _by(records, "name")
    ]
    yield from grouped_table([*heads, "share", "of", *_in(key)], groups)
    yield paragraph(
        "Share: the largest of an element's duties over its rating, and which duty it is."
    )
    yield from (paragraph(text) for text in sentences.in_series(records))
    if any(record["rated_by"] == "follow_current" for record in records):
        yield paragraph(
            "Follow: the current that the supply keeps flowing, over the least that keeps an arc."
        )
    for text in discharges(records):
        yield paragraph(text)
    for basis in _distinct(record.get("basis") for record in records):
        yield paragraph(f"Basis: {basis}.")


def _arrester_cells(record: Record) -> list[str]:
    return [
        record["element"],
        record["verdict"],
        marked(numbers.signed(record["peak_a"], "A"), record, "peak_a"),
        marked(numbers.quantity(record["charge_c"], "C"), record, "charge_c"),
        numbers.quantity(record["energy_j"], "J"),
        numbers.in_thousands(record["specific_energy_j_per_ohm"]),
        marked(numbers.signed(record["residual_v"], "V"), record, "residual_v"),
        numbers.share(record["share_of_rating"]),
        _DUTIES.get(record["rated_by"], numbers.ABSENT),
    ]


def _earths(records: Sequence[Record], key: CaseKey | None) -> Blocks:
    if not records:
        return
    yield heading("Earths")
    shapes = any(record["from_shape_ohm"] is not None for record in records)
    cells = [
        [
            record["name"],
            numbers.stated(record["resistance_ohm"], "ohm"),
            *([numbers.stated(record["from_shape_ohm"], "ohm")] if shapes else []),
            marked(numbers.signed(record["rise_v"], "V"), record, "rise_v"),
            marked(numbers.signed(record["peak_a"], "A"), record, "peak_a"),
            marked(numbers.quantity(record["charge_c"], "C"), record, "charge_c"),
            *_letter(record, key),
        ]
        for record in records
    ]
    by_shape = ["by shape"] if shapes else []
    heads = ["earth", "resistance", *by_shape, "rise", "current", "charge", *_in(key)]
    yield from grouped_table(heads, [Rows(name="", cells=cells)])


def _worst_earths(cases: Iterable[Record], view: View) -> list[Record]:
    """Each earth in the case where it rises highest."""
    worst_of = [name for name, axis in view.findings["axes"].items() if axis["role"] == "worst of"]
    found: dict[str, Record] = {}
    for case in cases:
        for earth in case["earths"]:
            known = found.get(earth["name"])
            if known is None or abs(earth["rise_v"]) > abs(known["rise_v"]):
                levels = {name: case["axes"].get(name) for name in worst_of}
                found[earth["name"]] = {**earth, "surge": case["surge"], "worst_of": levels}
    return list(found.values())


def _numerics(cases: Sequence[Record]) -> Blocks:
    """How far the energies close and which steps were taken: the worst over the cases."""
    if not cases:
        return
    yield heading("Numerical record")
    for window in ("front", "tail"):
        lines = [case["windows"][window] for case in cases if window in case["windows"]]
        if lines:
            yield hanging(f"{window}: ", _window(window, lines, cases), indent=2)
    for note in _distinct(note for case in cases for note in case["notes"]):
        yield bullet(note)


def _window(name: str, windows: Sequence[Record], cases: Sequence[Record]) -> str:
    closures = [case["energy_closure"].get(name) for case in cases]
    known = [abs(closure) for closure in closures if closure is not None]
    closed = f"energy closes to {_closure(max(known))}" if known else "energy not balanced"
    step = _span([window["step_s"] for window in windows])
    stop = _span([window["stop_s"] for window in windows])
    points = max(window["points"] for window in windows)
    lumped = _distinct(line for window in windows for line in window.get("lumped") or ())
    as_pi = f"; as one pi section: {', '.join(lumped)}" if lumped else ""
    return f"{closed}; step at most {step} to {stop}, up to {points} points{as_pi}"


def _closure(fraction: float) -> str:
    """The share of the energy unaccounted for; below 0.001 % it is rounding, not physics."""
    percent = 100.0 * fraction
    return "better than 0.001 %" if percent < 1e-3 else f"{percent:.2g} %"


def _span(values: Sequence[float]) -> str:
    low, high = numbers.quantity(min(values), "s"), numbers.quantity(max(values), "s")
    return low if low == high else f"{low} ... {high}"


def _key(key: CaseKey) -> Blocks:
    entries = [(letter, described) for letter, described in key.entries if described]
    if entries:
        yield heading("Worst cases")
        yield from (hanging(f"{letter}: ", described, indent=2) for letter, described in entries)


def _in(key: CaseKey | None) -> list[str]:
    """The head of the column of letters, when cases are lettered."""
    return [] if key is None else ["in"]


def _letter(record: Record, key: CaseKey | None) -> list[str]:
    return [] if key is None else [key.letter(record)]


def _by(records: Sequence[Record], field: str) -> Iterator[tuple[str, list[Record]]]:
    ordered = sorted(records, key=lambda record: _first(records, field, record))
    for name, members in groupby(ordered, key=lambda record: str(record[field])):
        yield name, list(members)


def _first(records: Sequence[Record], field: str, record: Record) -> int:
    return next(i for i, other in enumerate(records) if other[field] == record[field])


def _distinct(items: Iterable[str | None]) -> list[str]:
    return list(dict.fromkeys(str(item) for item in items if item))
