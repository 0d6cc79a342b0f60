"""The findings object's name and its JSON Schema, shipped beside this module."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

SCHEMA = "surgesim.findings/1"


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) every findings object obeys."""
    text = files("surgesim.findings").joinpath("schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded
