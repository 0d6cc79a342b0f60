"""Currents outside the installation, as a user writes them: where they flow."""

from __future__ import annotations

import itertools
import math
from typing import Annotated, ClassVar

from pydantic import Field, model_validator

from surgesim.reading.form import Count, Form, Name, refused
from surgesim.reading.quantities import LENGTH, SPEED, Quantity

Position = Annotated[float, Quantity(LENGTH, bound="any", most=1e5)]
Height = Annotated[float, Quantity(LENGTH, bound="not negative", most=1e4)]

StrokeSpeed = Annotated[float, Quantity(SPEED, most=299e6)]
"""Below that of light."""

SLOWEST = 10e6
"""m/s. Those seen are 30 to 240 m/us (Rakov and Uman 2003, from memory)."""

Diameter = Annotated[float, Quantity(LENGTH, most=0.1)]


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
        """(x, y, height) in m."""
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


class Loop(Form):
    """The wiring of an array's strings as a loop: ``corners`` in order from minus round to plus.

    ``wire`` is the diameter of its conductor. Several equal strings beside each other are one loop
    of ``strings``.
    """

    of: Name
    corners: tuple[Point, ...] = Field(min_length=3, max_length=40)
    wire: Diameter
    strings: Count = 1

    examples: ClassVar[dict[str, str]] = {
        "of": "strings",
        "corners": f"[{Point.example}, {{x: 14 m, y: 4 m, height: 9 m}}, …]",
        "wire": "2.8 mm",
    }
    example: ClassVar[str] = (
        "{of: strings, wire: 2.8 mm, corners: [{x: 0 m, y: 0 m, height: 1 m}, "
        "{x: 14 m, y: 0 m, height: 1 m}, {x: 14 m, y: 0 m, height: 2.1 m}, "
        "{x: 0 m, y: 0 m, height: 2.1 m}]}"
    )

    @property
    def around(self) -> tuple[tuple[float, float, float], ...]:
        """Its corners and the first one again, m."""
        return tuple(corner.position for corner in (*self.corners, self.corners[0]))

    @model_validator(mode="after")
    def _of_some_size(self) -> Loop:
        sides = itertools.pairwise(self.around)
        if min(math.dist(a, b) for a, b in sides) < 10 * self.wire:
            raise refused("has a side hardly longer than its wire is thick; check the units")
        return self
