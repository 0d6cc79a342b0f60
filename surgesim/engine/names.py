"""Names for a deck: one short ASCII word for each node and element, never two alike.

ngspice folds case, turns every byte beyond ASCII into ``_`` and reads ``gnd`` as node 0. So a
deck name is a letter, a running number and, for the reader only, what is left of the user's
name: the number alone keeps two names apart.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND

_SLUG_LENGTH = 24
_DECK_NAME = re.compile(r"\b[a-z]?[nxt]\d+(?:_[a-z0-9]+)*\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """Deck names of a network's nodes and elements, by the names the network uses."""

    nodes: Mapping[str, str] = field(default_factory=dict)
    elements: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, network: Network) -> Names:
        """Names for every node and element of a network."""
        nodes = [node for node in network.nodes() if node != GROUND]
        names = cls(
            nodes={GROUND: "0", **_numbered("n", nodes)},
            elements=_numbered("x", [element.name for element in network.elements]),
        )
        names.require_distinct()
        return names

    def node(self, name: str) -> str:
        """The deck's name of a node; remote earth is ``0``."""
        return self.nodes[name]

    def element(self, name: str) -> str:
        """Deck name of an element without the letter of its kind."""
        return self.elements[name]

    def inner(self, element: str, tag: str) -> str:
        """A node inside an element's lowering; begins with ``x``, as no network node does."""
        return f"{self.elements[element]}_{tag}"

    def in_user_words(self, text: str) -> str:
        """The engine's text with each deck name replaced by the user's."""
        words = {deck.lower(): name for name, deck in self.nodes.items() if deck != "0"}
        words.update({deck.lower(): name for name, deck in self.elements.items()})
        return _DECK_NAME.sub(lambda match: _user_word(match.group(), words), text)

    def require_distinct(self) -> None:
        """Refuse to go on if two things share a deck name: they would be one in the engine."""
        taken: dict[str, str] = {}
        for user, deck in (*self.nodes.items(), *self.elements.items()):
            if not deck.isascii() or taken.setdefault(deck.casefold(), user) != user:
                other = taken.get(deck.casefold(), user)
                raise EngineError(f"deck name {deck!r} does not tell {user!r} from {other!r}")


def without_deck_names(text: str) -> str:
    """Text with every deck name taken out, those of terminals' probes too.

    So a user's word, of which names are made, cannot pass for the engine's.
    """
    return _DECK_NAME.sub("", text)


def printable(text: str) -> str:
    """A user's text as one line of printable ASCII, for a comment."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "replace").decode("ascii")
    return re.sub(r"[^ -~]+", " ", plain).strip()[:200]


def _numbered(letter: str, names: Iterable[str]) -> dict[str, str]:
    return {name: f"{letter}{number}{slug(name)}" for number, name in enumerate(names, start=1)}


def slug(name: str) -> str:
    """What is left of a name in lower-case ASCII words, short, with a ``_`` before it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    words = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:_SLUG_LENGTH].strip("_")
    return f"_{words}" if words else ""


def _user_word(deck_name: str, words: Mapping[str, str]) -> str:
    """The longest known beginning of a deck name, with or without a letter of kind before it."""
    for start in (deck_name, deck_name[1:]):
        pieces = start.lower().split("_")
        for count in range(len(pieces), 0, -1):
            known = words.get("_".join(pieces[:count]))
            if known is not None:
                return repr(known)
    return deck_name
