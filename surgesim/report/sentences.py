"""The sentences of a report, composed from the numbers of the findings object and nothing else.

A sentence promises nothing: it says which voltage was computed, against which limit, and what
that number stands on. Names are the user's own and are printed as written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from surgesim.network.probes import FAILED
from surgesim.report import numbers
from surgesim.report.numerical import marked
from surgesim.report.view import (
    VERDICTS,
    Record,
    Terminal,
    View,
    badness,
    fired,
    join_words,
    severity,
    worst_case,
)
from surgesim.studies.worst import room

UNKNOWN = "not assessed"

VERDICT_MEANINGS = {
    "holds": "at least the margin asked at every terminal described",
    "thin": "below the limit, but by less than the margin asked",
    "void": "the voltage stands on something that has failed first",
    "exceeded": "a voltage beyond its limit",
    UNKNOWN: "a case without a result could be the worst, or there was nothing to judge",
}

_CONTINUOUS = "continuous"
_IN_SERIES = "in_series"
_FOLLOW = "follow_current"


def answer(view: View) -> str:
    """The answer in two or three sentences: how many alternatives hold, and the best of them."""
    holding = [entry for entry in view.entries if entry["verdict"] == "holds"]
    if len(view.entries) == 1:
        text = _single_answer(view.entries[0], view)
    elif holding:
        text = _holding_answer(holding, view)
    else:
        text = _nothing_holds(view)
    return text + _missing(view) + _unassessed(view)


def alternative(entry: Record, view: View) -> str:
    """One plain sentence on one alternative: its worst terminal, why, and in which case."""
    worst, missing = entry.get("worst"), cases_without_result(entry)
    if not worst:
        return missing or "No terminal could be judged."
    parts = [_worst_sentence(worst, view), _others(entry, view), missing]
    if rank(entry) == UNKNOWN:
        parts = [missing, "The worst of the rest:", *parts[:2]]
    return " ".join(part for part in parts if part)


def asked(view: View) -> str:
    """The margin asked of the terminals, by kind of limit where that differs."""
    kinds = {
        terminal.limit_kind: view.asked
        if terminal.asked_percent is None
        else terminal.asked_percent
        for terminal in view.terminals
    }
    if len(set(kinds.values())) < 2:
        return f"the {numbers.percentage(next(iter(kinds.values()), view.asked))} margin asked"
    parts = [
        f"{numbers.percentage(percent) if percent else 'none'} to a {kind}"
        for kind, percent in kinds.items()
    ]
    return f"the margins asked ({join_words(parts, 'and')})"


def outcome(record: Record, view: View, *, pole: str = "") -> str:
    """What happened at one terminal, short enough for a table row.

    ``pole`` names the worse conductor when the row stands for several.
    """
    named = f" ({pole})" if pole else ""
    edge = " (knife-edge)" if view.knife_edge(record) else ""
    if fired(record):
        return f"insulation fires at {_level(record)}{named}{edge}"
    return f"{_peak(record)}{named}, {_standing(record, view)}{edge}"


def failures_elsewhere(record: Record, view: View, *, after: str = "") -> str:
    """What else failed in the record's case: insulation elsewhere, arresters beyond rating.

    ``after`` goes before the insulation: a voltage seen ``only after`` it flashed over.
    """
    case = view.case(record.get("case"))
    conditions = [str(condition) for condition in record.get("conditional_on") or ()]
    flashed = _named_in(conditions, case["terminals"] if case else (), ("equipment", "pair"))
    beyond = _named_in(conditions, case["arresters"] if case else (), ("name", "element"))
    known = {*flashed, *beyond}
    gone = _flashed_over(list(flashed.values()), own=record["equipment"])
    parts = [f"{after}{gone}" if gone else "", _beyond_rating(list(beyond.values()))]
    parts += [condition.replace(": ", " ", 1) for condition in conditions if condition not in known]
    return ", and ".join(part for part in parts if part)


def element(record: Record) -> str:
    """An arrester's element in words: ``arrester array box (plus to pe)``."""
    name = str(record["name"])
    word = "" if "arrester" in name.casefold() else "arrester "
    return f"{word}{name} ({record['element']})"


def duty(record: Record) -> str:
    """How far an arrester element is beyond (or within) its rating, in words."""
    share = numbers.times(record["share_of_rating"])
    by = record["rated_by"]
    if by == _CONTINUOUS:
        stands = numbers.quantity(abs(record["standing_v"]), "V")
        return f"stands at {stands} before the surge, {share} its continuous voltage"
    if by == _IN_SERIES:
        worst = max(record["series"], key=lambda device: device["share"])
        let = numbers.melting(worst["specific_energy_j_per_ohm"])
        return f"drives {let} through its {worst['what']}, {share} what that carries"
    if by == _FOLLOW:
        carries = numbers.quantity(abs(record["discharge"]["conducts_a"]), "A")
        return f"still carries {carries} when the surge is over, fed by the supply: it stays alight"
    verb, key, unit = {
        "charge": ("carries", "charge_c", "C"),
        "specific_energy": ("takes", "specific_energy_j_per_ohm", "J/ohm"),
    }.get(by, ("carries", "peak_a", "A"))
    carried = marked(numbers.quantity(abs(record[key]), unit), record, key)
    return f"{verb} {carried}, {share} its rating"


def in_series(records: Sequence[Record]) -> list[str]:
    """What the fuses or breakers in front of arresters do: of each slot the one that sees most."""
    worst: dict[tuple[str, str], Record] = {}
    for record in records:
        for device in record.get("series") or ():
            key = (str(record["name"]), str(device["what"]))
            if key not in worst or device["share"] > worst[key]["share"]:
                worst[key] = device
    return [f"{name}: {_device(device)}" for (name, _), device in worst.items()]


def _device(device: Record) -> str:
    let = numbers.melting(device["specific_energy_j_per_ohm"])
    low = numbers.melting(device["opens_from_a2s"])
    high = numbers.melting(device["opens_by_a2s"])
    limits = low if low == high else f"{low.removesuffix(' A2s')} to {high}"
    told = f"its {device['what']} sees at most {let} ({device['conductor']}), opens at {limits}"
    if device["state"] == "stays":
        return f"{told}: it stays."
    would = "it opens" if device["state"] == "opens" else "it may open"
    at = numbers.quantity(device["from_s"], "s")
    return f"{told}: {would} from {at} on, and the arrester is then disconnected."


def not_assessed(item: Record) -> str:
    """A port nothing can be said about, and why."""
    reason = str(item.get("reason") or "").rstrip(".")
    return f"{item['equipment']}: {reason}" if reason else str(item["equipment"])


def unrated(record: Record) -> str:
    """An arrester element whose card gives no rating."""
    if record["class"] == FAILED:
        return f"{element(record)}: failed, as described"
    return f"{element(record)}: its card, {record['card']}, gives no rating"


def failure(item: Record) -> str:
    """A case that gave no result, in the engine's words, and what to try."""
    axes = ", ".join(f"{axis} {level}" for axis, level in item["axes"].items() if level is not None)
    text = f"{item['id']} ({axes}; {item['surge']}): {str(item['error']).rstrip('.')}."
    hint = str(item.get("try") or "").rstrip(".")
    return f"{text} Try: {hint}." if hint else text


def claim(item: Record) -> str:
    """A margin the author asserted, and what was found."""
    met = "met" if item["met"] else "NOT met"
    asked = numbers.percentage(item["asked_percent"])
    percent = item["found_percent"]
    found = "no margin" if percent is None else f"margin {numbers.margin(percent)}"
    if item.get("verdict") == "void":
        found = "a void voltage"
    return f"{item['name']}: {met}; {_place(item)}, {found} found, {asked} claimed"


def surge(case: Record) -> str:
    """The surge of a case by its measured figures: ``Heidler, 5.0 kA, T1/T2 10/350 us …``."""
    figures = case["surge_figures"]
    unit = figures["unit"]
    parts = [f"{figures['formula']}, {numbers.quantity(figures['peak'], unit)}"]
    for name, key, of in (("T1", "t1_s", "s"), ("T2", "t2_s", "s"), ("charge", "charge_c", "C")):
        if figures.get(key) is not None:
            parts.append(f"{name} {numbers.quantity(figures[key], of)}")
    if figures.get("specific_energy_j_per_ohm") is not None:
        parts.append(f"W/R {numbers.quantity(figures['specific_energy_j_per_ohm'], 'J/ohm')}")
    if figures.get("steepest_per_s") is not None:
        parts.append(f"steepest {numbers.steepness(figures['steepest_per_s'], unit)}")
    return ", ".join(parts)


def limit(terminal: Terminal) -> str:
    """A terminal's limit with its kind and origin: ``withstand 6.0 kV (table)``."""
    origin = f" ({terminal.limit_origin})" if terminal.limit_origin else ""
    return f"{terminal.limit_kind} {numbers.stated(terminal.limit_v, 'V')}{origin}"


def rank(entry: Record) -> str:
    """The heading an alternative stands under."""
    return entry["verdict"] if entry["verdict"] in VERDICTS else UNKNOWN


def _single_answer(entry: Record, view: View) -> str:
    worst = entry.get("worst")
    if not worst or rank(entry) == UNKNOWN:
        return "The installation as described could not be judged."
    if entry["verdict"] == "holds":
        return (
            f"The installation as described holds at every terminal described with {asked(view)}. "
            f"Closest to its limit: {_with_margin(_tightest(entry), view)}."
        )
    return (
        f"The installation as described does not hold with {asked(view)}: "
        f"{entry['verdict']} at {_place(worst)}."
    )


def _holding_answer(holding: Sequence[Record], view: View) -> str:
    best = max(holding, key=lambda entry: room(_tightest(entry)))
    one = len(holding) == 1
    lead = "It is" if one else "The most room has"
    return (
        f"{len(holding)} of {len(view.entries)} alternatives {'holds' if one else 'hold'} at every "
        f"terminal described with {asked(view)}. {lead} {view.label(best)}: closest to its limit "
        f"is {_with_margin(_tightest(best), view)}."
    )


def _tightest(entry: Record) -> Record:
    """The terminal with the least room above what was asked of it."""
    return min(entry["terminals"] or [entry["worst"]], key=room)


def _with_margin(record: Record, view: View) -> str:
    return f"{_place(record)}, {_margin(record, view)}"


def _margin(record: Record, view: View) -> str:
    """``margin 28 %``, and what was asked where that differs from terminal to terminal."""
    text = f"margin {numbers.margin(record['margin_percent'])}"
    if view.asks_alike:
        return text
    asked_here = view.asked_of(record)
    return f"{text} ({numbers.percentage(asked_here) if asked_here else 'none'} asked)"


def _nothing_holds(view: View) -> str:
    judged = [entry for entry in view.entries if rank(entry) != UNKNOWN and entry.get("worst")]
    if not judged:
        return f"None of the {len(view.entries)} alternatives could be judged."
    text = (
        f"None of the {len(view.entries)} alternatives holds at every terminal described with "
        f"{asked(view)}."
    )
    nearest = min(judged, key=lambda entry: badness(entry["worst"]))
    worst = nearest["worst"]
    return (
        f"{text} Nearest: {view.label(nearest)}: {nearest['verdict']} at "
        f"{_place(worst)}, {outcome(worst, view)}."
    )


def _missing(view: View) -> str:
    count = len(view.findings["failures"])
    if not count:
        return ""
    cases = "case" if count == 1 else "cases"
    return f" {count} {cases} gave no result, so the worst may not be known."


def _unassessed(view: View) -> str:
    names = list(dict.fromkeys(item["equipment"] for item in view.findings["not_assessed"]))
    return f" Not assessed: {join_words(names, 'and')}." if names else ""


def _place(record: Record) -> str:
    return f"{record['equipment']}, {record['pair']}"


def _level(record: Record) -> str:
    return numbers.stated(record["insulation"]["level_v"], "V")


def _peak(record: Record) -> str:
    """The peak without its sign, with enough digits to be told from its limit."""
    text = numbers.apart(abs(record["peak_v"]), record["withstand_v"], "V")
    return marked(text, record, "peak_v")


def _worst_sentence(worst: Record, view: View) -> str:
    terminal = view.terminal_of(worst)
    bound = f"{terminal.limit_kind} of {numbers.stated(terminal.limit_v, 'V')}"
    if fired(worst):
        what = f"insulation fires at {_level(worst)}, against a {bound}"
    else:
        below = worst["verdict"] in ("holds", "thin")
        worth = _margin(worst, view) if below else _standing(worst, view)
        what = f"{_peak(worst)} against a {bound}, {worth}"
    case = worst_case(worst)
    sentences = [f"{_capital(_place(worst))}: {what}.", f"Worst in: {case}." if case else ""]
    if view.knife_edge(worst):
        sentences.append("A knife-edge: this is the worse of its outcomes.")
    if worst["verdict"] == "exceeded" and worst.get("conditional_on"):
        first = "It fires first; in" if _fires_before_others(worst, view) else "In"
        sentences.append(f"{first} the same case {failures_elsewhere(worst, view)}.")
    return " ".join(sentence for sentence in sentences if sentence)


def _fires_before_others(record: Record, view: View) -> bool:
    """Whether a pair's insulation fired before that of any other equipment in its case."""
    case = view.case(record.get("case"))
    own = record["insulation"].get("fired_at_s") if fired(record) else None
    others = [
        terminal["insulation"].get("fired_at_s")
        for terminal in (case["terminals"] if case else ())
        if fired(terminal) and terminal["equipment"] != record["equipment"]
    ]
    return own is not None and bool(others) and all(at is None or own < at for at in others)


def _standing(record: Record, view: View) -> str:
    """What a voltage is worth: its margin, or what it stands on."""
    if record["verdict"] == "void":
        elsewhere = failures_elsewhere(record, view, after="only after ")
        return f"but {elsewhere or 'only after something else has failed'}"
    return f"margin {numbers.margin(record['margin_percent'])}"


def _others(entry: Record, view: View) -> str:
    """The other terminals of an alternative that do not hold."""
    own = view.terminal_of(entry["worst"])
    named, rest = [], 0
    for terminal in view.terminals:
        record = terminal.worst_in(entry["terminals"])
        if terminal == own or record is None:
            continue
        rest += 1
        if severity(record["verdict"]) > 0:
            named.append(f"{terminal.name} ({record['verdict']})")
    if named and len(named) == rest > 1:
        return "No other terminal holds either."
    return f"Not holding either: {'; '.join(named)}." if named else ""


def cases_without_result(entry: Record) -> str:
    """How many cases of an alternative failed; empty when none did."""
    count = entry.get("failed_cases") or 0
    if not count:
        return ""
    return f"{count} of its cases gave no result." if count > 1 else "1 case gave no result."


def _named_in(
    conditions: Sequence[str], records: Sequence[Record], keys: tuple[str, str]
) -> Mapping[str, Record]:
    """The conditions that name one of the records, each with that record.

    A condition reads ``name, part: what happened``; the numbers are then taken from the record.
    """
    found = {}
    for record in records:
        head = f"{record[keys[0]]}, {record[keys[1]]}: "
        for condition in conditions:
            if condition.startswith(head):
                found[condition] = record
    return found


def _flashed_over(records: Sequence[Record], *, own: str) -> str:
    """``modules flashed over at 0.61 us``: every equipment once, at its earliest time.

    Another pair of the equipment the sentence is about, ``own``, is named by its pair.
    """
    first: dict[str, float | None] = {}
    for record in records:
        name = _place(record) if record["equipment"] == own else str(record["equipment"])
        at = (record.get("insulation") or {}).get("fired_at_s")
        known = first.get(name)
        first[name] = at if known is None or at is None else min(known, at)
    told = [
        f"{name} flashed over" + (f" at {numbers.quantity(at, 's')}" if at is not None else "")
        for name, at in first.items()
    ]
    return join_words(told, "and")


def _beyond_rating(records: Sequence[Record]) -> str:
    """The element furthest beyond its rating, and how many more there are."""
    if not records:
        return ""
    worst = max(records, key=lambda record: record["share_of_rating"])
    more = len(records) - 1
    text = f"{element(worst)} {duty(worst)}"
    if more:
        text += f" ({more} more element{'s' if more > 1 else ''} beyond rating too)"
    return text


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
