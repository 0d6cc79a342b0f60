"""Numerical errors in print: a mark on what is above one percent, and what it means under it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import bullet, heading, paragraph
from surgesim.report.view import Record, View, join_words

MARK = "~"
NOTEWORTHY = 1.0
"""Percent above which an error is marked."""

_IN_WORDS = {
    "peak_v": "voltage",
    "to_bar_v": "voltage to the bar",
    "to_remote_earth_v": "voltage to remote earth",
    "peak_a": "current",
    "residual_v": "residual voltage",
    "charge_c": "charge",
    "rise_v": "rise",
}
_MEANS = {
    "estimated": "Estimated from each run's own waveforms: what the steps in time do. --certify "
    "runs each case again, and also tells what the placing of line losses does.",
    "certified": "Certified: each case was run again at half the step, with the other "
    "integration method, and with every line as two halves.",
}
_Value = tuple[float, Record, str, Record]


def marked(text: str, record: Record, field: str) -> str:
    """A printed value, marked where its error is above one percent or not known."""
    return f"{MARK}{text}" if is_noteworthy(record, field) else text


def is_noteworthy(record: Record, field: str) -> bool:
    """Whether a value is to be marked. A record that tells no errors has none to mark."""
    error = record.get("numerical_error")
    if error is None or record.get(field) is None or field not in error["percent"]:
        return False
    percent = error["percent"][field]
    return percent is None or percent > NOTEWORTHY


def numerical(view: View, *, printed: Collection[str] = _IN_WORDS) -> Iterator[RenderableType]:
    """The largest error of the run and its kind, the mark, and what the errors leave open.

    ``printed`` are the fields the page prints: the mark is explained where it can stand.
    """
    yield from of_cases(view.findings["cases"], printed=printed)
    yield from (bullet(words) for words in _turning(view))
    yield from (bullet(words) for words in _variants(view.findings["cases"]))


def of_cases(
    cases: Sequence[Record], *, printed: Collection[str] = _IN_WORDS
) -> Iterator[RenderableType]:
    """The largest error of some cases, how it was got, and the mark if it was used."""
    values = list(_values(cases))
    if not values:
        return
    yield heading("Numerical error")
    yield paragraph(_largest(values))
    for how in dict.fromkeys(record["numerical_error"]["how"] for _, record, _, _ in values):
        yield paragraph(_MEANS[how])
    marks = (is_noteworthy(record, field) for _, record, field, _ in values if field in printed)
    if any(marks):
        yield paragraph(f"{MARK} before a value: its numerical error is above {NOTEWORTHY:g} %.")


def percentage(percent: float | None) -> str:
    """An error to two digits, never less than it is by rounding to nothing."""
    if percent is None:
        return "not known"
    if percent < 0.01:
        return "below 0.01 %"
    return f"{float(f'{percent:.2g}'):g} %"


def _values(cases: Iterable[Record]) -> Iterator[_Value]:
    """Every value that has an error: size for ordering, its record, its field, its case."""
    for case in cases:
        for section in ("terminals", "arresters", "earths"):
            for record in case[section]:
                error = record.get("numerical_error")
                for field, percent in (error["percent"] if error else {}).items():
                    if record[field] is not None:
                        size = float("inf") if percent is None else percent
                        yield size, record, field, case


def _largest(values: list[_Value]) -> str:
    """One line: the worst of the voltages at terminals, and of everything if that is worse."""
    at_terminals = [value for value in values if value[2] == "peak_v"]
    worst = max(values, key=lambda value: value[0])
    if not at_terminals:
        return f"At most {_told(worst)}."
    pair = max(at_terminals, key=lambda value: value[0])
    if worst[0] <= pair[0]:
        return f"At most {_told(pair)}."
    return f"At terminals at most {_told(pair)}. Of everything at most {_told(worst)}."


def _told(value: _Value) -> str:
    _, record, field, case = value
    error = record["numerical_error"]
    return (
        f"{percentage(error['percent'][field])} ({error['how']}): {_name(record)}, "
        f"{_IN_WORDS[field]}, case {case['id']}"
    )


def _name(record: Record) -> str:
    if "equipment" in record:
        return f"{record['equipment']}, {record['pair']}"
    return f"{record['name']}, {record['element']}" if "element" in record else str(record["name"])


def _turning(view: View) -> Iterator[str]:
    """The verdicts of the summary that lie within their numerical error, each once."""
    found: dict[str, None] = {}
    for entry in view.entries:
        for record in (*entry["terminals"], *entry["arresters"]):
            if record.get("could_be"):
                found[_turn(record)] = None
        for case in view.cases_of(entry):
            found.update(dict.fromkeys(_turn_elsewhere(case, entry)))
    yield from found


def _turn_elsewhere(case: Record, entry: Record) -> Iterator[str]:
    """What holds in a case that is not the worst, but could be worse than it for its error."""
    worst = {_name(record): record for record in (*entry["terminals"], *entry["arresters"])}
    for record in (*case["terminals"], *case["arresters"]):
        summary = worst.get(_name(record))
        if summary is None or summary["case"] == case["id"] or summary["verdict"] != "holds":
            continue
        if record.get("could_be"):
            yield _turn({**record, "case": case["id"]})


def _turn(record: Record) -> str:
    other = join_words(list(record["could_be"]), "or")
    return (
        f"{_name(record)}, case {record['case']}: {record['verdict']}, but {other} is within the "
        f"numerical error ({_standing(record)})."
    )


def _standing(record: Record) -> str:
    percent = record["numerical_error"]["percent"]
    if "equipment" not in record:
        share = numbers.share(record["share_of_rating"])
        return f"{share} of its rating; current {percentage(percent['peak_a'])}, charge " + (
            percentage(percent["charge_c"])
        )
    if record["peak_v"] is None:
        return "it flashes over here, and not in every run of the case"
    margin = numbers.margin(record["margin_percent"])
    asked = numbers.percentage(record["asked_percent"])
    return f"margin {margin}, {asked} asked, error of the voltage {percentage(percent['peak_v'])}"


def _variants(cases: Iterable[Record]) -> Iterator[str]:
    """The runs of a certification that gave no result, or another outcome."""
    for case in cases:
        for variant in case.get("certification") or ():
            reason = str(variant["reason"]).rstrip(".")
            if variant["outcome"] == "turned":
                yield f"{case['id']}: with {variant['name']} the outcome turns: {reason}."
            elif variant["outcome"] == "no result":
                yield f"{case['id']}: with {variant['name']} there is no result: {reason}."
