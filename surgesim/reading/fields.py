"""Which type a form expects at each step of a path, read off its annotations."""

from __future__ import annotations

import types
import typing
from typing import Annotated, Any, Literal

from surgesim.reading.form import Form
from surgesim.reading.quantities import Quantity


def bare(kind: Any) -> Any:
    """The type without Annotated and without None."""
    while typing.get_origin(kind) is Annotated:
        kind = typing.get_args(kind)[0]
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        options = [option for option in typing.get_args(kind) if option is not type(None)]
        if len(options) == 1:
            return bare(options[0])
    return kind


def is_form(kind: Any) -> bool:
    """Whether a mapping with known keys is expected."""
    return isinstance(kind, type) and issubclass(kind, Form)


def is_union(kind: Any) -> bool:
    """Whether one of several forms is expected, told apart by their ``kind``."""
    return typing.get_origin(bare(kind)) in (typing.Union, types.UnionType)


def below(kind: Any, step: str | int) -> Any:
    """The type one step below ``kind``; below a union the form with that tag."""
    kind = bare(kind)
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if is_form(kind):
        return field_type(kind, step)
    if is_union(kind):
        return next((option for option in arguments if _tag(option) == step), None)
    if origin is dict:
        return bare(arguments[1])
    if origin in (tuple, list):
        return bare(arguments[0])
    return None


def field_type(form: type[Form], key: str | int) -> Any:
    """The annotation of the field written as ``key``, None when there is none."""
    for name, field in form.model_fields.items():
        if key in (field.alias, name):
            return bare(field.annotation)
    return None


def keys_of(kind: Any) -> list[str]:
    """The keys a form can have in a file, those first that it reads itself."""
    if not is_form(kind):
        return []
    fields = kind.model_fields.items()
    own = [field.alias or name for name, field in fields if name != kind.gathered]
    return [*own, *kind.also]


def example_of(kind: Any, key: str) -> str:
    """How the value of ``key`` in a form can look, as it is written; empty when unknown."""
    if not is_form(kind):
        return ""
    if key in kind.examples:
        return str(kind.examples[key])
    for name, field in kind.model_fields.items():
        if key == (field.alias or name):
            kind = bare(field.annotation)
            choices = typing.get_args(kind) if typing.get_origin(kind) is Literal else ("",)
            return _quantity_example(field) or form_example(kind) or str(choices[0])
    return ""


def form_example(kind: Any) -> str:
    """How a whole form can look in one line."""
    if not is_form(kind):
        return ""
    value = kind.model_fields.get("value")
    if not kind.example and value is not None:
        return f"{{value: {_quantity_example(value)}, source: {kind.examples['source']}}}"
    return str(kind.example)


def _quantity_example(field: Any) -> str:
    marks = [mark for mark in field.metadata if isinstance(mark, Quantity)]
    return marks[0].dimension.example if marks else ""


def _tag(option: Any) -> Any:
    option = bare(option)
    if not is_form(option) or "kind" not in option.model_fields:
        return None
    return typing.get_args(option.model_fields["kind"].annotation)[0]
