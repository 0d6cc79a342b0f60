"""How the current that strikes a place divides, in print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import CaseKey, Record, View

_NEGLIGIBLE = 0.005
_EXPLAINED = (
    "Shares of what is injected at that moment, counted from the surge's virtual origin; at first "
    "waves are still on their way, and a share may pass 100 % or be negative. By hand: half into "
    "the earths of what is struck, half along its cables (IEC 62305-1 Annex E, from memory), a "
    "first guess."
)


def of_alternative(cases: Sequence[Record], view: View, key: CaseKey) -> Iterator[RenderableType]:
    """For each surge the case of an alternative in which its cables take most."""
    worst: dict[str, Record] = {}
    for case in cases:
        if case.get("split"):
            known = worst.get(case["surge"])
            if known is None or _by_cable(case) > _by_cable(known):
                worst[case["surge"]] = case
    axes = view.findings["axes"]
    of_nature = [name for name, axis in axes.items() if axis["role"] == "worst of"]
    told = []
    for case in worst.values():
        levels = {name: case["axes"].get(name) for name in of_nature}
        told.append((case, [key.letter({"surge": case["surge"], "worst_of": levels})]))
    yield from _table(told, aside="in the case where most goes by the cables", lettered=True)


def of_case(case: Record) -> Iterator[RenderableType]:
    """One case alone."""
    yield from _table([(case, [])] if case.get("split") else [], aside="", lettered=False)


def _table(
    told: Sequence[tuple[Record, list[str]]], *, aside: str, lettered: bool
) -> Iterator[RenderableType]:
    if not told:
        return
    yield heading("Where the struck current goes", aside=aside)
    moments = told[0][0]["split"]["moments_s"]
    heads = ["way", *(numbers.quantity(moment, "s") for moment in moments), "by hand"]
    groups = [group for case, letter in told for group in _groups(case, letter)]
    yield from grouped_table([*heads, "in"] if lettered else heads, groups)
    yield paragraph(_EXPLAINED)


def _groups(case: Record, letter: list[str]) -> Iterator[Rows]:
    split = case["split"]
    injected = [numbers.signed(amps, "A") for amps in split["injected_a"]]
    ways = [["injected", *injected, "", *letter]]
    for way in split["ways"]:
        if way["kind"] != "other" or _noteworthy(way):
            ways += _way(way, letter)
    yield Rows(name=case["surge"], aside=f", into {split['into']}, leaves {split['place']} by",
               cells=ways)  # fmt: skip
    earths = [
        [f"{earth['name']}, at {earth['place']}", *map(_percent, earth["share"]), "", *letter]
        for earth in split["earths"]
    ]
    yield Rows(name="", cells=[["and enters the soil by", *[""] * (len(ways[0]) - 1)], *earths])


def _way(way: Record, letter: list[str]) -> Iterator[list[str]]:
    name = way["name"] if way["kind"] == "other" else f"{way['kind']} {way['name']}"
    by_hand = way["hand_rule"]
    yield [name, *map(_percent, way["share"]), _percent(by_hand), *letter]
    conductors = way["conductors"]
    if len(conductors) > 1:
        each = None if by_hand is None else by_hand / len(conductors)
        for conductor in conductors:
            cells = map(_percent, conductor["share"])
            yield [f"- {conductor['name']}", *cells, _percent(each), *letter]


def _by_cable(case: Record) -> float:
    """Largest share, at any moment, that leaves by the cables."""
    shares = [way["share"] for way in case["split"]["ways"] if way["kind"] == "cable"]
    sums = (sum(each or 0.0 for each in moment) for moment in zip(*shares, strict=True))
    return max(sums, default=0.0)


def _noteworthy(way: Record) -> bool:
    return any(abs(share or 0.0) >= _NEGLIGIBLE for share in way["share"])


def _percent(share: float | None) -> str:
    """A share in whole percent; below ten to one more digit."""
    if share is None:
        return numbers.ABSENT
    percent = 100.0 * share
    text = f"{percent:.0f}" if abs(percent) >= 9.95 else f"{percent:.1f}"
    return f"{'0' if float(text) == 0.0 else text} %"
