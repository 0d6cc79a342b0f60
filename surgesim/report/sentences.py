"""The sentences of a report, composed from the numbers of the findings object and nothing else.

A sentence promises nothing: it says which voltage was computed, against which limit, and what
that number stands on. Names are the user's own and are printed as written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from surgesim.report import numbers
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

VERDICT_MEANINGS = {
    "holds": "at least the margin asked at every terminal described",
    "thin": "below the limit, but by less than the margin asked",
    "void": "the voltage stands on something that has failed first",
    "exceeded": "a voltage beyond its limit",
    "no result": "no terminal could be judged",
}

_CONTINUOUS = "continuous"


def answer(view: View) -> str:
    """The answer in two or three sentences: how many alternatives hold, and the best of them."""
    holding = [entry for entry in view.entries if entry["verdict"] == "holds"]
    asked = numbers.percentage(view.asked)
    if len(view.entries) == 1:
        text = _single_answer(view.entries[0], asked)
    elif holding:
        text = _holding_answer(holding, view, asked)
    else:
        text = _nothing_holds(view, asked)
    return text + _missing(view) + _unassessed(view)


def alternative(entry: Record, view: View) -> str:
    """One plain sentence on one alternative: its worst terminal, why, and in which case."""
    worst = entry.get("worst")
    if not worst:
        return _cases_without_result(entry) or "No terminal could be judged."
    parts = [_worst_sentence(worst, view), _others(entry, view), _cases_without_result(entry)]
    return " ".join(part for part in parts if part)


def outcome(record: Record, view: View, *, pole: str = "") -> str:
    """What happened at one terminal, short enough for a table row.

    ``pole`` names the worse conductor when the row stands for several.
    """
    named = f" ({pole})" if pole else ""
    if fired(record):
        return f"insulation fires at {_level(record)}{named}"
    return f"{_peak(record)}{named}, {_standing(record, view)}"


def failures_elsewhere(record: Record, view: View, *, after: str = "") -> str:
    """What else failed in the record's case: insulation elsewhere, arresters beyond rating.

    ``after`` goes before the insulation: a voltage seen ``only after`` it flashed over.
    """
    case = view.case(record.get("case"))
    conditions = [str(condition) for condition in record.get("conditional_on") or ()]
    flashed = _named_in(conditions, case["terminals"] if case else (), ("equipment", "pair"))
    beyond = _named_in(conditions, case["arresters"] if case else (), ("name", "element"))
    known = {*flashed, *beyond}
    gone = _flashed_over(list(flashed.values()))
    parts = [f"{after}{gone}" if gone else "", _beyond_rating(list(beyond.values()))]
    parts += [condition for condition in conditions if condition not in known]
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
    verb, key, unit = {
        "charge": ("carries", "charge_c", "C"),
        "specific_energy": ("takes", "specific_energy_j_per_ohm", "J/ohm"),
    }.get(by, ("carries", "peak_a", "A"))
    return f"{verb} {numbers.quantity(abs(record[key]), unit)}, {share} its rating"


def not_assessed(item: Record) -> str:
    """A port nothing can be said about, and why."""
    reason = str(item.get("reason") or "").rstrip(".")
    return f"{item['equipment']}: {reason}" if reason else str(item["equipment"])


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
    return entry["verdict"] if entry["verdict"] in VERDICTS else "no result"


def _single_answer(entry: Record, asked: str) -> str:
    worst = entry.get("worst")
    if not worst:
        return "The installation as described gave no result."
    where = _place(worst)
    if entry["verdict"] == "holds":
        margin = numbers.margin(worst["margin_percent"])
        return (
            f"The installation as described holds at every terminal described: the smallest "
            f"margin is {margin} at {where} ({asked} asked)."
        )
    return (
        f"The installation as described does not hold with the {asked} margin asked: "
        f"{entry['verdict']} at {where}."
    )


def _holding_answer(holding: Sequence[Record], view: View, asked: str) -> str:
    best = max(holding, key=lambda entry: entry["worst"]["ratio"] or float("inf"))
    verb = "holds" if len(holding) == 1 else "hold"
    margin = numbers.margin(best["worst"]["margin_percent"])
    at = f"{margin} at its worst terminal ({_place(best['worst'])})"
    lead = "It is" if len(holding) == 1 else "The largest margin has"
    named = f"{lead} {view.label(best)}: {at}."
    return (
        f"{len(holding)} of {len(view.entries)} alternatives {verb} at every terminal described "
        f"with the {asked} margin asked. {named}"
    )


def _nothing_holds(view: View, asked: str) -> str:
    judged = [entry for entry in view.entries if entry.get("worst")]
    text = (
        f"None of the {len(view.entries)} alternatives holds at every terminal described with "
        f"the {asked} margin asked."
    )
    if not judged:
        return text
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
    return numbers.apart(abs(record["peak_v"]), record["withstand_v"], "V")


def _worst_sentence(worst: Record, view: View) -> str:
    terminal = view.terminal_of(worst)
    bound = f"{terminal.limit_kind} of {numbers.stated(terminal.limit_v, 'V')}"
    if fired(worst):
        what = f"insulation fires at {_level(worst)}, against a {bound}"
    else:
        what = f"{_peak(worst)} against a {bound}, {_standing(worst, view)}"
    case = worst_case(worst)
    sentences = [f"{_capital(_place(worst))}: {what}.", f"Worst in: {case}." if case else ""]
    if worst["verdict"] == "exceeded" and worst.get("conditional_on"):
        sentences.append(f"In the same case {failures_elsewhere(worst, view)}.")
    return " ".join(sentence for sentence in sentences if sentence)


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


def _cases_without_result(entry: Record) -> str:
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


def _flashed_over(records: Sequence[Record]) -> str:
    """``modules flashed over at 0.61 us``: every equipment once, at its earliest time."""
    first: dict[str, float | None] = {}
    for record in records:
        at = (record.get("insulation") or {}).get("fired_at_s")
        known = first.get(record["equipment"])
        first[record["equipment"]] = at if known is None or at is None else min(known, at)
    if not first:
        return ""
    times = [
        f"{name} flashed over" + (f" at {numbers.quantity(at, 's')}" if at is not None else "")
        for name, at in first.items()
    ]
    return join_words(times, "and")


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
