"""JSON from a stranger: plain data of bounded size, every number finite, every text printable."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from surgesim.errors import InputError
from surgesim.reading.names import is_printable

MOST_VALUES = 6_000_000
"""As many as the findings of twenty thousand cases have; they fit in half a gigabyte."""

MOST_DIGITS = 18
"""Of a whole number; more mean nothing here and can be made to cost time."""


def parse_json(data: bytes, *, file: str) -> Any:
    """The data of a JSON text. Raises InputError, naming ``file``, for one that is none.

    Strict: UTF-8, no number that is none, no key twice. Whatever could steer a screen (control
    characters, escapes, marks of direction) is replaced by ``?`` in every text, so that nothing
    taken from here can do more than be read.
    """
    if sum(data.count(mark) for mark in (b",", b"[", b"{")) > MOST_VALUES:
        raise InputError.of(f"holds more than {MOST_VALUES} values; refused", file=file)
    try:
        return json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_object,
            parse_float=_real,
            parse_int=_whole,
            parse_constant=_no_number,
        )
    except UnicodeDecodeError:
        raise InputError.of("is not UTF-8 text", file=file) from None
    except RecursionError:
        raise InputError.of("is nested too deep", file=file) from None
    except ValueError as error:
        raise InputError.of(f"is no JSON: {_bounded(str(error))}", file=file) from None


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        shown = shown_text(key)
        if shown in found:
            raise ValueError(f"key {_bounded(shown)!r} stands twice in the same place")
        # objects below have been through here already
        found[shown] = value if isinstance(value, dict) else only_shown(value)
    return found


def only_shown(data: Any) -> Any:
    """Plain data with every text made one that only reads."""
    if isinstance(data, str):
        return shown_text(data)
    if isinstance(data, list):
        return [only_shown(item) for item in data]
    if isinstance(data, dict):
        return {shown_text(key): only_shown(value) for key, value in data.items()}
    return data


def shown_text(text: str) -> str:
    """A text that only reads: line ends stay, what steers a screen becomes ``?``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if c == "\n" or is_printable(c) else "?" for c in text)


def _real(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{_bounded(text)} is more than a number can hold")
    return value


def _whole(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise ValueError(f"a whole number of {len(text)} digits; at most {MOST_DIGITS} are read")
    return int(text)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is not a number")


def require_schema(data: Any, schema: Mapping[str, Any], *, file: str, hint: str = "") -> None:
    """Raise InputError, naming the place, unless ``data`` obeys a JSON Schema of ours."""
    from jsonschema import Draft202012Validator

    error = next(Draft202012Validator(schema).iter_errors(data), None)
    if error is not None:
        place = _bounded(error.json_path.removeprefix("$").lstrip("."))
        rule = f"{error.validator}: {json.dumps(error.validator_value, ensure_ascii=False)}"
        words = "is not as its schema asks" if error.validator == "anyOf" else _bounded(rule)
        message = f"does not obey its schema: {words}"
        raise InputError.of(message, file=file, path=place, hint=hint)


@cache
def record_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) that the manifest of a record obeys."""
    text = files("surgesim.studies").joinpath("record.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def canonical_json(data: Any) -> bytes:
    """Plain data as bytes that are the same whenever the data are."""
    text = json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def _bounded(text: str) -> str:
    line = "".join(c if c.isprintable() else "?" for c in text[:160])
    return line if len(text) <= 160 else f"{line}…"
