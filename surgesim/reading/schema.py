"""Checking a tree against a form, and locating what is wrong with it."""

from __future__ import annotations

from typing import TypeVar

from pydantic import ValidationError

from surgesim.errors import Problem
from surgesim.reading.faults import EMPTY, Fault, fault_of
from surgesim.reading.form import Form
from surgesim.reading.tree import MOST_PROBLEMS, Tree, distinct, plain, shown_path, spot_of

Form_ = TypeVar("Form_", bound=Form)
Path = tuple[str | int, ...]


def check(model: type[Form_], tree: Tree, file: str) -> Form_ | list[Problem]:
    """The tree as ``model``, or every problem it has."""
    try:
        return model.model_validate(plain(tree))
    except ValidationError as error:
        details = error.errors(include_url=False)[: 2 * MOST_PROBLEMS]
        faults = _told([fault_of(model, tree, detail) for detail in details])
        problems = (problem_at(tree, file, f.path, f.message, f.hint) for f in faults)
        return distinct(problems)


def _told(faults: list[Fault]) -> list[Fault]:
    """The faults without those that follow from another one.

    A key that is missing only because it is misspelt, a list that is empty only because what
    is in it is wrong.
    """
    meant = {fault.meant for fault in faults}
    above = {fault.path[:end] for fault in faults for end in range(len(fault.path))}
    return [
        fault
        for fault in faults
        if not (fault.is_missing and fault.path in meant)
        and not (fault.message == EMPTY and fault.path in above)
    ]


def problem_at(tree: Tree, file: str, path: Path, message: str, hint: str) -> Problem:
    """A problem with the value at ``path`` of ``tree``, located."""
    spot = spot_of(tree, path)
    return Problem(file, spot.line, spot.column, shown_path(path), message, hint)
