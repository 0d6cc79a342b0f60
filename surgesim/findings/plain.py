"""Findings as plain data: what JSON knows, every number finite."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from surgesim.errors import ResultRefused

_RENAMED = {"device_class": "class"}
"""Keys that Python does not allow as names of attributes."""


def plain(value: object, *, path: str = "") -> Any:
    """Dataclasses and mappings become dicts, tuples lists. Raises ResultRefused, naming where,
    for a number that is none."""
    if isinstance(value, float) and not math.isfinite(value):
        raise ResultRefused(f"{path.lstrip('.')}: {value} is not a number to report")
    if is_dataclass(value) and not isinstance(value, type):
        value = {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, Mapping):
        return {
            _RENAMED.get(key, key): plain(entry, path=f"{path}.{key}")
            for key, entry in value.items()
        }
    if isinstance(value, tuple | list):
        return [plain(entry, path=f"{path}[{index}]") for index, entry in enumerate(value)]
    return value
