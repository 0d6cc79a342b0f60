"""The comparison of alternatives: the answer first, then each alternative, then who else.

Layout: what was asked and the answer; one sentence an alternative, the ones that hold first;
terminal by terminal, one row an alternative, equal ones folded; then everything a reader could
otherwise overlook: arresters beyond rating, ports nobody assessed, claims, cases without a
result, assumptions and cautions.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.cells import cell_len
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from surgesim.report import (
    breakdown,
    charges,
    crosscheck,
    duty,
    failed_arresters,
    fates,
    influence,
    numbers,
    sentences,
    surges,
)
from surgesim.report.blocks import (
    Page,
    bullet,
    hanging,
    heading,
    indented,
    paragraph,
    plain_table,
    prose,
    verdict,
)
from surgesim.report.folding import Folded, cell_text, fold, ranges
from surgesim.report.numerical import numerical
from surgesim.report.view import VERDICTS, CaseKey, Record, Terminal, View, worst_case

# Wider than this and the factors leave no room for what happened: they become one column.
_FACTOR_COLUMNS = 42
_ONE_COLUMN = 34
_NUMBERS_COLUMN = 14
_HEADING_WIDTH = 78
_FEW = 8  # alternatives a reader keeps apart by their names, even long ones

Outcome = tuple[str, str, str]  # verdict, what happened, letter of the worst case


def render(findings: Record) -> RenderableType:
    """The whole comparison of a findings object, to be printed through ``report.console``."""
    view = View(findings)
    return Page(_parts(view))


def plain_sentences(findings: Record) -> list[str]:
    """One plain sentence per alternative, in the file's order: name, verdict, reason."""
    view = View(findings)
    return [
        f"{view.label(entry)}: {sentences.rank(entry)}. {sentences.alternative(entry, view)}"
        for entry in view.entries
    ]


def _parts(view: View) -> Iterator[RenderableType]:
    yield from _question(view)
    yield heading("Answer")
    yield paragraph(sentences.answer(view))
    yield from _fates(view)
    if len(view.entries) > 1 or view.factors:
        yield from _alternatives(view)
    if view.terminals:
        yield heading("Terminal by terminal")
    for terminal in view.terminals:
        yield from _terminal(terminal, view)
    yield from charges.table(view)
    yield from duty.shared(view)
    yield from surges.table(view)
    yield from numerical(view, printed=("peak_v", "peak_a", "charge_c"))
    yield from who_else(view)


def _question(view: View) -> Iterator[RenderableType]:
    scenario = view.findings["scenario"]
    yield Text(str(scenario["title"]), style="bold")
    if scenario.get("question"):
        yield Text(str(scenario["question"]))


def _fates(view: View) -> Iterator[RenderableType]:
    """Who else fails: one row an alternative, equal ones together."""
    entries = [entry for entry in view.entries if entry["terminals"]]
    rows = [
        (view.levels(entry), (sentences.rank(entry), fates.sentence(entry, view), ""))
        for entry in entries
    ]
    if rows:
        yield heading(fates.TITLE, aside=fates.ASIDE)
        yield indented(_rows(fold(rows), entries, view, lettered=False), 2)


def _alternatives(view: View) -> Iterator[RenderableType]:
    """One sentence each, under the verdict, equal ones together."""
    total = len(view.entries)
    for rank in (*VERDICTS, sentences.UNKNOWN):
        entries = [entry for entry in view.entries if sentences.rank(entry) == rank]
        if not entries:
            continue
        count = f"{len(entries)} of {total}"
        yield heading(f"{rank}: {count}", aside=sentences.VERDICT_MEANINGS[rank], word=rank)
        rows = [(view.levels(entry), sentences.alternative(entry, view)) for entry in entries]
        for row in fold(rows):
            label = view.label_of(row.cells)
            if _numbered(view):
                label = f"{_numbers(row, entries, view)}: {label}"
            yield indented(Text(label, style="bold"), 2)
            yield paragraph(row.outcome, indent=6)


def _terminal(terminal: Terminal, view: View) -> Iterator[RenderableType]:
    found = [(entry, terminal.worst_in(entry["terminals"])) for entry in view.entries]
    records = [(entry, record) for entry, record in found if record is not None]
    title = f"{terminal.name}, {sentences.limit(terminal)}"
    complete = not any(entry["failed_cases"] for entry, _ in records)
    if len(records) > 1 and complete and all(record["verdict"] == "holds" for _, record in records):
        yield Text("")
        yield Text(title, style="bold")
        yield indented(_all_hold([record for _, record in records]), 2)
        return
    key = CaseKey()
    rows = [
        (view.levels(entry), _outcome(entry, record, terminal, view, key))
        for entry, record in records
    ]
    yield from _terminal_heading(title, key)
    entries = [entry for entry, _ in records]
    yield indented(_rows(fold(rows), entries, view, lettered=len(key.entries) > 1), 2)


def _outcome(
    entry: Record, record: Record, terminal: Terminal, view: View, key: CaseKey
) -> Outcome:
    what = sentences.outcome(record, view, pole=terminal.pole(record, entry["terminals"]))
    if entry["failed_cases"]:
        what = f"{what}. {sentences.cases_without_result(entry)}"
    return str(record["verdict"]), what, key.letter(record)


def _all_hold(records: list[Record]) -> Text:
    smallest = min(
        (record["margin_percent"] for record in records if record["margin_percent"] is not None),
        default=None,
    )
    least = f", margin {numbers.margin(smallest)} or more" if smallest is not None else ""
    text = Text("holds", style="green")
    text.append(f" in all {len(records)} alternatives{least}", style="default")
    return text


def _terminal_heading(title: str, key: CaseKey) -> Iterator[RenderableType]:
    """The terminal and its limit; the worst case beside it when there is only one."""
    yield Text("")
    cases = key.entries
    if len(cases) != 1:
        yield Text(title, style="bold")
        yield from (hanging(f"{letter}: ", described, indent=2) for letter, described in cases)
        return
    case = cases[0][1]
    if len(title) + len(case) + 10 <= _HEADING_WIDTH:
        yield Text.assemble((title, "bold"), "   worst: ", case)
    else:
        yield Text(title, style="bold")
        yield hanging("worst: ", case, indent=2)


def _rows(
    rows: list[Folded[Outcome]], entries: list[Record], view: View, *, lettered: bool
) -> Table:
    """One row an outcome: which alternatives, the verdict, what happened, the case's letter."""
    table = plain_table()
    heads, names = _names(rows, entries, view)
    table.show_header = bool(heads)
    widest = _NUMBERS_COLUMN if _numbered(view) else _ONE_COLUMN
    for head in heads:
        table.add_column(head, overflow="fold", max_width=widest)
    table.add_column("", min_width=len("exceeded"), overflow="fold")
    table.add_column("", overflow="fold", ratio=1)
    if lettered:
        table.add_column("", min_width=1, overflow="fold", justify="right")
    for row, cells in zip(rows, names, strict=True):
        word, what, letter = row.outcome
        line = [*(Text(cell) for cell in cells), verdict(word), prose(what)]
        table.add_row(*line, *([Text(letter)] if lettered else []))
    return table


def _names(
    rows: list[Folded[Outcome]], entries: list[Record], view: View
) -> tuple[list[str], list[list[str]]]:
    """How a table names its alternatives: by factor, by their numbers, or in one column."""
    if not view.factors:
        return [], [[] for _ in rows]
    if _numbered(view):
        return ["no."], [[_numbers(row, entries, view)] for row in rows]
    cells = [
        [
            cell_text(levels, view.all_levels(factor))
            for levels, factor in zip(row.cells, view.factors, strict=True)
        ]
        for row in rows
    ]
    if _width(list(view.factors), cells) <= _FACTOR_COLUMNS:
        return list(view.factors), cells
    return ["alternative"], [[view.label_of(row.cells)] for row in rows]


def _numbered(view: View) -> bool:
    """Many alternatives with long names are numbered once and then called by number."""
    heads, cells = list(view.factors), [[str(x) for x in view.levels(e)] for e in view.entries]
    return len(view.entries) > _FEW and bool(heads) and _width(heads, cells) > _FACTOR_COLUMNS


def _numbers(row: Folded[Any], entries: list[Record], view: View) -> str:
    return ranges([view.number(entries[position]) for position in row.members])


def _width(heads: list[str], cells: list[list[str]]) -> int:
    """Columns that a table's text takes unbroken."""
    columns = zip(heads, *cells, strict=True)
    return sum(max(cell_len(text) for text in column) + 2 for column in columns)


def who_else(view: View) -> Iterator[RenderableType]:
    """Everything that is not a terminal's verdict but decides what it is worth."""
    findings = view.findings
    if findings.get("breakdown"):
        yield from breakdown.table(view)
    yield from _arresters(view)
    yield from duty.lasting(view)
    if findings.get("failed_arresters"):
        yield from failed_arresters.table(view)
    yield from crosscheck.section(findings)
    unknown = [sentences.not_assessed(item) for item in findings["not_assessed"]]
    yield from _listed("Not assessed", unknown + _unrated(view))
    yield from _listed("Claims", [sentences.claim(item) for item in findings["claims"]])
    failures = [sentences.failure(item) for item in findings["failures"]]
    yield from _listed("Cases without a result", failures)
    yield from _listed("Assumptions", [str(item) for item in findings["assumptions"]])
    if findings.get("influence"):
        yield from influence.table(findings["influence"])
    elif findings["assumptions"]:
        yield paragraph(influence.HINT, indent=2)
    yield heading("Before you use this")
    for caution in findings["cautions"]:
        yield paragraph(str(caution))


def _listed(title: str, items: list[str]) -> Iterator[RenderableType]:
    if items:
        yield heading(f"{title}: {len(items)}")
        yield from (bullet(item) for item in items)


def _arresters(view: View) -> Iterator[RenderableType]:
    """For each alternative the element of each slot furthest beyond its rating."""
    found = [(entry, _beyond_rating(entry)) for entry in view.entries]
    beyond = [(entry, text) for entry, text in found if text]
    if beyond:
        yield heading("Arresters beyond their rating", aside="the worst element of each")
        entries = [entry for entry, _ in beyond]
        for row in fold([(view.levels(entry), text) for entry, text in beyond]):
            numbered = _numbered(view)
            lead = _numbers(row, entries, view) if numbered else view.label_of(row.cells)
            yield bullet(row.outcome, lead=lead)
    within = [r for entry in view.entries for r in entry["arresters"] if r["verdict"] == "holds"]
    if within:
        hardest = max(within, key=lambda record: record["share_of_rating"])
        yield heading("Arresters within their rating")
        yield paragraph(
            f"Hardest worked: {sentences.element(hardest)}, {hardest['card']}, at "
            f"{numbers.share(hardest['share_of_rating'])} of its rating; "
            f"{worst_case(hardest)}."
        )


def _unrated(view: View) -> list[str]:
    """Arresters whose card gives nothing to hold their duty against."""
    records = [record for entry in view.entries for record in entry["arresters"]]
    unrated = (record for record in records if record["verdict"] == "not assessed")
    return list(dict.fromkeys(sentences.unrated(record) for record in unrated))


def _beyond_rating(entry: Record) -> str:
    worst: dict[str, Record] = {}
    for record in entry["arresters"]:
        known = worst.get(record["name"])
        if record["verdict"] == "exceeded" and (
            known is None or record["share_of_rating"] > known["share_of_rating"]
        ):
            worst[record["name"]] = record
    return "; ".join(
        f"{sentences.element(record)} {sentences.duty(record)}" for record in worst.values()
    )
