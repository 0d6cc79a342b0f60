"""Names that must be known: the places and cards that the things of a scenario refer to.

This is looked up on the tree, before anything is made of it, so that a misspelt name is told
in the same go as a misspelt key.
"""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.catalogue.library import built_in
from surgesim.reading.names import did_you_mean
from surgesim.reading.tree import Mapping, Scalar, Tree, shorten

Complaint = tuple[tuple[str, ...], str, str]

_PLACES = {
    "cables": ("from", "to"),
    "earths": ("at",),
    "supply": ("at",),
    "arresters": ("at",),
    "equipment": ("at",),
}
_CARDS = (
    ("cables", "type", ("cable", "textbook line"), "a cable"),
    ("bonds", "type", ("cable",), "a cable"),
    ("arresters", "card", ("varistor arrester", "textbook limiter"), "an arrester"),
    ("surges", "shape", ("surge shape",), "a surge shape"),
)


def unknown_references(tree: Mapping) -> Iterator[Complaint]:
    """Every reference to a place or card that is not there, or to a card of another kind."""
    yield from _unknown_places(tree)
    kinds = card_kinds(tree)
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


def _unknown_places(tree: Mapping) -> Iterator[Complaint]:
    places = tree.entries.get("places")
    if not isinstance(places, Mapping) or not places.entries:
        return  # reported as missing or empty
    for section, keys in _PLACES.items():
        for key in keys:
            for name, place in _values(tree, section, key):
                if place not in places.entries:
                    hint = did_you_mean(place, places.entries)
                    yield (section, name, key), f"no place {shorten(place)!r}", hint


def card_kinds(tree: Mapping) -> dict[str, str]:
    """Kind of every card by its name, shipped or in the file; empty where it cannot be read."""
    kinds: dict[str, str] = {name: card.kind for name, card in built_in().items()}
    own = tree.entries.get("cards")
    if isinstance(own, Mapping):
        for name, card in own.entries.items():
            kind = card.entries.get("kind") if isinstance(card, Mapping) else None
            kinds[name] = kind.text if isinstance(kind, Scalar) else ""
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
