"""A YAML file as a tree of text with line numbers.

Every scalar stays the text it was written as; the schema decides what it means. So ``012``,
``no`` and ``12:30`` can never turn into something else on the way, and nothing in a file can
name a class or run code. Bytes, depth and number of nodes are capped, aliases are refused:
a stranger's file costs bounded time and memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from surgesim.errors import InputError, Problem
from surgesim.reading.broken import broken
from surgesim.reading.commas import comma_advice

MOST_BYTES = 1_000_000
ZIPPED = b"PK\3\4"
MOST_DEPTH = 24
MOST_NODES = 50_000
MOST_COLUMNS = 10_000
MOST_PROBLEMS = 100


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something stands: line and column, from 1."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Scalar:
    """A value as the text it was written as."""

    text: str
    spot: Spot


@dataclass(frozen=True, slots=True)
class Listing:
    """Values in file order."""

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
    data = b""
    try:
        is_folder = path.is_dir()
        if not is_folder:
            with path.open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise InputError.of("no such file", file=name) from None
    except OSError as error:
        raise InputError.of(f"cannot be read: {error.strerror}", file=name) from None
    except ValueError:
        raise InputError.of("is no file name", file=shorten(name)) from None
    if is_folder:
        raise InputError.of("is a folder; expected a file", file=name)
    if data.startswith(ZIPPED):
        hint = "if it is a record, 'surgesim reproduce' runs it again"
        raise InputError.of("is a zip file; expected a text", file=name, hint=hint)
    if len(data) > MOST_BYTES:
        raise InputError.of(f"is larger than {MOST_BYTES // 1_000_000} MB; refused", file=name)
    return data


def parse_tree(data: bytes, name: str) -> Mapping:
    """Parse YAML bytes to a mapping at the top. ``name`` is the file shown in messages."""
    tree = _Parser(_text_of(data, name), name).parse()
    if tree is None:
        raise InputError.of("is empty; expected a file that begins 'surgesim: 1'", file=name)
    if not isinstance(tree, Mapping):
        _refuse(name, tree.spot, "expected keys such as 'places:' at the top")
    return tree


def _text_of(data: bytes, name: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        _refuse(name, Spot(line, 1), "is not UTF-8 text", hint="save the file as UTF-8")
    for number, row in enumerate(text.split("\n"), start=1):
        if len(row) > MOST_COLUMNS:
            _refuse(
                name, Spot(number, 1), f"line is longer than {MOST_COLUMNS} characters; refused"
            )
    return text


def _refuse(name: str, spot: Spot, message: str, *, path: str = "", hint: str = "") -> NoReturn:
    raise InputError([Problem(name, spot.line, spot.column, path, message, hint)])


_LONE_SURROGATE = re.compile("[\ud800-\udfff]")
_Keys = tuple[str, ...]


@dataclass(slots=True)
class _Parser:
    """Builds the tree from the YAML reader's events, keeping count of what a file costs."""

    text: str
    name: str
    nodes: int = 0
    problems: list[Problem] = field(default_factory=list)

    def parse(self) -> Tree | None:
        tree = self._document(self._events())
        if self.problems:
            raise InputError(first_of(self.problems, self.name))
        return tree

    def _events(self) -> Iterator[Any]:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import YAMLError

        try:
            yield from YAML(typ="safe", pure=True).parse(self.text)
        except YAMLError as error:
            raise InputError([broken(error, self.text, self.name)]) from None
        except (ValueError, OverflowError):
            # the reader turns "\UFFFFFFFF" into a character without a look at the number
            raise InputError.of(
                "has an escape such as \\U that stands for no character",
                file=self.name, hint="write the character itself",
            ) from None  # fmt: skip

    def _document(self, events: Iterator[Any]) -> Tree | None:
        tree: Tree | None = None
        documents = 0
        for event in events:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    self._refuse(event, (), "a second document begins here ('---'); expected one")
            elif kind in ("ScalarEvent", "MappingStartEvent", "SequenceStartEvent", "AliasEvent"):
                tree = self._node(event, events, ())
        empty = isinstance(tree, Scalar) and not tree.text.strip()
        return None if empty else tree

    def _node(self, event: Any, events: Iterator[Any], path: _Keys) -> Tree:
        self._guard(event, path)
        spot = _spot(event)
        kind = type(event).__name__
        if kind == "ScalarEvent":
            if _LONE_SURROGATE.search(event.value):
                self._refuse(event, path, "holds half a character", hint="write the whole one")
            return Scalar(event.value, spot)
        if kind == "SequenceStartEvent":
            return Listing(tuple(self._items(events, path)), spot)
        return self._mapping(event, events, path)

    def _guard(self, event: Any, path: _Keys) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            self._refuse(event, (), f"holds more than {MOST_NODES} values; refused")
        if len(path) >= MOST_DEPTH:
            self._refuse(event, (), f"is nested deeper than {MOST_DEPTH} levels; refused")
        if type(event).__name__ == "AliasEvent" or event.anchor is not None:
            self._refuse(
                event, path, "is a YAML anchor or alias (& or *)", hint="write the value out"
            )
        if event.tag is not None:
            self._refuse(event, path, "has a YAML tag (!)", hint="write a plain value")

    def _items(self, events: Iterator[Any], path: _Keys) -> Iterator[Tree]:
        for event in events:
            if type(event).__name__ == "SequenceEndEvent":
                return
            yield self._node(event, events, (*path, ""))

    def _mapping(self, start: Any, events: Iterator[Any], path: _Keys) -> Mapping:
        entries: dict[str, Tree] = {}
        keys: dict[str, Spot] = {}
        before = ""
        for event in events:
            if type(event).__name__ == "MappingEndEvent":
                break
            if type(event).__name__ != "ScalarEvent":
                self._refuse(event, path, "a key must be plain text")
            key = self._node(event, events, path)
            assert isinstance(key, Scalar)
            value = self._node(next(events), events, (*path, key.text))
            if start.flow_style and self._is_rest_of_number(event, entries.get(before), value):
                self._note_comma(entries[before], keys[before], (*path, before), key.text)
            elif key.text in entries:
                words = f"key stands twice in the same place, first on line {keys[key.text].line}"
                self._note(key.spot, (*path, key.text), words)
            else:
                entries[key.text], keys[key.text] = value, key.spot
                before = key.text
        return Mapping(entries, keys, _spot(start))

    def _is_rest_of_number(self, key: Any, before: Tree | None, value: Tree) -> bool:
        """Whether ``key`` is the ``5 kV`` of ``{withstand: 1,5 kV}``, which YAML cuts in two."""
        index = key.start_mark.index
        return (
            isinstance(before, Scalar)
            and value == Scalar("", value.spot)
            and before.text[-1:].isdigit()
            and self.text[index - 2 : index] == before.text[-1:] + ","
            and key.value[:1].isdigit()
        )

    def _note_comma(self, before: Tree, spot: Spot, path: _Keys, rest: str) -> None:
        assert isinstance(before, Scalar)
        whole = shorten(f"{before.text},{rest}")
        advice = f"{comma_advice(whole)}; put a text with a comma in quotes"
        self._note(spot, path, f"{whole!r} has a comma between digits", hint=advice)

    def _note(self, spot: Spot, path: _Keys, message: str, *, hint: str = "") -> None:
        self.problems.append(
            Problem(self.name, spot.line, spot.column, shown_path(path), message, hint)
        )

    def _refuse(self, event: Any, path: _Keys, message: str, *, hint: str = "") -> NoReturn:
        _refuse(self.name, _spot(event), message, path=shown_path(path), hint=hint)


def _spot(event: Any) -> Spot:
    return Spot(event.start_mark.line + 1, event.start_mark.column + 1)


def distinct(problems: Iterable[Problem]) -> list[Problem]:
    """Problems without repetition, one more than a person reads at most."""
    found: dict[Problem, None] = {}
    for problem in problems:
        found[problem] = None
        if len(found) > MOST_PROBLEMS:
            break
    return list(found)


def first_of(problems: Iterable[Problem], name: str) -> list[Problem]:
    """Problems without repetition, as many as a person reads; says so when there are more."""
    found = distinct(problems)
    if len(found) <= MOST_PROBLEMS:
        return found
    words = f"has more than {MOST_PROBLEMS} problems; the first {MOST_PROBLEMS} are shown"
    return [Problem(name, 0, 0, "", words), *found[:MOST_PROBLEMS]]


def shown_path(path: Iterable[str | int]) -> str:
    """A path as messages show it, without the places in lists."""
    return ".".join(shorten(step) for step in path if isinstance(step, str) and step)


def shorten(text: str, *, most: int = 60) -> str:
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


def with_entry(tree: Mapping, key: str, value: Tree) -> Mapping:
    """A mapping like ``tree`` with ``value`` under ``key``."""
    keys = {**tree.keys, key: tree.keys.get(key, tree.spot)}
    return Mapping({**tree.entries, key: value}, keys, tree.spot)


def count_of(tree: Tree) -> int:
    """How many values a tree holds, keys not counted."""
    below: Iterable[Tree] = ()
    if isinstance(tree, Mapping):
        below = tree.entries.values()
    elif isinstance(tree, Listing):
        below = tree.items
    return 1 + sum(count_of(item) for item in below)


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
