"""Names that must be known: the places and cards that the things of a scenario refer to.

This is looked up on the tree, before anything is made of it, so that a misspelt name is told
in the same go as a misspelt key.
"""

from __future__ import annotations

import typing
from collections.abc import Container, Iterator

from surgesim.catalogue.cards import Conductor
from surgesim.catalogue.library import built_in
from surgesim.reading.fields import keys_of
from surgesim.reading.names import did_you_mean, nearest
from surgesim.reading.tree import MOST_PROBLEMS, Listing, Mapping, Scalar, Tree, shorten
from surgesim.scenario.laying import enclosure_in
from surgesim.scenario.schema import Scenario

CONDUCTORS: tuple[str, ...] = typing.get_args(Conductor)
ARRESTER_KINDS = (
    "varistor arrester", "spark gap", "gas discharge tube", "arrester device", "textbook limiter",
)  # fmt: skip
CARD_KINDS = (
    *ARRESTER_KINDS, "cable", "textbook line", "enclosure", "surge shape", "surge generator",
)  # fmt: skip

Complaint = tuple[tuple[str, ...], str, str]

_PLACES: dict[str, tuple[str, ...]] = {
    "cables": ("from", "to"),
    "earths": ("at",),
    "supply": ("at",),
    "batteries": ("at",),
    "arresters": ("at",),
    "equipment": ("at",),
}
_TERMINALS: dict[str, tuple[str, ...]] = {"bonds": ("from", "to"), "surges": ("into", "returns")}
_CARDS = (
    ("cables", "type", ("cable", "textbook line"), "a cable"),
    ("bonds", "type", ("cable",), "a cable"),
    ("arresters", "card", ARRESTER_KINDS, "an arrester"),
    ("surges", "shape", ("surge shape",), "a surge shape"),
    ("surges", "generator", ("surge generator",), "a surge generator"),
)


def unknown_references(tree: Mapping) -> Iterator[Complaint]:
    """Every reference to a place or card that is not there, or to a card of another kind."""
    yield from _unknown_places(tree)
    kinds = card_kinds(tree)
    if "cards" in misspelt_sections(tree):
        return
    for section, key, wanted, words in _CARDS:
        seen = set()
        for name, card in _values(tree, section, key):
            if card in seen:
                continue  # one misspelt name is one fault, however many things share it
            seen.add(card)
            message = _fault_of_card(card, kinds, wanted, words)
            if message:
                known = [option for option, kind in kinds.items() if kind in wanted]
                hint = did_you_mean(card, known) or "see 'surgesim models list'"
                yield (section, name, key), message, hint
    yield from _unknown_enclosures(tree, kinds)


def _unknown_enclosures(tree: Mapping, kinds: dict[str, str]) -> Iterator[Complaint]:
    """The metal that cables lie in, which a laying names within its words."""
    cables = tree.entries.get("cables")
    for name, cable in cables.entries.items() if isinstance(cables, Mapping) else ():
        laying = cable.entries.get("laying") if isinstance(cable, Mapping) else None
        parts = laying.items if isinstance(laying, Listing) else (laying,)
        for part in parts:
            card = enclosure_in(part.text) if isinstance(part, Scalar) else None
            if card is None:
                continue
            wanted = ("enclosure",)
            message = _fault_of_card(card, kinds, wanted, "metal that cables lie in")
            if message:
                known = [option for option, kind in kinds.items() if kind in wanted]
                hint = did_you_mean(card, known) or "see 'surgesim models list'"
                yield ("cables", name, "laying"), message, hint


def _unknown_places(tree: Mapping) -> Iterator[Complaint]:
    """Each unknown place once, where it is first named, however many things name it."""
    places = tree.entries.get("places")
    if not isinstance(places, Mapping) or not places.entries:
        return  # reported as missing or empty
    known = places.entries
    named: dict[str, list[tuple[str, ...]]] = {}
    for path, place in _values_of(tree, _PLACES):
        if place not in known:
            named.setdefault(place, []).append(path)
    for path, text in _values_of(tree, _TERMINALS):
        meant = place_meant(text, known, unknown=set(named))
        if meant is not None:
            named.setdefault(meant, []).append(path)
    for place, paths in named.items():
        hint = did_you_mean(place, known)
        if len(paths) > 1:
            hint = f"several things name it; {hint}".removesuffix("; ")
        yield paths[0], f"no place {shorten(place)!r}", hint


def place_meant(text: str, known: Container[str], *, unknown: Container[str]) -> str | None:
    """The unknown place that ``"array frame"`` means; None if it can mean a known one.

    It is one that other things name too, or whatever stands before a conductor.
    """
    spaces = [index for index, letter in enumerate(text) if letter == " "]
    if any(text[:index] in known for index in spaces):
        return None
    for index in spaces:
        if text[:index] in unknown or text[index + 1 :] in CONDUCTORS:
            return text[:index]
    return None


def _values_of(
    tree: Mapping, keys: dict[str, tuple[str, ...]]
) -> Iterator[tuple[tuple[str, ...], str]]:
    for section, names in keys.items():
        for key in names:
            for thing, text in _values(tree, section, key):
                yield (section, thing, key), text


def misspelt_sections(tree: Mapping) -> set[str]:
    """Sections that the unknown keys at the top of a file were meant to be."""
    keys = keys_of(Scenario)
    unknown = [key for key in tree.entries if key not in keys]
    near = [nearest(key, keys) for key in unknown[:MOST_PROBLEMS]]
    return {section for section in near if section is not None}


def card_kinds(tree: Mapping) -> dict[str, str]:
    """Kind of every card by its name, shipped or in the file; empty where it cannot be read."""
    kinds: dict[str, str] = {name: card.kind for name, card in built_in().items()}
    own = tree.entries.get("cards")
    if isinstance(own, Mapping):
        for name, card in own.entries.items():
            kind = card.entries.get("kind") if isinstance(card, Mapping) else None
            text = kind.text if isinstance(kind, Scalar) else ""
            kinds[name] = text if text in CARD_KINDS else ""
    return kinds


def _fault_of_card(card: str, kinds: dict[str, str], wanted: tuple[str, ...], words: str) -> str:
    kind = kinds.get(card)
    if kind is None:
        return f"no card {shorten(card)!r}"
    if kind and kind not in wanted:
        return f"card {shorten(card)!r} is a {shorten(kind)}, not {words}"
    return ""


def _values(tree: Mapping, section: str, key: str) -> Iterator[tuple[str, str]]:
    """Name and text of ``key`` of each thing in a section, where there is one."""
    things: Tree | None = tree.entries.get(section)
    for name, thing in things.entries.items() if isinstance(things, Mapping) else ():
        value = thing.entries.get(key) if isinstance(thing, Mapping) else None
        text = " ".join(value.text.split()) if isinstance(value, Scalar) else ""
        if text:
            yield name, text
