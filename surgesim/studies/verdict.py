"""The exit code of a study, from its findings object alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from surgesim.errors import InputError
from surgesim.reading.names import did_you_mean

HELD, NOT_MET, NO_RESULT = 0, 1, 3

JOINT = " + "


def exit_code(
    findings: Mapping[str, Any],
    *,
    command: Literal["run", "compare"],
    require: Sequence[str] = (),
) -> int:
    """0 held, 1 margins or claims not met, 3 a case without a result, which wins.

    ``run``: every alternative that was run must hold. ``compare``: one of them must, and all
    those a name in ``require`` stands for. Raises InputError for a name that stands for none.
    """
    required = [entry for name in require for entry in named(findings, name)]
    if findings["failures"] or not findings["cases"]:
        return NO_RESULT
    entries = findings["summary"]
    enough = all if command == "run" else any
    met = (
        enough(_holds(entry) for entry in entries)
        and all(_holds(entry) for entry in required)
        and all(claim["met"] for claim in findings["claims"])
    )
    return HELD if met else NOT_MET


def named(findings: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """The alternatives a name stands for.

    It is one alternative written out, its levels joined by `` + ``; or one level, or several so
    joined, for every alternative that has them. A level that stands on two axes names neither
    by itself. Raises InputError, naming the nearest, for a name that is none of these.
    """
    entries = findings["summary"]
    exact = [entry for entry in entries if alternative_text(entry) == name]
    if exact:
        return exact
    levels = [level for axis in _alternative_axes(findings).values() for level in axis["levels"]]
    wanted = Counter([name] if name in levels else name.split(JOINT))
    _refuse_ambiguous(findings, wanted)
    found = [entry for entry in entries if wanted <= Counter(_levels(entry))]
    if not found:
        known = dict.fromkeys([*levels, *(alternative_text(entry) for entry in entries)])
        raise InputError.of(f"no alternative is named {name!r}", hint=did_you_mean(name, known))
    return found


def alternative_text(entry: Mapping[str, Any]) -> str:
    """An alternative as ``level + level``, axes that make no difference left out."""
    return JOINT.join(_levels(entry))


def _holds(entry: Mapping[str, Any]) -> bool:
    return bool(entry["verdict"] == "holds")


def _levels(entry: Mapping[str, Any]) -> list[str]:
    return [level for level in entry["axes"].values() if level is not None]


def _alternative_axes(findings: Mapping[str, Any]) -> dict[str, Any]:
    axes = findings["axes"]
    return {name: axis for name, axis in axes.items() if axis["role"] == "alternative"}


def _refuse_ambiguous(findings: Mapping[str, Any], wanted: Counter[str]) -> None:
    """Raise InputError for a single level that is one on several axes."""
    if wanted.total() != 1:
        return
    (level,) = wanted
    owners = [n for n, axis in _alternative_axes(findings).items() if level in axis["levels"]]
    if len(owners) > 1:
        raise InputError.of(
            f"{level!r} is a level of {' and of '.join(map(repr, owners))}",
            hint=f"write the alternative out, its levels joined by {JOINT.strip()!r}",
        )
