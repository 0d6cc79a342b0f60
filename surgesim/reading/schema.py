"""Checking a tree against a pydantic model, with messages that a person can act on."""

from __future__ import annotations

import types
import typing
from typing import Annotated, Any, ClassVar, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainSerializer, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from surgesim.errors import Problem
from surgesim.reading.names import FORBIDDEN, complaint_about, did_you_mean
from surgesim.reading.quantities import Quantity
from surgesim.reading.tree import Mapping, Scalar, Tree, plain, shorten, spot_of

Form_ = TypeVar("Form_", bound="Form")
Path = tuple[str | int, ...]


def _as_written(field: str) -> str:
    """``same_as`` is written ``same as`` in a file; a trailing ``_`` only avoids a keyword."""
    return field.rstrip("_").replace("_", " ")


class Form(BaseModel):
    """Base of everything a user can write: frozen, strict about keys, words as in the trade."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", alias_generator=_as_written, populate_by_name=True
    )
    examples: ClassVar[dict[str, str]] = {}

    def written(self) -> dict[str, Any]:
        """As plain text, keyed as in a file, without what was left out."""
        return self.model_dump(by_alias=True, exclude_none=True)


def _name(value: object) -> str:
    return _checked(value, FORBIDDEN)


def _card_name(value: object) -> str:
    """Cards are named after shapes and sizes too: 10/350, 1.2/50, 2.5 mm2."""
    return _checked(value, '"|')


def _checked(value: object, forbidden: str) -> str:
    if not isinstance(value, str):
        raise PydanticCustomError("name", "expected a name")
    complaint = complaint_about(value, forbidden=forbidden)
    if complaint:
        raise PydanticCustomError(
            "name", "{m}", {"m": f"{shorten(value)!r} is no usable name: {complaint}"}
        )
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise PydanticCustomError("text", "expected one line of text")
    return " ".join(value.split())


def _whole(value: object) -> int:
    if isinstance(value, str) and value.isascii() and value.isdigit() and 0 < int(value) <= 1000:
        return int(value)
    raise PydanticCustomError(
        "whole", "{m}", {"m": f"{shorten(str(value))!r} is not a count; expected 1, 2, 3 …"}
    )


Name = Annotated[str, BeforeValidator(_name)]
CardName = Annotated[str, BeforeValidator(_card_name)]
Text = Annotated[str, BeforeValidator(_text)]
Count = Annotated[int, BeforeValidator(_whole), PlainSerializer(str, return_type=str)]


def check(model: type[Form_], tree: Tree, file: str, at: Path = ()) -> Form_ | list[Problem]:
    """The tree as ``model``, or every problem it has. ``at`` is the tree's place in the file."""
    try:
        return model.model_validate(plain(tree))
    except ValidationError as error:
        problems = [_problem(model, tree, file, at, detail) for detail in error.errors()]
        return list(dict.fromkeys(problems))


def problem_at(tree: Tree, file: str, path: Path, message: str, hint: str = "") -> Problem:
    """A problem with the value at ``path`` of ``tree``, located."""
    spot = spot_of(tree, path)
    shown = ".".join(shorten(str(step)) for step in path)
    return Problem(file, spot.line, spot.column, shown, message, hint)


def _problem(model: type[Form], tree: Tree, file: str, at: Path, detail: ErrorDetails) -> Problem:
    path, owner = _in_file(model, tree, detail["loc"])
    message, hint = _explain(owner, path, detail)
    located = problem_at(tree, file, path, message, hint)
    shown = ".".join(shorten(str(step)) for step in (*at, *path))
    return Problem(file, located.line, located.column, shown, located.message, hint)


def _explain(owner: Any, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    """Message and hint for one pydantic error on the last step of ``path`` in ``owner``."""
    kind, last = detail["type"], str(path[-1]) if path else ""
    if kind == "missing":
        return "is missing", _example(owner, last)
    if kind == "extra_forbidden":
        return "unknown key", did_you_mean(last, _keys(owner))
    if kind in ("literal_error", "union_tag_invalid"):
        expected = detail.get("ctx", {}).get("expected") or detail.get("ctx", {}).get(
            "expected_tags"
        )
        return f"{shorten(str(detail['input']))!r} is not one of: {expected}", ""
    if kind == "union_tag_not_found":
        return "has no 'kind'", "expected for example 'kind: varistor arrester'"
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return "expected keys below it", _example(owner, last)
    if kind in ("tuple_type", "list_type"):
        return "expected a list", "for example [first, second]"
    return detail["msg"], ""


def _example(owner: Any, key: str) -> str:
    if not _is_form(owner):
        return ""
    for name, field in owner.model_fields.items():
        if (field.alias or name) != key:
            continue
        if key in owner.examples:
            return f"for example '{key}: {owner.examples[key]}'"
        for mark in field.metadata:
            if isinstance(mark, Quantity):
                return f"for example '{key}: {mark.dimension.example}'"
    return ""


def _keys(owner: Any) -> list[str]:
    return [f.alias or n for n, f in owner.model_fields.items()] if _is_form(owner) else []


def _is_form(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Form)


def _in_file(model: type[Form], tree: Tree, loc: tuple[str | int, ...]) -> tuple[Path, Any]:
    """Where a pydantic location stands in the file, and the model that owns its last step.

    A location has steps that no file has: the tag of a union, the field into which a form
    gathers its free keys. They are left out.
    """
    path: list[str | int] = []
    owner: Any = model
    kind: Any = model
    for index, step in enumerate(loc):
        last = index == len(loc) - 1
        inside = isinstance(tree, Mapping) and step in tree.entries
        if inside or last or isinstance(step, int):
            path.append(step)
            owner = kind
            if isinstance(tree, Mapping) and step in tree.entries:
                tree = tree.entries[str(step)]
        kind = _step(kind, step)
    return tuple(path), owner


def _step(kind: Any, step: str | int) -> Any:
    """The type one step below ``kind``; a union is narrowed by its tag or to its only form."""
    kind = _bare(kind)
    if _is_form(kind):
        for name, field in kind.model_fields.items():
            if step in (field.alias, name):
                return _bare(field.annotation)
        return None
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin is dict:
        return _bare(arguments[1])
    if origin in (tuple, list):
        return _bare(arguments[0])
    if origin in (typing.Union, types.UnionType):
        return next((option for option in arguments if _tag(option) == step), None)
    return None


def _bare(kind: Any) -> Any:
    """The type without Annotated and without None."""
    while typing.get_origin(kind) is Annotated:
        kind = typing.get_args(kind)[0]
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        options = [option for option in typing.get_args(kind) if option is not type(None)]
        if len(options) == 1:
            return _bare(options[0])
    return kind


def _tag(option: Any) -> Any:
    option = _bare(option)
    if not _is_form(option) or "kind" not in option.model_fields:
        return None
    return typing.get_args(option.model_fields["kind"].annotation)[0]


def text_of(tree: Tree) -> str | None:
    """The text of a scalar, None for anything else."""
    return tree.text if isinstance(tree, Scalar) else None
