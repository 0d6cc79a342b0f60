"""A record reproduced: claimed against reproduced, from the comparison object alone.

First whether it was, then what would be overlooked: where the record contradicts itself, decks
that are not those of their scenarios, cases that differ; then the alternatives side by side, the
claims, the tolerances.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import numbers
from surgesim.report.blocks import Page, bullet, hanging, heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.studies.record_compare import in_words

Record = Mapping[str, Any]
Blocks = Iterator[RenderableType]

_MOST_LISTED = 20
_NOTHING = 1e-4  # percent
_STATUSES = {
    "reproduced": "reproduced",
    "at a threshold": "at a threshold",
    "differs": "not within tolerance",
    "no result": "without a result",
}


def render(comparison: Record) -> RenderableType:
    """The whole comparison of a reproduction object (surgesim.reproduction/1)."""
    return Page(_parts(comparison))


def _parts(comparison: Record) -> Blocks:
    yield Text(str(comparison["title"]), style="bold")
    yield heading("Answer")
    yield paragraph(answer(comparison))
    yield from _record(comparison)
    yield from _listed("The record contradicts itself", comparison["inconsistencies"])
    yield from _decks(comparison["decks"])
    yield from _cases(comparison["cases"])
    yield from _alternatives(comparison["alternatives"])
    yield from _claims(comparison["claims"])
    yield heading("Tolerances")
    yield paragraph(_tolerances(comparison["tolerances"]), indent=2)
    yield from _listed("Remarks", comparison["remarks"])


def answer(comparison: Record) -> str:
    """Whether the record was reproduced, and what stands against it."""
    counts = Counter(case["status"] for case in comparison["cases"])
    against = list(_against(comparison, counts))
    total = len(comparison["cases"])
    ran = f"{total} of {comparison['record']['cases']} cases were run again"
    if comparison["reproduced"]:
        said = "all within tolerance"
        if edge := counts["at a threshold"]:
            said = f"{total - edge} within tolerance, {edge} at a threshold where either holds"
        return f"Reproduced. {ran}, {said}."
    return f"Not reproduced. {ran}; {'; '.join(against)}."


def _against(comparison: Record, counts: Mapping[str, int]) -> Iterator[str]:
    if number := len(comparison["inconsistencies"]):
        yield f"the record contradicts itself in {_count(number, 'place')}"
    if number := len(comparison["decks"]["different"]):
        yield f"{_count(number, 'deck')} not as written from the scenario"
    if number := counts.get("differs", 0):
        yield f"{_count(number, 'case')} beyond tolerance"
    if number := counts.get("no result", 0):
        yield f"{_count(number, 'case')} gave no result here"
    if number := sum(entry["status"] == "differs" for entry in comparison["alternatives"]):
        yield f"{_count(number, 'alternative')} judged otherwise"
    if number := sum(claim["status"] == "not met" for claim in comparison["claims"]):
        yield f"{_count(number, 'claim')} not met"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _record(comparison: Record) -> Blocks:
    record = comparison["record"]
    yield heading("Record")
    yield hanging("file  ", record["file"], indent=2)
    yield hanging("      ", f"SHA-256 {record['sha256']}", indent=2)
    yield hanging("made  ", _made_with(record["made_with"]), indent=2)
    yield hanging("here  ", _made_with(comparison["here"]), indent=2)


def _made_with(made: Record) -> str:
    engine = made["engine"]
    engines = f"{engine['name']} {engine['version']}"
    packages = ", ".join(f"{name} {version}" for name, version in made["packages"].items())
    return (
        f"surgesim {made['surgesim']}, {engines}, {made['python']}, {made['platform']}; {packages}"
    )


def _listed(title: str, lines: Sequence[str]) -> Blocks:
    if not lines:
        return
    yield heading(title)
    yield from (bullet(line) for line in lines[:_MOST_LISTED])
    yield from _more(lines)


def _more(things: Sequence[object]) -> Blocks:
    if len(things) > _MOST_LISTED:
        yield bullet(f"and {len(things) - _MOST_LISTED} more, which --json lists")


def _decks(decks: Record) -> Blocks:
    yield heading("Decks")
    different = decks["different"]
    if not different:
        words = "written again from the scenarios, equal byte for byte"
        yield paragraph(f"{_count(decks['compared'], 'deck')} {words}.", indent=2)
        return
    yield paragraph(
        f"{len(different)} of {decks['compared']} are not what their scenarios give:", indent=2
    )
    for deck in different[:_MOST_LISTED]:
        only = ", last printed digits only" if deck["rounding"] else ""
        yield bullet(
            f"first in line {deck['line']}{only}", lead=f"{deck['case']}, {deck['window']}"
        )
        recorded, rebuilt = _where_they_part(deck["recorded"], deck["rebuilt"])
        yield hanging("recorded  ", recorded, indent=6)
        yield hanging("rebuilt   ", rebuilt, indent=6)
    yield from _more(different)


def _where_they_part(recorded: str, rebuilt: str) -> tuple[str, str]:
    """Two lines cut to a little before their first difference and a little after it."""
    letters = enumerate(zip(recorded, rebuilt, strict=False))
    shorter = min(len(recorded), len(rebuilt))
    same = next((k for k, (was, now) in letters if was != now), shorter)
    start = 0 if same < 40 else same - 20
    cut = "…" if start else ""
    shown = [f"{cut}{text[start : start + 80]}" for text in (recorded, rebuilt)]
    return shown[0] or "(nothing)", shown[1] or "(nothing)"


def _cases(cases: Sequence[Record]) -> Blocks:
    yield heading("Cases")
    counts = Counter(case["status"] for case in cases)
    said = [f"{counts[status]} {words}" for status, words in _STATUSES.items() if counts[status]]
    yield paragraph(f"{', '.join(said) or 'none'}.", indent=2)
    if largest := _largest(cases):
        yield paragraph(largest, indent=2)
    told = [case for case in cases if case["status"] != "reproduced" or case["reason"]]
    for case in told[:_MOST_LISTED]:
        yield bullet("; ".join(_differences(case)), lead=f"{case['id']}, {case['status']}")
    yield from _more(told)


def _largest(cases: Sequence[Record]) -> str:
    items = [
        (abs(item["difference_percent"]), case["id"], item)
        for case in cases
        if (item := case["largest_difference"]) and item["difference_percent"] is not None
    ]
    if not items:
        return ""
    size, case_id, item = max(items, key=lambda found: found[0])
    number = sum(case["compared"] for case in cases)
    if size < _NOTHING:
        return f"{number} numbers compared; none differs by as much as {_NOTHING:g} %."
    return (
        f"{number} numbers compared; the largest difference is {size:.2g} %"
        f" ({case_id}, {in_words(item['what'])})."
    )


def _differences(case: Record) -> Iterator[str]:
    if case["reason"]:
        yield case["reason"]
    yield from case["edges"]
    yield from case["given"][:3]
    for verdict in case["verdicts"][:3]:
        near = ", at a threshold" if verdict["edge"] else ""
        yield f"{verdict['what']}: {verdict['claimed']} claimed, {verdict['reproduced']} here{near}"
    for item in case["numbers"][:3]:
        claimed, found = (_number(item[key], item["unit"]) for key in ("claimed", "reproduced"))
        yield f"{in_words(item['what'])}: {claimed} claimed, {found} here"
    hidden = sum(max(len(case[key]) - 3, 0) for key in ("given", "verdicts", "numbers"))
    if hidden:
        yield f"{hidden} more"


def _number(value: float | None, unit: str) -> str:
    """With enough digits to see half a percent."""
    if value is None:
        return "nothing"
    symbol = f" {unit}" if unit != "rating" else " of the rating"
    return f"{value:.4g}{symbol}"


def _alternatives(entries: Sequence[Record]) -> Blocks:
    if not entries:
        return
    yield heading("Alternatives", aside="each by its worst terminal")
    groups = [
        Rows(name=label_of(entry), cells=[_alternative(entry)], notes=_note(entry))
        for entry in entries
    ]
    heads = ["worst terminal", "claimed", "peak", "here", "peak", "differs"]
    yield from grouped_table(heads, groups)


def label_of(entry: Record) -> str:
    """The levels of an alternative, those that make no difference left out."""
    levels = [f"{axis} {level}" for axis, level in entry["axes"].items() if level is not None]
    return ", ".join(levels) or "as described"


def _note(entry: Record) -> list[str]:
    if entry["status"] == "at a threshold":
        return ["at a threshold: either verdict is right"]
    return ["not the verdict claimed"] if entry["status"] == "differs" else []


def _alternative(entry: Record) -> list[str]:
    claimed, found = entry["claimed"] or {}, entry["reproduced"] or {}
    shown = found or claimed
    terminal = f"{shown.get('equipment') or '-'}, {shown.get('pair') or '-'}"
    return [
        terminal,
        *(cell for side in (claimed, found) for cell in (side.get("verdict", "-"), _peak(side))),
        _between(claimed.get("peak_v"), found.get("peak_v")),
    ]


def _peak(side: Record) -> str:
    if not side or side.get("equipment") is None:
        return numbers.ABSENT
    peak = side.get("peak_v")
    return "fires" if peak is None else numbers.signed(peak, "V")


def _between(claimed: float | None, found: float | None) -> str:
    if claimed is None or found is None or claimed == 0.0:
        return numbers.ABSENT
    percent = 100.0 * (found - claimed) / abs(claimed)
    return f"{percent:+.2f} %" if abs(percent) < 1000.0 else ">1000 %"


def _claims(claims: Sequence[Record]) -> Blocks:
    if not claims:
        return
    yield heading("Claims")
    rows = [
        Rows(
            name=claim["name"],
            aside=f": {label_of(claim)}",
            cells=[
                [
                    f"{claim['equipment']}, {claim['pair']}",
                    numbers.percentage(claim["asked_percent"]),
                    _margin(claim["claimed_percent"]),
                    _margin(claim["reproduced_percent"]),
                    claim["status"],
                ]
            ],
        )
        for claim in claims
    ]
    yield from grouped_table(["terminal", "asked", "claimed", "here", "the claim is"], rows)


def _margin(percent: float | None) -> str:
    return "no margin" if percent is None else numbers.margin(percent)


def _tolerances(tolerances: Record) -> str:
    return (
        f"{numbers.percentage(tolerances['number_percent'])} of peaks and charges,"
        f" {numbers.percentage(tolerances['squared_percent'])} of energies and shares,"
        f" {numbers.percentage(tolerances['flashover_percent'])} of the voltage at which insulation"
        f" fires. {tolerances['why']}"
    )
