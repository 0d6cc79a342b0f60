"""What to write instead of a number that has commas in it."""

from __future__ import annotations

import re


def has_comma(text: str) -> bool:
    """Whether a comma stands between two digits of ``text``."""
    return re.search(r"\d,\d", text, re.ASCII) is not None


def comma_advice(text: str) -> str:
    """How to write ``text`` so that it can mean one thing only.

    ``1,5 kV`` can only be a decimal comma. ``1,500 V`` can be one and a half volts or fifteen
    hundred, so both are offered and neither is chosen.
    """
    if text.count(",") > 1 or "." in text:
        return "write the number without separators, with a point for decimals"
    pointed, joined = text.replace(",", "."), text.replace(",", "")
    if re.search(r"\d,\d{3}(?!\d)", text, re.ASCII):
        return f"write {pointed!r} or {joined!r}, whichever is meant"
    return f"write a point, {pointed!r}"
