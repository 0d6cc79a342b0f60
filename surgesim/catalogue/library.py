"""The cards that come with surgesim, read once from ``models/``."""

from __future__ import annotations

import functools
from pathlib import Path

from surgesim.catalogue.cards import AnyCard, CardFile
from surgesim.errors import InputError, Problem
from surgesim.reading.data import data_folder
from surgesim.reading.schema import check
from surgesim.reading.tree import first_of, read_tree


@functools.cache
def built_in() -> dict[str, AnyCard]:
    """Every card in ``models/`` by name. A card without provenance does not load."""
    cards: dict[str, AnyCard] = {}
    for path in sorted(data_folder("models").rglob("*.yaml")):
        for name, card in read_cards(path).items():
            if name in cards:
                raise InputError.of(f"card {name!r} stands in another file too", file=str(path))
            cards[name] = card
    return cards


def read_cards(path: Path) -> dict[str, AnyCard]:
    """The cards of one file. Raises InputError with every problem it has."""
    tree = read_tree(path)
    found = check(CardFile, tree, str(path))
    if isinstance(found, CardFile):
        return found.cards
    raise InputError(first_of(found, str(path)))


def card_problems(path: Path) -> list[Problem]:
    """What is wrong with a file of cards; an empty list when nothing is."""
    try:
        read_cards(path)
    except InputError as error:
        return list(error.problems)
    return []
