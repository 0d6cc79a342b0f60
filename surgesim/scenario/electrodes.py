"""Earths as a user writes them: measured, by the shape of the electrode, or both."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Literal

from pydantic import PlainSerializer, WrapValidator, model_validator

from surgesim.reading.form import Count, Form, Name, Text, refused
from surgesim.reading.quantities import (
    FIELD,
    INDUCTANCE,
    LENGTH,
    NUMBER,
    RESISTANCE,
    RESISTIVITY,
    Quantity,
    format_quantity,
)

MOST_FACTOR = 10.0
MOST_POSTS = 400
LEAST_FIELD = 1e5

Short = Annotated[float, Quantity(LENGTH, most=200.0)]
Long = Annotated[float, Quantity(LENGTH, most=2e3)]
Depth = Annotated[float, Quantity(LENGTH, most=20.0)]
Thickness = Annotated[float, Quantity(LENGTH, most=2.0)]
Side = Annotated[float, Quantity(LENGTH, most=500.0)]
Resistance = Annotated[float, Quantity(RESISTANCE, most=1e12)]
Resistivity = Annotated[float, Quantity(RESISTIVITY, most=1e6)]
Field = Annotated[float, Quantity(FIELD, most=2e6)]
Factor = Annotated[float, Quantity(NUMBER, most=MOST_FACTOR)]


FROM_SHAPE = "from its shape"


def _inductance(value: object, read: Callable[[object], Any]) -> Any:
    if isinstance(value, str) and " ".join(value.split()) == FROM_SHAPE:
        return FROM_SHAPE
    return read(value)


Inductance = Annotated[
    float | str,
    Quantity(INDUCTANCE, bound="not negative", most=1e-2),
    WrapValidator(_inductance),
    PlainSerializer(
        lambda value: value if isinstance(value, str) else format_quantity(value, INDUCTANCE),
        return_type=str,
    ),
]


def _metres(value: float) -> str:
    return format_quantity(value, LENGTH)


class Rod(Form):
    """Driven rods from the surface down, one or a row of ``count``, ``spacing`` apart."""

    length: Short
    diameter: Short
    count: Count = 1
    spacing: Short | None = None

    examples: ClassVar[dict[str, str]] = {"length": "2.4 m", "diameter": "16 mm", "spacing": "5 m"}
    example: ClassVar[str] = "{length: 2.4 m, diameter: 16 mm}"

    @model_validator(mode="after")
    def _a_row(self) -> Rod:
        _check_row(self.count, self.spacing, self.diameter, "rods")
        return self


class Conductor(Form):
    """What bare conductors in soil share: how deep they lie and how thick they are.

    ``width`` is that of a flat strip, ``diameter`` that of a round conductor.
    """

    depth: Depth
    width: Thickness | None = None
    diameter: Thickness | None = None

    @model_validator(mode="after")
    def _one_section(self) -> Conductor:
        if (self.width is None) == (self.diameter is None):
            raise refused("give one of the two, 'width: 30 mm' of a strip or 'diameter: 10 mm'")
        if self.depth <= self.radius:
            raise refused(f"does not lie in the soil, {_metres(self.depth)} deep")
        return self

    @property
    def radius(self) -> float:
        """Radius in m of the round conductor that counts for it; of a strip width/4, exact."""
        return self.width / 4 if self.width is not None else (self.diameter or 0.0) / 2


class Strip(Conductor):
    """One straight bare strip or wire in the soil, joined at its ``end`` or in the ``middle``."""

    length: Long
    joined: Literal["end", "middle"]

    example: ClassVar[str] = "{length: 20 m, depth: 0.5 m, width: 30 mm}"
    examples: ClassVar[dict[str, str]] = {"length": "20 m", "depth": "0.5 m"}

    @model_validator(mode="after")
    def _long(self) -> Strip:
        _check_long(self.length, self.radius)
        return self


class Ring(Conductor):
    """A bare strip or wire laid round something; ``length`` is that of the conductor."""

    length: Long

    example: ClassVar[str] = "{length: 48 m, depth: 0.5 m, width: 30 mm}"
    examples: ClassVar[dict[str, str]] = {"length": "48 m", "depth": "0.5 m"}

    @model_validator(mode="after")
    def _round(self) -> Ring:
        _check_long(self.length, self.radius)
        if self.depth > self.length / 13:
            raise refused("lies deeper than a quarter of its width, for which no formula is known")
        return self


class Radials(Conductor):
    """``count`` equal bare conductors outward from one point, each of ``length``."""

    count: Count
    length: Long

    example: ClassVar[str] = "{count: 3, length: 9 m, depth: 0.5 m, diameter: 10 mm}"
    examples: ClassVar[dict[str, str]] = {"count": "3", "length": "9 m", "depth": "0.5 m"}

    @model_validator(mode="after")
    def _star(self) -> Radials:
        if not 2 <= self.count <= 12:
            raise refused("'count' is 2 to 12 radials; a single one is a 'strip'")
        _check_long(self.length, self.radius)
        if self.depth > self.length / 5:
            raise refused("lie deeper than a fifth of their length, for which no formula is known")
        return self


class Foundation(Form):
    """Reinforced concrete in the soil: ``length`` by ``width``, reaching ``depth`` down."""

    length: Side
    width: Side
    depth: Depth

    examples: ClassVar[dict[str, str]] = {"length": "18 m", "width": "9 m", "depth": "0.8 m"}
    example: ClassVar[str] = "{length: 18 m, width: 9 m, depth: 0.8 m}"


class Posts(Form):
    """Driven posts of tables: ``rows`` of so many ``in a row``, all joined above ground.

    ``length`` is what is in the soil without coating, ``around`` the perimeter of the profile.
    """

    length: Short
    around: Thickness
    in_a_row: Count
    spacing: Short | None = None
    rows: Count = 1
    rows_apart: Short | None = None

    examples: ClassVar[dict[str, str]] = {
        "length": "1.6 m",
        "around": "40 cm",
        "in a row": "10",
        "spacing": "3 m",
        "rows apart": "6 m",
    }
    example: ClassVar[str] = (
        "{length: 1.6 m, around: 40 cm, in a row: 10, spacing: 3 m, rows: 2, rows apart: 6 m}"
    )

    @model_validator(mode="after")
    def _grid(self) -> Posts:
        if self.around >= self.length:
            raise refused("'around' is more than the posts' 'length'; check the units")
        _check_row(self.in_a_row, self.spacing, self.around / 2, "posts")
        if (self.rows > 1) != (self.rows_apart is not None):
            raise refused("'rows' of more than 1 and 'rows apart' belong together")
        if self.rows_apart is not None and self.rows_apart <= self.around / 2:
            raise refused("has rows that stand in each other")
        if self.in_a_row * self.rows > MOST_POSTS:
            raise refused(f"has more than {MOST_POSTS} posts; describe a part, or measure it")
        return self

    @property
    def radius(self) -> float:
        """Radius in m of the round rod of the same perimeter."""
        return self.around / 6.283185307179586


class Plates(Form):
    """Upright plates in soil or water, their middle ``depth`` down, in a row of ``count``."""

    length: Short
    width: Short
    depth: Depth
    count: Count = 1
    spacing: Short | None = None

    examples: ClassVar[dict[str, str]] = {
        "length": "1 m",
        "width": "1 m",
        "depth": "0.8 m",
        "spacing": "6 m",
    }
    example: ClassVar[str] = "{length: 1 m, width: 1 m, depth: 0.8 m}"

    @model_validator(mode="after")
    def _covered(self) -> Plates:
        if self.depth < 0.57 * (self.length * self.width) ** 0.5:
            raise refused("looks out: 'depth' is that of its middle, below half its height")
        if max(self.length, self.width) > 5 * min(self.length, self.width):
            raise refused("is no plate but a strip")
        _check_row(self.count, self.spacing, max(self.length, self.width), "plates")
        return self


def _check_row(count: int, spacing: float | None, size: float, what: str) -> None:
    """Refuse a row without its spacing, a spacing without a row, and things that touch."""
    if (count > 1) != (spacing is not None):
        raise refused(f"several {what} and their 'spacing' belong together, such as 'spacing: 5 m'")
    if spacing is not None and spacing <= size:
        raise refused(f"has {what} closer than their size: {_metres(spacing)} apart")


def _check_long(length: float, radius: float) -> None:
    if length < 20 * radius:
        raise refused(f"is hardly longer than thick, at {_metres(length)}; check the units")


Shape = Rod | Strip | Ring | Radials | Foundation | Posts | Plates
SHAPES = ("rod", "strip", "ring", "radials", "foundation", "posts", "plates")
LONG_SHAPES = ("rod", "strip", "ring", "radials", "posts")
"""Shapes along which a current has to find its way."""


class Earth(Form):
    """An electrode between a bar and remote earth: as measured, by its shape, or both.

    Where both are given the measured one counts. ``soil`` or ``water`` is the resistivity
    around this electrode, the site's soil where neither is given; ``seasonal factor`` is what
    its resistance is multiplied by. ``inductance`` stands in front of it, or comes
    ``from its shape``, as a chain along it. ``ionises at`` is the field from which the soil
    round a compact electrode gives way; left out, it does not.
    """

    at: Name
    bar: Text
    measured: Resistance | None = None
    measured_on: Text | None = None
    rod: Rod | None = None
    strip: Strip | None = None
    ring: Ring | None = None
    radials: Radials | None = None
    foundation: Foundation | None = None
    posts: Posts | None = None
    plates: Plates | None = None
    soil: Resistivity | None = None
    water: Resistivity | None = None
    seasonal_factor: Factor | None = None
    ionises_at: Field | None = None
    inductance: Inductance

    examples: ClassVar[dict[str, str]] = {
        "at": "array",
        "bar": "pe",
        "water": "38 ohm m",
        "seasonal factor": "2",
        "ionises at": "400 kV/m",
    }
    example: ClassVar[str] = "{at: array, bar: pe, measured: 38 ohm, inductance: 2 uH}"

    @model_validator(mode="after")
    def _resistance(self) -> Earth:
        given = [name for name in SHAPES if getattr(self, name) is not None]
        if len(given) > 1:
            raise refused(
                f"has {' and '.join(map(repr, given))}; keep one shape, and give several that"
                " are joined as 'measured'"
            )
        if self.measured is None and not given:
            raise refused(
                "give 'measured: 38 ohm' or its shape, such as"
                " 'rod: {length: 2.4 m, diameter: 16 mm}'"
            )
        if self.inductance == FROM_SHAPE and not set(given) & set(LONG_SHAPES):
            raise refused(
                "has no shape that 'inductance' could come from; give that of the conductor to"
                " it, such as 'inductance: 2 uH'"
            )
        if self.measured is None and self.measured_on is not None:
            raise refused("has 'measured on' and nothing 'measured'")
        return self

    @model_validator(mode="after")
    def _surroundings(self) -> Earth:
        if self.soil is not None and self.water is not None:
            raise refused("lies in 'soil' or in 'water'; keep one of the two")
        if self.shape is None and (self.soil is not None or self.water is not None):
            raise refused("'soil' and 'water' go with a shape; what was measured has them in it")
        return self

    @model_validator(mode="after")
    def _compact(self) -> Earth:
        if self.ionises_at is None:
            return self
        if self.ionises_at < LEAST_FIELD:
            raise refused("'ionises at' is 300 to 1000 kV/m in soil; less than 100 kV/m is a slip")
        if self.water is not None:
            raise refused("'ionises at' is for soil, not for water")
        if self.strip or self.ring or self.radials:
            raise refused("'ionises at' is for compact electrodes, and this one is long")
        if self.lumped is None:
            raise refused(
                "'ionises at' is for an electrode that is all at one voltage; give its"
                " 'inductance', such as '2 uH'"
            )
        return self

    @property
    def lumped(self) -> float | None:
        """Inductance in H in front of the electrode, None where it comes from its shape."""
        return None if isinstance(self.inductance, str) else self.inductance

    @property
    def shape(self) -> Shape | None:
        """The shape it was given, if any."""
        found: list[Shape] = [s for name in SHAPES if (s := getattr(self, name)) is not None]
        return found[0] if found else None
