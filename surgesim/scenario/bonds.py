"""Bonds as a user writes them: a short conductor, a joint in it, or a bare one in the soil."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import model_validator

from surgesim.reading.form import Form, Name, Text, refused
from surgesim.reading.quantities import LENGTH, RESISTANCE, Quantity, format_quantity

LONGEST = 10.0
"""Metres up to which a conductor in air is no line."""

Length = Annotated[float, Quantity(LENGTH, most=2e3)]
Depth = Annotated[float, Quantity(LENGTH, most=20.0)]
Joint = Annotated[float, Quantity(RESISTANCE, bound="not negative", most=1e6)]
Width = Annotated[float, Quantity(LENGTH, most=1.0)]


class Bond(Form):
    """A short conductor between two terminals, such as ``array frame`` to ``array pe``.

    ``bare in soil`` is how deep it lies: it then leaks along its length, which may be long.
    ``width`` is that of a flat tape or bar. ``joint`` is the resistance of a bad joint in it.
    ``laid with`` is the cable in whose trench a bare one lies, ``spacing`` from the duct's axis.
    """

    from_: Text
    to: Text
    length: Length
    type: Text
    bare_in_soil: Depth | None = None
    width: Width | None = None
    joint: Joint | None = None
    laid_with: Name | None = None
    spacing: Length | None = None

    examples: ClassVar[dict[str, str]] = {
        "from": "array frame",
        "to": "array pe",
        "length": "3 m",
        "type": "copper 16 mm2",
        "bare in soil": "0.6 m",
        "joint": "2.2 ohm",
        "laid with": "field run",
        "spacing": "0.2 m",
    }
    example: ClassVar[str] = "{from: array frame, to: array pe, length: 3 m, type: copper 16 mm2}"

    @model_validator(mode="after")
    def _in_air_or_soil(self) -> Bond:
        if self.bare_in_soil is None and self.length > LONGEST:
            length = format_quantity(self.length, LENGTH)
            raise refused(
                f"of {length} is no short bond; longer than 10 m it is a cable with 'carries:"
                " [pe]', or 'bare in soil: 0.6 m'"
            )
        if self.width is not None and self.length < 5 * self.width:
            raise refused("is hardly longer than wide; check the units")
        return self

    @model_validator(mode="after")
    def _beside_a_duct(self) -> Bond:
        if (self.laid_with is None) != (self.spacing is None):
            raise refused(
                "needs both 'laid with' and 'spacing', such as 'laid with: field run, spacing:"
                " 0.2 m'"
            )
        if self.laid_with is not None and self.bare_in_soil is None:
            raise refused(
                "'laid with' goes with 'bare in soil'; an insulated conductor beside another is a"
                " cable with 'carries: [pe]'"
            )
        return self
