"""What an earth works out to: the resistance that counts, and the one that its shape gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import singledispatch

from surgesim.physics import electrodes as physics
from surgesim.physics.ionisation import critical_current
from surgesim.reading.quantities import FIELD, LENGTH, RESISTIVITY, format_quantity
from surgesim.scenario.electrodes import (
    Earth,
    Foundation,
    Plates,
    Posts,
    Radials,
    Ring,
    Rod,
    Shape,
    Strip,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedOut:
    """One earth's resistance to remote earth, ohm, and how it was obtained, in words.

    ``resistance`` is what is computed with, the seasonal factor in it. ``from_shape`` is what
    the shape gives, with the same factor, and ``shape`` says by which formula; None and empty
    where no shape is known. ``critical`` is the current in A from which the soil ionises, None
    where it does not.
    """

    resistance: float
    obtained: str
    from_shape: float | None
    shape: str
    critical: float | None = None


def worked_out(earth: Earth, site_soil: float) -> WorkedOut:
    """Resistance of an earth on a site whose soil has ``site_soil`` ohm m."""
    factor = earth.seasonal_factor or 1.0
    shape, from_shape, words = earth.shape, None, ""
    if shape is not None:
        soil = resistivity(earth, site_soil)
        formula, resistance = by_formula(shape, soil)
        from_shape = factor * resistance
        where = "water" if earth.water is not None else "soil"
        words = f"{formula}, in {where} of {format_quantity(soil, RESISTIVITY)}"
    obtained = words
    if earth.measured is not None:
        when = earth.measured_on or "no date given"
        obtained = f"measured, {when}"
    if earth.seasonal_factor is not None:
        obtained += f", times {factor:g} for the season"
    counts = from_shape if earth.measured is None else factor * earth.measured
    assert counts is not None
    critical = None
    if earth.ionises_at is not None:
        field = earth.ionises_at
        critical = critical_current(counts, resistivity(earth, site_soil), field)
        where = format_quantity(field, FIELD)
        obtained += f", ionising from {critical / 1e3:.3g} kA ({where}; CIGRE TB 63)"
    return WorkedOut(
        resistance=counts, obtained=obtained, from_shape=from_shape, shape=words, critical=critical
    )


def resistivity(earth: Earth, site_soil: float) -> float:
    """Resistivity around an electrode, ohm m: its own, else the site's soil."""
    own = earth.soil if earth.water is None else earth.water
    return site_soil if own is None else own


def as_remarks(earths: Mapping[str, Earth], site_soil: float) -> str:
    """What earths with a shape work out to, as remarks below a scenario; empty without any."""
    lines = []
    for name, earth in earths.items():
        if earth.shape is None:
            continue
        found = worked_out(earth, site_soil)
        assert found.from_shape is not None
        lines.append(f"# earth {name}: {found.resistance:.4g} ohm, {found.obtained}\n")
        if earth.measured is not None:
            lines.append(f"#   by its shape {found.from_shape:.4g} ohm, {found.shape}\n")
    return "".join(lines)


def _m(value: float) -> str:
    return format_quantity(value, LENGTH)


@singledispatch
def by_formula(shape: Shape, soil: float) -> tuple[str, float]:
    """The formula and its source in words, and the resistance in ohm, of a shape in ``soil``."""
    raise TypeError(f"no formula for {type(shape).__name__} in soil of {soil:g} ohm m")


@by_formula.register
def _(shape: Rod, soil: float) -> tuple[str, float]:
    size = f"{_m(shape.length)} long, {_m(shape.diameter)} thick"
    radius = shape.diameter / 2
    if shape.spacing is None:
        return f"rod {size}; Dwight 1936", physics.rod_resistance(shape.length, radius, soil)
    spots = [(k * shape.spacing, 0.0) for k in range(shape.count)]
    ohm = physics.rods_resistance(spots, length=shape.length, radius=radius, soil=soil)
    apart = f"{shape.count} rods in a row {_m(shape.spacing)} apart, each {size}"
    return f"{apart}; Dwight 1936, with the potential of each at the others", ohm


@by_formula.register
def _(shape: Posts, soil: float) -> tuple[str, float]:
    along, across = shape.spacing or 0.0, shape.rows_apart or 0.0
    spots = [(i * along, j * across) for j in range(shape.rows) for i in range(shape.in_a_row)]
    ohm = physics.rods_resistance(spots, length=shape.length, radius=shape.radius, soil=soil)
    size = f"{_m(shape.length)} deep and {_m(shape.around)} around"
    words = f"{shape.rows * shape.in_a_row} posts {size}, as rods of that perimeter"
    return f"{words}; Dwight 1936, with the potential of each at the others", ohm


def _section(shape: Strip | Ring | Radials) -> str:
    if shape.width is not None:
        return f"{_m(shape.width)} wide, {_m(shape.depth)} deep"
    assert shape.diameter is not None
    return f"{_m(shape.diameter)} thick, {_m(shape.depth)} deep"


@by_formula.register
def _(shape: Strip, soil: float) -> tuple[str, float]:
    ohm = physics.horizontal_resistance(shape.length, shape.radius, shape.depth, soil)
    return f"strip {_m(shape.length)} long, {_section(shape)}; Dwight 1936", ohm


@by_formula.register
def _(shape: Ring, soil: float) -> tuple[str, float]:
    ohm = physics.ring_resistance(shape.length, shape.radius, shape.depth, soil)
    return f"ring of {_m(shape.length)}, {_section(shape)}, as a circle; Dwight 1936", ohm


@by_formula.register
def _(shape: Radials, soil: float) -> tuple[str, float]:
    ohm = physics.star_resistance(shape.count, shape.length, shape.radius, shape.depth, soil)
    words = f"{shape.count} radials of {_m(shape.length)}, {_section(shape)}, equally around"
    return f"{words}; Sunde 1949", ohm


@by_formula.register
def _(shape: Foundation, soil: float) -> tuple[str, float]:
    ohm = physics.block_resistance(shape.length, shape.width, shape.depth, soil)
    words = f"foundation {_m(shape.length)} by {_m(shape.width)}, {_m(shape.depth)} deep"
    return f"{words}, as half an ellipsoid of its area and volume, concrete as metal", ohm


@by_formula.register
def _(shape: Plates, soil: float) -> tuple[str, float]:
    ohm = physics.plates_resistance(
        shape.count, area=shape.length * shape.width, depth=shape.depth,
        spacing=shape.spacing or 0.0, soil=soil,
    )  # fmt: skip
    plates = f"{shape.count} plates {_m(shape.spacing)} apart" if shape.spacing else "plate"
    words = f"{plates} of {_m(shape.length)} by {_m(shape.width)}, upright, {_m(shape.depth)} deep"
    return f"{words}; Dwight 1936", ohm
