"""A YAML file as a tree of text with line numbers.

Every scalar stays the text it was written as; the schema decides what it means. So ``012``,
``no`` and ``12:30`` can never turn into something else on the way, and nothing in a file can
name a class or run code. Bytes, depth and number of nodes are capped, aliases are refused:
a stranger's file costs bounded time and memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from surgesim.errors import InputError, Problem

MOST_BYTES = 1_000_000
MOST_DEPTH = 24
MOST_NODES = 50_000
MOST_PROBLEMS = 100


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something stands: line and column, from 1."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Scalar:
    text: str
    spot: Spot


@dataclass(frozen=True, slots=True)
class Listing:
    items: tuple[Tree, ...]
    spot: Spot


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys in file order; ``keys`` tells where each key stands."""

    entries: dict[str, Tree]
    keys: dict[str, Spot]
    spot: Spot


Tree = Scalar | Listing | Mapping


def read_tree(path: Path, *, shown: str = "") -> Mapping:
    """Read a YAML file whose top is a mapping. Raises InputError naming file and line."""
    name = shown or str(path)
    return parse_tree(_bytes_of(path, name), name)


def _bytes_of(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise InputError.of("is a directory; expected a scenario file", file=name)
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise InputError.of("no such file", file=name) from None
    except OSError as error:
        raise InputError.of(f"cannot be read: {error.strerror}", file=name) from None
    if len(data) > MOST_BYTES:
        raise InputError.of(f"is larger than {MOST_BYTES // 1_000_000} MB; refused", file=name)
    return data


def parse_tree(data: bytes, name: str) -> Mapping:
    """Parse YAML bytes to a mapping at the top. ``name`` is the file shown in messages."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError([Problem(name, line, 1, "", "is not UTF-8 text")]) from None
    tree = _Parser(text, name).parse()
    if tree is None:
        raise InputError.of("is empty; expected a scenario, beginning 'surgesim: 1'", file=name)
    if not isinstance(tree, Mapping):
        where = tree.spot
        raise InputError(
            [
                Problem(
                    name, where.line, where.column, "", "expected keys such as 'places:' at the top"
                )
            ]
        )
    return tree


@dataclass(slots=True)
class _Parser:
    text: str
    name: str
    nodes: int = 0
    duplicates: list[Problem] = field(default_factory=list)

    def parse(self) -> Tree | None:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import YAMLError

        reader = YAML(typ="safe", pure=True)
        try:
            tree = self._document(reader.parse(self.text))
        except YAMLError as error:
            raise InputError([self._broken(error)]) from None
        except (ValueError, RecursionError, AttributeError, IndexError, TypeError) as error:
            raise InputError.of(f"is not readable as YAML: {error}"[:200], file=self.name) from None
        if self.duplicates:
            raise InputError(self.duplicates[:MOST_PROBLEMS])
        return tree

    def _broken(self, error: Exception) -> Problem:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark is not None else (0, 0)
        words = getattr(error, "problem", None) or getattr(error, "context", None) or str(error)
        reason = " ".join(str(words).split())[:160]
        return Problem(self.name, line, column, "", f"is not well-formed YAML: {reason}")

    def _document(self, events: Iterator[Any]) -> Tree | None:
        tree: Tree | None = None
        documents = 0
        for event in events:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    self._refuse(event, "holds more than one document ('---'); expected one")
            elif kind in ("ScalarEvent", "MappingStartEvent", "SequenceStartEvent", "AliasEvent"):
                tree = self._node(event, events, 1)
        empty = isinstance(tree, Scalar) and not tree.text.strip()
        return None if empty else tree

    def _node(self, event: Any, events: Iterator[Any], depth: int) -> Tree:
        self._guard(event, depth)
        spot = Spot(event.start_mark.line + 1, event.start_mark.column + 1)
        kind = type(event).__name__
        if kind == "ScalarEvent":
            return Scalar(event.value, spot)
        if kind == "SequenceStartEvent":
            return Listing(tuple(self._items(events, depth)), spot)
        return self._mapping(events, depth, spot)

    def _guard(self, event: Any, depth: int) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            self._refuse(event, f"holds more than {MOST_NODES} values; refused")
        if depth > MOST_DEPTH:
            self._refuse(event, f"is nested deeper than {MOST_DEPTH} levels; refused")
        if type(event).__name__ == "AliasEvent" or event.anchor is not None:
            self._refuse(event, "uses a YAML anchor or alias (& or *); write the value out")
        if event.tag is not None:
            self._refuse(event, "uses a YAML tag (!); write a plain value")

    def _items(self, events: Iterator[Any], depth: int) -> Iterator[Tree]:
        for event in events:
            if type(event).__name__ == "SequenceEndEvent":
                return
            yield self._node(event, events, depth + 1)

    def _mapping(self, events: Iterator[Any], depth: int, spot: Spot) -> Mapping:
        entries: dict[str, Tree] = {}
        keys: dict[str, Spot] = {}
        for event in events:
            if type(event).__name__ == "MappingEndEvent":
                break
            key = self._node(event, events, depth + 1)
            value = self._node(next(events), events, depth + 1)
            if not isinstance(key, Scalar):
                self._refuse(event, "has a key that is not plain text")
                continue
            if key.text in entries:
                first = keys[key.text].line
                self._note(key, f"key stands twice in the same place, first on line {first}")
                continue
            entries[key.text], keys[key.text] = value, key.spot
        return Mapping(entries, keys, spot)

    def _note(self, key: Scalar, message: str) -> None:
        self.duplicates.append(
            Problem(self.name, key.spot.line, key.spot.column, shorten(key.text), message)
        )

    def _refuse(self, event: Any, message: str) -> None:
        mark = event.start_mark
        raise InputError([Problem(self.name, mark.line + 1, mark.column + 1, "", message)])


def shorten(text: str, most: int = 60) -> str:
    """A name or value fit for a message: one line, printable, bounded."""
    line = "".join(letter if letter.isprintable() else "?" for letter in text)
    return line if len(line) <= most else line[:most] + "…"


def plain(tree: Tree) -> Any:
    """The tree as plain dicts, lists and text."""
    if isinstance(tree, Scalar):
        return tree.text
    if isinstance(tree, Listing):
        return [plain(item) for item in tree.items]
    return {key: plain(value) for key, value in tree.entries.items()}


def overlay(base: Tree, patch: Tree) -> Tree:
    """``base`` with ``patch`` laid over it: mappings merge key by key, all else is replaced."""
    if not isinstance(base, Mapping) or not isinstance(patch, Mapping):
        return patch
    entries, keys = dict(base.entries), dict(base.keys)
    for key, value in patch.entries.items():
        entries[key] = overlay(entries[key], value) if key in entries else value
        keys[key] = patch.keys[key]
    return Mapping(entries, keys, base.spot)


def spot_of(tree: Tree, path: tuple[str | int, ...]) -> Spot:
    """Where the value at ``path`` stands: its key if it has one, else the nearest parent."""
    spot = tree.spot
    for step in path:
        if isinstance(tree, Mapping) and step in tree.entries:
            spot, tree = tree.keys[str(step)], tree.entries[str(step)]
        elif isinstance(tree, Listing) and isinstance(step, int) and step < len(tree.items):
            tree = tree.items[step]
            spot = tree.spot
        else:
            break
    return spot
