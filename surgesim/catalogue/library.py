"""The cards that come with surgesim, read once from ``models/``."""

from __future__ import annotations

import functools
from pathlib import Path

from surgesim.catalogue.cards import AnyCard, CardFile
from surgesim.errors import InputError
from surgesim.reading.data import data_folder
from surgesim.reading.names import collisions
from surgesim.reading.schema import check
from surgesim.reading.tree import first_of, read_tree


@functools.cache
def built_in() -> dict[str, AnyCard]:
    """Every card in ``models/`` by name. A card without provenance does not load."""
    return read_folder(data_folder("models"))


def read_folder(folder: Path) -> dict[str, AnyCard]:
    """The cards of every file in a folder and those below it; no name may come twice."""
    cards: dict[str, AnyCard] = {}
    for path in sorted(folder.rglob("*.yaml")):
        found = read_cards(path)
        for first, second in collisions([*cards, *found]):
            raise InputError.of(f"{second!r} differs from {first!r} by lettering", file=str(path))
        for name in found.keys() & cards.keys():
            raise InputError.of(f"card {name!r} stands in another file too", file=str(path))
        cards |= found
    return cards


def read_cards(path: Path) -> dict[str, AnyCard]:
    """The cards of one file. Raises InputError with every problem it has."""
    tree = read_tree(path)
    found = check(CardFile, tree, str(path))
    if isinstance(found, CardFile):
        return found.cards
    raise InputError(first_of(found, str(path)))
