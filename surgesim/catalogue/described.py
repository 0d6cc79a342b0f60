"""Cards as plain rows for people: name, kind and a line; field, value and source."""

from __future__ import annotations

import re
from collections.abc import Iterator

from surgesim.catalogue.cards import AnyCard


def card_rows(cards: dict[str, AnyCard]) -> list[dict[str, str]]:
    """Each card as ``name``, ``kind`` and ``line``, by kind and name."""
    rows = [{"name": n, "kind": card.kind, "line": card.about} for n, card in cards.items()]
    return sorted(rows, key=lambda row: (row["kind"], _natural(row["name"])))


def card_fields(card: AnyCard) -> list[dict[str, str]]:
    """Each value of a card as ``field``, ``value`` and ``source``."""
    return list(_fields(card))


def _fields(card: AnyCard) -> Iterator[dict[str, str]]:
    for key, entry in card.written().items():
        if isinstance(entry, dict):
            yield {"field": key, "value": str(entry["value"]), "source": str(entry["source"])}
        else:
            text = ", ".join(map(str, entry)) if isinstance(entry, list | tuple) else str(entry)
            yield {"field": key, "value": text, "source": ""}


def _natural(name: str) -> list[tuple[float, str]]:
    """Sorts ``5x6 mm2`` before ``5x16 mm2``: numbers in a name count by size."""
    words = re.findall(r"\d+(?:\.\d+)?|\D+", name)
    return [(float(word), "") if word[0].isdigit() else (-1.0, word) for word in words]
