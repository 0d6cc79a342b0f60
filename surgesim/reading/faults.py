"""What pydantic complains of, put as a person can act on it: where, what came, what fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic_core import ErrorDetails

from surgesim.reading.fields import (
    below,
    example_of,
    form_example,
    is_form,
    is_union,
    keys_of,
)
from surgesim.reading.form import Form
from surgesim.reading.names import did_you_mean, nearest
from surgesim.reading.tree import Listing, Mapping, Tree, shorten

MISSING = "is missing"
EMPTY = "is empty"

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a tree. ``meant`` is the path that a misspelt key was meant to have."""

    path: Path
    message: str
    hint: str = ""
    is_missing: bool = False
    meant: Path | None = None


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a fault is: its path in the file, the type holding it and the type expected there."""

    path: Path
    owner: Any
    expected: Any

    @property
    def key(self) -> str:
        return str(self.path[-1]) if self.path else ""


def fault_of(model: type[Form], tree: Tree, detail: ErrorDetails) -> Fault:
    """One pydantic error as a fault of ``tree``."""
    place = _place(model, tree, detail["loc"])
    kind, context, came = detail["type"], detail.get("ctx", {}), detail["input"]
    if kind == "missing":
        return Fault(place.path, MISSING, _example(place), is_missing=True)
    if kind == "extra_forbidden":
        return _unknown_key(place)
    if kind == "literal_error":
        return Fault(place.path, _not_one_of(came, context["expected"]))
    if kind == "union_tag_invalid":
        expected = context["expected_tags"]
        return Fault((*place.path, "kind"), _not_one_of(context["tag"], expected))
    if kind == "union_tag_not_found":
        return Fault(place.path, "has no 'kind'", "for example 'kind: varistor arrester'")
    if kind in _PLAIN:
        return Fault(place.path, _PLAIN[kind], _example(place))
    return Fault(place.path, detail["msg"])


_PLAIN = {
    "model_type": "expected keys below it",
    "dict_type": "expected keys below it",
    "tuple_type": "expected a list",
    "too_short": EMPTY,
    "too_long": "has too many values",
    "string_too_short": "says too little",
}


def _place(model: type[Form], tree: Tree, loc: tuple[str | int, ...]) -> _Place:
    """Where a pydantic location stands in the file.

    A location has steps that no file has: the tag of a union, the field into which a form
    gathers its free keys, the parts of a phrase, the mark of a key. They are left out.
    """
    path: list[str | int] = []
    owner: Any = None
    kind: Any = model
    here: Tree | None = tree
    for step in loc:
        tag = is_union(kind)
        gathered = is_form(kind) and step == kind.gathered
        above, kind = kind, below(kind, step)
        if tag or gathered or step == "[key]":
            continue
        found = _child(here, step)
        if found is not None or isinstance(here, Mapping):
            path.append(step)
            owner, here = above, found
    return _Place(tuple(path), owner, kind)


def _child(tree: Tree | None, step: str | int) -> Tree | None:
    if isinstance(tree, Mapping):
        return tree.entries.get(str(step))
    if isinstance(tree, Listing) and isinstance(step, int) and step < len(tree.items):
        return tree.items[step]
    return None


def _unknown_key(place: _Place) -> Fault:
    keys = keys_of(place.owner)
    glued = next((key for key in keys if place.key.startswith(f"{key}:")), None)
    near = glued or nearest(place.key, keys)
    hint = did_you_mean(place.key, keys)
    if glued is not None:
        hint = f"write a space behind the colon, '{glued}: …'"
    above = place.path[:-1]
    return Fault(place.path, "unknown key", hint, meant=(*above, near) if near else None)


def _not_one_of(came: object, expected: object) -> str:
    if isinstance(came, str) and came:
        return f"{shorten(came)!r} is not one of: {expected}"
    return f"expected one of: {expected}"


def _example(place: _Place) -> str:
    example = example_of(place.owner, place.key) or form_example(place.expected)
    return f"for example '{shorten(place.key)}: {example}'" if example else ""
