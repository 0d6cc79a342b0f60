"""What a person is told of a file that is no YAML: the usual slips by name."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from surgesim.errors import Problem


@dataclass(frozen=True, slots=True)
class Slip:
    """A usual slip: how the YAML reader complains of it, and what a person is told.

    ``at_start`` locates it where the bracket, quote or key began instead of where the reader
    gave up, which may be many lines below.
    """

    complaint: str
    message: str
    hint: str
    at_start: bool = False


_SLIPS = (
    Slip(r"'\\t' that cannot start", "a tab stands here", "indent with spaces"),
    Slip(r"that cannot start", "a value cannot begin like this", "put the text in quotes"),
    Slip(
        r"mapping values are not allowed",
        "a ':' too many, or a line indented wrongly",
        "put text that holds ': ' in quotes, and begin keys that belong together in one column",
    ),
    Slip(
        r"sequence entries are not allowed",
        "a '- ' cannot stand here",
        "write a list as [first, second], or put the text in quotes",
    ),
    Slip(
        r"unexpected end of stream", "a quote opens here and is not closed", "close it",
        at_start=True,
    ),
    Slip(
        r"could not find expected ':'", "expected a key with ': ' behind it",
        "for example 'title: Dairy barn'", at_start=True,
    ),
    Slip(
        r"expected ',' or '}'", "a '{' opens here and is not closed",
        "look for a missing '}' or ','", at_start=True,
    ),
    Slip(
        r"expected ',' or ']'", "a '[' opens here and is not closed",
        "look for a missing ']' or ','", at_start=True,
    ),
    Slip(r"node content, but found ','", "a comma too many", "take it out"),
    Slip(r"found .*'[]}]'", "a closing bracket too many", "take it out"),
    Slip(
        r"found '<scalar>'", "text stands behind a closing quote or bracket",
        "put the whole text in one pair of quotes",
    ),
    Slip(
        r"expected (<block end>|'<document start>')", "a line indented wrongly",
        "begin keys that belong together in one column",
    ),
)  # fmt: skip


def broken(error: Exception, text: str, name: str) -> Problem:
    """The problem of a file ``name`` with ``text`` at which the YAML reader gave up."""
    complaint = _complaint(error)
    for slip in _SLIPS:
        if re.search(slip.complaint, complaint):
            line, column = _position(error, text, at_start=slip.at_start)
            return Problem(name, line, column, "", slip.message, slip.hint)
    line, column = _position(error, text, at_start=False)
    return Problem(name, line, column, "", f"is not well-formed YAML: {complaint}")


def _complaint(error: Exception) -> str:
    """The reader's own words, on one line. Characters it cannot take have only a reason."""
    for attribute in ("problem", "reason", "context"):
        words = getattr(error, attribute, None)
        if words:
            return " ".join(str(words).split())[:160]
    return type(error).__name__


def _position(error: Any, text: str, *, at_start: bool) -> tuple[int, int]:
    """Line and column, from 1; 0, 0 when the reader does not say."""
    marks = [getattr(error, "problem_mark", None), getattr(error, "context_mark", None)]
    for mark in reversed(marks) if at_start else marks:
        if mark is not None:
            return mark.line + 1, mark.column + 1
    position = getattr(error, "position", None)
    if position is None:
        return 0, 0
    before = text[:position]
    return before.count("\n") + 1, position - (before.rfind("\n") + 1) + 1
