"""Strokes that have a peak of their own: those of the lightning protection levels, and shares.

The shape of such a stroke names its card; what enters here may be a share of it. Both together
give the peak, which is written into the tree where ``surgesim show`` prints it, and listed with
what every result assumes. What reaches the schema is a surge like any other.
"""

from __future__ import annotations

import re
from fractions import Fraction

from surgesim.catalogue.cards import SurgeShape
from surgesim.catalogue.library import built_in
from surgesim.reading.quantities import CURRENT, PERCENT, format_quantity, parse
from surgesim.reading.tree import Mapping, Scalar
from surgesim.scenario.assumptions import copied, noted, things

WORDS = "peak of a stroke as on its card"

_PART = re.compile(r"([1-9]\d{0,3}) ?/ ?([1-9]\d{0,3})")


def parse_share(text: str) -> float:
    """A part such as ``1/8`` or ``12.5 %``, above zero and at most one. Raises ValueError."""
    words = " ".join(text.split())
    part = _PART.fullmatch(words)
    try:
        share = float(Fraction(int(part[1]), int(part[2]))) if part else parse(words, PERCENT)
    except ValueError:
        share = 0.0
    if not 0.0 < share <= 1.0:
        raise ValueError("expected a part of the whole, such as '1/8' or '12.5 %'")
    return share


def with_levels(tree: Mapping) -> Mapping:
    """``tree`` with the peak of every surge that leaves it to its card, by its share."""
    tree = copied(tree)
    told = []
    for name, surge in things(tree, "surges"):
        whole = None if "peak" in surge.entries else _own_peak(tree, surge.entries.get("shape"))
        if whole is None:
            continue
        share = surge.entries.get("share")
        try:
            part = parse_share(share.text) if isinstance(share, Scalar) else 1.0
        except ValueError:
            part = None  # the schema says what is wrong with it
        peak = format_quantity(float(f"{whole * (part or 1.0):.12g}"), CURRENT)
        surge.entries["peak"] = Scalar(peak, surge.spot)
        surge.keys.setdefault("peak", surge.spot)
        if isinstance(share, Scalar) and part is not None:
            del surge.entries["share"]
            of = f"{' '.join(share.text.split())} of {format_quantity(whole, CURRENT)}"
            told.append(f"{name}: {of}")
        else:
            told.append(f"{name}: {peak}")
    return noted(tree, [f"{WORDS} [{', '.join(told)}]"] if told else [])


def _own_peak(tree: Mapping, shape: object) -> float | None:
    """Peak in A that the card of a shape names, the scenario's own card before a shipped one."""
    name = " ".join(shape.text.split()) if isinstance(shape, Scalar) else ""
    own = dict(things(tree, "cards")).get(name)
    if own is not None:
        peak = own.entries.get("peak")
        value = peak.entries.get("value") if isinstance(peak, Mapping) else None
        try:
            return parse(value.text, CURRENT) if isinstance(value, Scalar) else None
        except ValueError:
            return None
    card = built_in().get(name)
    return card.peak.value if isinstance(card, SurgeShape) and card.peak is not None else None
