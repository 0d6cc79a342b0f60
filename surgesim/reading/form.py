"""The base of everything a user can write, and the plain values it is made of."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainSerializer
from pydantic_core import PydanticCustomError

from surgesim.reading.names import FORBIDDEN, complaint_about, is_printable
from surgesim.reading.tree import shorten

LONGEST_TEXT = 1000


def _as_written(field: str) -> str:
    """``same_as`` is written ``same as`` in a file; a trailing ``_`` only avoids a keyword."""
    return field.rstrip("_").replace("_", " ")


class Form(BaseModel):
    """Base of everything a user can write: frozen, strict about keys, words as in the trade.

    ``examples`` gives a text for each key that has no obvious one; ``example`` is the whole
    thing in one line; ``also`` are keys that are read elsewhere, or free, and only hinted at;
    ``gathered`` is a field that no file has, into which a form gathers its free keys.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=_as_written)
    examples: ClassVar[dict[str, str]] = {}
    example: ClassVar[str] = ""
    also: ClassVar[tuple[str, ...]] = ()
    gathered: ClassVar[str] = ""

    def written(self) -> dict[str, Any]:
        """As plain text, keyed as in a file, without what was left out."""
        return self.model_dump(by_alias=True, exclude_none=True)


def refused(words: str) -> PydanticCustomError:
    """The error by which a form refuses a value, in its own words."""
    return PydanticCustomError("refused", "{words}", {"words": words})


def _name(value: object) -> str:
    return _checked_name(value, FORBIDDEN)


def _card_name(value: object) -> str:
    """Cards are named after shapes and sizes too: 10/350, 1.2/50, 2.5 mm2."""
    return _checked_name(value, '"|')


def _checked_name(value: object, forbidden: str) -> str:
    if not isinstance(value, str):
        raise refused("expected a name")
    if complaint := complaint_about(value, forbidden=forbidden):
        raise refused(f"{shorten(value)!r} is no usable name: {complaint}")
    return value


def _text(value: object) -> str:
    text = _remark(value)
    if len(text) > LONGEST_TEXT:
        raise refused(f"is longer than {LONGEST_TEXT} characters")
    return text


def _remark(value: object) -> str:
    if not isinstance(value, str):
        raise refused("expected one line of text")
    text = " ".join(value.split())
    if not text:
        raise refused("has no value; expected one line of text")
    if not is_printable(text):
        raise refused(f"{shorten(text)!r} holds characters that cannot be printed")
    return text


def _whole(value: object) -> int:
    if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) <= 4:
        number = int(value)
        if 0 < number <= 1000:
            return number
    shown = repr(shorten(value)) if isinstance(value, str) else "this"
    raise refused(f"{shown} is not a count; expected 1, 2, 3 … at most 1000")


def _version(value: object) -> object:
    if value != "1":
        shown = repr(shorten(value)) if isinstance(value, str) else "this"
        raise refused(f"{shown} is no version of the language; this program reads 'surgesim: 1'")
    return value


Name = Annotated[str, BeforeValidator(_name)]
CardName = Annotated[str, BeforeValidator(_card_name)]
Text = Annotated[str, BeforeValidator(_text)]
Remark = Annotated[str, BeforeValidator(_remark)]
Count = Annotated[int, BeforeValidator(_whole), PlainSerializer(str, return_type=str)]
Version = Annotated[Literal["1"], BeforeValidator(_version)]
