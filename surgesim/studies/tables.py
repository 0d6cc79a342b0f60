"""The findings object as text for files: JSON, and CSV with one row per case and terminal."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from typing import Any

from surgesim.studies.worst import terminal_badness

COLUMNS = (
    "equipment", "pair", "place", "verdict", "peak_v", "time_s", "window", "above_half_s",
    "bias_v", "withstand_v", "limit_kind", "limit_origin", "limit_where", "ratio",
    "margin_percent", "to_bar_v", "to_remote_earth_v", "insulation_level_v", "insulation_fired",
    "insulation_fired_at_s", "insulation_fired_v", "conditional_on",
    "error_how", "error_peak_percent", "error_to_bar_percent", "error_to_remote_earth_percent",
    "could_be",
    "crosscheck", "crosscheck_percent", "other_verdict", "other_peak_v",
)  # fmt: skip
"""Columns of a terminal, after those of its case: ``case``, ``axis NAME``…, ``surge``.

The last four are empty without a cross-check: how the case fared, its largest difference, and
what the terminal is and sees in the worst other outcome of a knife-edge.
"""


def to_json(findings: Mapping[str, Any]) -> str:
    """The findings object as JSON text. Raises ValueError for a number JSON does not know."""
    return json.dumps(findings, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def to_csv(findings: Mapping[str, Any]) -> str:
    """One row per case and terminal, SI units, empty where there is no value.

    Columns of axes begin with ``axis``, so that an axis may be called anything.
    """
    axes = list(findings["axes"])
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["case", *(f"axis {axis}" for axis in axes), "surge", *COLUMNS])
    for case in findings["cases"]:
        for terminal in case["terminals"]:
            own = [case["id"], *(case["axes"].get(axis) for axis in axes), case["surge"]]
            writer.writerow([cell(value) for value in (*own, *terminal_values(case, terminal))])
    return text.getvalue()


def terminal_values(case: Mapping[str, Any], terminal: Mapping[str, Any]) -> list[Any]:
    """What a terminal of a case has in each of :data:`COLUMNS`, None where it has nothing."""
    flat = {
        **terminal,
        **{f"limit_{key}": value for key, value in terminal["limit"].items()},
        **{f"insulation_{key}": value for key, value in (terminal["insulation"] or {}).items()},
        "conditional_on": "; ".join(terminal["conditional_on"]),
        "error_how": terminal["numerical_error"]["how"],
        **{
            f"error_{field.removesuffix('_v')}_percent": percent
            for field, percent in terminal["numerical_error"]["percent"].items()
        },
        "could_be": "; ".join(terminal["could_be"]),
        **_crosscheck(case, terminal),
    }
    return [flat.get(column) for column in COLUMNS]


def _crosscheck(case: Mapping[str, Any], terminal: Mapping[str, Any]) -> dict[str, Any]:
    found = case.get("crosscheck")
    if not found:
        return {}
    name = terminal["equipment"], terminal["pair"]
    elsewhere = [
        record
        for other in found["others"]
        for record in other["terminals"]
        if (record["equipment"], record["pair"]) == name
    ]
    worst = max(elsewhere, key=terminal_badness, default=None)
    return {
        "crosscheck": found["status"],
        "crosscheck_percent": (found["largest"] or {}).get("difference_percent"),
        "other_verdict": worst and worst["verdict"],
        "other_peak_v": worst and worst["peak_v"],
    }


def cell(value: object) -> str:
    """A value as a table of text holds it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
