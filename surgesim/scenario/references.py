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
from surgesim.reading.tree import MOST_PROBLEMS, Mapping, Scalar, Tree, shorten
from surgesim.scenario.schema import Scenario

CONDUCTORS: tuple[str, ...] = typing.get_args(Conductor)

Complaint = tuple[tuple[str, ...], str, str]

_PLACES = {
    "cables": ("from", "to"),
    "earths": ("at",),
    "supply": ("at",),
    "arresters": ("at",),
    "equipment": ("at",),
}
_TERMINALS = {"bonds": ("from", "to"), "surges": ("into", "returns")}
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
    """Each unknown place once, where it is first named, however many things name it."""
    places = tree.entries.get("places")
    if not isinstance(places, Mapping) or not places.entries:
        return  # reported as missing or empty
    named: dict[str, list[tuple[str, ...]]] = {}
    for path, place in _named_places(tree, places.entries):
        if place not in places.entries:
            named.setdefault(place, []).append(path)
    for place, paths in named.items():
        hint = did_you_mean(place, places.entries)
        if len(paths) > 1:
            hint = f"several things name it; {hint}".removesuffix("; ")
        yield paths[0], f"no place {shorten(place)!r}", hint


def _named_places(tree: Mapping, places: Container[str]) -> Iterator[tuple[tuple[str, ...], str]]:
    for section, keys in _PLACES.items():
        for key in keys:
            for name, place in _values(tree, section, key):
                yield (section, name, key), place
    for section, keys in _TERMINALS.items():
        for key in keys:
            for name, text in _values(tree, section, key):
                meant = place_meant(text, places)
                if meant is not None:
                    yield (section, name, key), meant


def place_meant(text: str, places: Container[str]) -> str | None:
    """The place that ``"array frame"`` means, if no way to divide it gives one that is known."""
    spaces = [index for index, letter in enumerate(text) if letter == " "]
    if any(text[:index] in places for index in spaces):
        return None
    return next((text[:index] for index in spaces if text[index + 1 :] in CONDUCTORS), None)


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
