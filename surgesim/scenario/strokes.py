"""Currents outside the installation, as a user writes them: where they flow."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import model_validator

from surgesim.reading.form import Form, refused
from surgesim.reading.quantities import LENGTH, Quantity

Position = Annotated[float, Quantity(LENGTH, bound="any", most=1e5)]
Height = Annotated[float, Quantity(LENGTH, bound="not negative", most=1e4)]


class Spot(Form):
    """A spot on the ground."""

    x: Position
    y: Position

    examples: ClassVar[dict[str, str]] = {"x": "46 m", "y": "10 m"}
    example: ClassVar[str] = "{x: 46 m, y: 10 m}"


class Point(Form):
    """A point at a height over the ground."""

    x: Position
    y: Position
    height: Height

    examples: ClassVar[dict[str, str]] = {"x": "0 m", "y": "4 m", "height": "9 m"}
    example: ClassVar[str] = "{x: 0 m, y: 4 m, height: 9 m}"

    @property
    def position(self) -> tuple[float, float, float]:
        return self.x, self.y, self.height


class Straight(Form):
    """A straight conductor, such as a down-conductor, whose current flows from end to end."""

    from_: Point
    to: Point

    examples: ClassVar[dict[str, str]] = {
        "from": "{x: 0 m, y: 4 m, height: 9 m}",
        "to": "{x: 0 m, y: 4 m, height: 0 m}",
    }
    example: ClassVar[str] = (
        "{from: {x: 0 m, y: 4 m, height: 9 m}, to: {x: 0 m, y: 4 m, height: 0 m}}"
    )

    @model_validator(mode="after")
    def _of_some_length(self) -> Straight:
        if self.from_ == self.to:
            raise refused("begins and ends at the same point")
        return self
