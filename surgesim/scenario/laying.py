"""How cables lie, and the phrases for it."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, PlainSerializer

from surgesim.reading.form import Form, Name, Text, refused
from surgesim.reading.quantities import LENGTH, Quantity, format_quantity
from surgesim.reading.tree import shorten

Length = Annotated[float, Quantity(LENGTH, most=1e5)]


class Laying(Form):
    """How a cable lies: over earth at a height, in a plastic duct at a depth, or in metal.

    Written as a phrase: ``in air 0.5 m high``, ``plastic duct 50 mm wide 0.7 m deep``, ``metal
    trunking 100 mm 3 m high`` with the card of the metal; of one stretch among others with its
    length in front. ``distance`` is the height or depth, ``card`` that of the metal.
    """

    in_: Literal["air", "plastic duct", "metal"]
    distance: Length
    width: Length | None = None
    card: Text | None = None
    length: Length | None = None


_QUANTITY = r"\d\S*(?: [^\s\d]\S*)?"
_LAYING = re.compile(
    rf"(?:(?P<length>{_QUANTITY}) )?"
    rf"(?:in (?P<air>air) (?P<height>{_QUANTITY}) high"
    rf"|(?P<duct>plastic duct)(?: (?P<width>{_QUANTITY}) wide)? (?P<depth>{_QUANTITY}) deep"
    rf"|(?:in )?(?P<metal>\D.*?) (?P<over>{_QUANTITY}) high)"
)
EXPECTED = "expected 'in air 0.5 m high' or 'plastic duct 0.7 m deep'"


def enclosure_in(phrase: str) -> str | None:
    """The card of metal that a laying's phrase names; None where it names none."""
    match = _LAYING.fullmatch(" ".join(phrase.split()))
    return match["metal"] if match else None


def _laying(value: object, *, stretch: bool) -> Any:
    words = " ".join(value.split()) if isinstance(value, str) else ""
    match = _LAYING.fullmatch(words)
    if match is None:
        shown = f"{shorten(words)!r} is no way to lay a cable; " if words else ""
        raise refused(shown + EXPECTED)
    if stretch and match["length"] is None:
        raise refused(f"{words!r} needs its length in front, such as '28 m {words}'")
    if not stretch and match["length"] is not None:
        raise refused(
            "has a length in front, as one of several stretches has; write them as a list,"
            " or leave it out"
        )
    return {
        "in": match["air"] or match["duct"] or "metal",
        "distance": match["height"] or match["depth"] or match["over"],
        "width": match["width"],
        "card": match["metal"],
        "length": match["length"],
    }


def _layings(value: object) -> Any:
    if not isinstance(value, list):
        return [_laying(value, stretch=False)]
    if len(value) < 2:
        raise refused("a list needs two stretches and more; write one without brackets")
    return [_laying(part, stretch=True) for part in value]


def laying_text(laying: Laying) -> str:
    """The phrase that a laying is written as."""
    distance = format_quantity(laying.distance, LENGTH)
    ahead = f"{format_quantity(laying.length, LENGTH)} " if laying.length else ""
    if laying.in_ == "plastic duct":
        width = f"{format_quantity(laying.width, LENGTH)} wide " if laying.width else ""
        return f"{ahead}plastic duct {width}{distance} deep"
    where = "in air" if laying.in_ == "air" else laying.card
    return f"{ahead}{where} {distance} high"


def _texts(layings: tuple[Laying, ...]) -> Any:
    texts = [laying_text(laying) for laying in layings]
    return texts[0] if len(texts) == 1 else texts


Layings = Annotated[
    tuple[Laying, ...], BeforeValidator(_layings), PlainSerializer(_texts, return_type=Any)
]


class Spacing(Form):
    """How far a cable lies from the one that it is laid with: ``0.4 m`` beside it, ``0.3 m above``
    or ``0.3 m below``.

    Beside is to the right of that cable, seen from its ``from``.
    """

    distance: Length
    side: Literal["beside", "above", "below"] = "beside"

    @property
    def across(self) -> float:
        """To the right, m."""
        return self.distance if self.side == "beside" else 0.0

    @property
    def up(self) -> float:
        """Upward, m."""
        return {"beside": 0.0, "above": 1.0, "below": -1.0}[self.side] * self.distance


def _spacing(value: object) -> Any:
    words = " ".join(value.split()) if isinstance(value, str) else value
    if isinstance(words, str) and words.endswith((" above", " below")):
        distance, _, side = words.rpartition(" ")
        return {"distance": distance, "side": side}
    return {"distance": words}


def spacing_text(spacing: Spacing) -> str:
    """The phrase that a spacing is written as."""
    side = "" if spacing.side == "beside" else f" {spacing.side}"
    return f"{format_quantity(spacing.distance, LENGTH)}{side}"


SpacingPhrase = Annotated[
    Spacing, BeforeValidator(_spacing), PlainSerializer(spacing_text, return_type=str)
]


class MetalBonds(Form):
    """Bonds of a cable's metal along the route: ``every 3 m to bond``, a cable beside it."""

    every: Length
    to: Name


def _metal_bonds(value: object) -> Any:
    words = value if isinstance(value, str) else ""
    match = re.fullmatch(r"every (\S+ ?\S+?) to (.+)", words)
    if match is None:
        shown = f"{shorten(words)!r} is no bonding along a route; " if words else ""
        raise refused(
            f"{shown}expected how often, and the cable beside it, such as 'every 3 m to bond'"
        )
    return {"every": match[1], "to": match[2]}


MetalBondsPhrase = Annotated[
    MetalBonds,
    BeforeValidator(_metal_bonds),
    PlainSerializer(
        lambda bonds: f"every {format_quantity(bonds.every, LENGTH)} to {bonds.to}", return_type=str
    ),
]
