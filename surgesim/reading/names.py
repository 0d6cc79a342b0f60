"""Names that users give to things: what is allowed, and the nearest one to a misspelling."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable

LONGEST = 60
MOST_OPTIONS = 300
MOST_SHOWN = 240
FORBIDDEN = '."/|'


def complaint_about(name: str, *, forbidden: str = FORBIDDEN) -> str:
    """Why ``name`` cannot be used, or an empty text.

    Names reach a circuit, a file of results and a screen, so they are one printable line in
    composed Unicode without the characters that separate a path.
    """
    if not name.strip():
        return "a name must not be empty"
    if not is_printable(name):
        return "a name is one line of printable characters"
    if name != name.strip() or "  " in name:
        return "a name has no spaces at its ends and no double ones"
    if any(unicodedata.category(letter) == "Zs" for letter in name.replace(" ", "")):
        return "a name has plain spaces only, no wide or unbreakable ones"
    if len(name) > LONGEST:
        return f"a name has at most {LONGEST} characters"
    if any(letter in forbidden for letter in name):
        return f"a name cannot hold any of {' '.join(forbidden)}"
    if unicodedata.normalize("NFC", name) != name:
        return "a name must be in composed Unicode (NFC)"
    return ""


def is_printable(text: str) -> bool:
    """Whether ``text`` has no control characters, line ends or signs that only steer a screen."""
    return not any(
        unicodedata.category(letter) in ("Cc", "Cf", "Zl", "Zp", "Cs", "Co") for letter in text
    )


def folded(name: str) -> str:
    """The form under which two names count as the same."""
    return unicodedata.normalize("NFKC", name).casefold()


def collisions(names: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs (earlier, later) of names that differ only by case or lettering."""
    seen: dict[str, str] = {}
    found = []
    for name in names:
        earlier = seen.setdefault(folded(name), name)
        if earlier != name:
            found.append((earlier, name))
    return found


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that ``name`` most resembles, None when none is near."""
    options = list(dict.fromkeys(known))[:MOST_OPTIONS]
    fold = {folded(option): option for option in options}
    near = difflib.get_close_matches(folded(name[:200]), list(fold), n=1, cutoff=0.6)
    return fold[near[0]] if near else None


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """A hint naming the nearest known name, or all of them when few and none is near."""
    options = list(dict.fromkeys(known))
    near = nearest(name, options)
    return f"did you mean {near!r}?" if near is not None else known_names(options)


def known_names(options: Iterable[str]) -> str:
    """A hint that lists the known names, or an empty text when there are none or too many."""
    shown = ", ".join(repr(option) for option in options)
    return f"known: {shown}" if 0 < len(shown) <= MOST_SHOWN else ""
