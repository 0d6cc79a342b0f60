"""Each kind of element in ngspice's terms: add a kind by registering one function."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import singledispatch

from surgesim.engine.gap import Course, lower_gap
from surgesim.engine.insulation import lower_arc, lower_insulation
from surgesim.engine.lines import InRow, lower_line
from surgesim.engine.names import Names
from surgesim.engine.numbers import number
from surgesim.engine.parts import Kind, Lowered, Part
from surgesim.engine.rows import Row
from surgesim.engine.sources import expression
from surgesim.engine.table import clamp_points, photovoltaic_points, pwl, varistor_points
from surgesim.engine.windows import Plan
from surgesim.network.elements import (
    Ammeter,
    Capacitor,
    Clamp,
    Coupling,
    CurrentSource,
    Element,
    Inductor,
    Insulation,
    IonisingSoil,
    Line,
    PhotovoltaicSource,
    Resistor,
    SparkGap,
    Varistor,
    VoltageSource,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flashovers:
    """What the front has already decided, for a tail that must tell the same story.

    ``fired_at`` (s) of every insulation that fired in the front; any other may fire only
    after ``until`` (s), the front's end. ``gaps`` are how the discharge of each spark gap went
    till then.
    """

    fired_at: Mapping[str, float] = field(default_factory=dict)
    gaps: Mapping[str, Course] = field(default_factory=dict)
    until: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What lowering an element depends on besides the element; ``rows`` by their lines' names."""

    names: Names
    plan: Plan
    inductances: Mapping[str, float]
    flashovers: Flashovers
    rows: Mapping[str, Row] = field(default_factory=dict)

    def ends(self, element: Element) -> tuple[str, str]:
        """The deck's nodes for the two ends of an element."""
        return self.names.node(element.a), self.names.node(element.b)


@singledispatch
def lower(element: object, setting: Setting) -> Lowered:
    """The deck elements of one element of a network."""
    kind = type(element).__name__
    raise TypeError(f"no way to write {kind} for ngspice, {setting.plan.window} window")


@lower.register
def _(element: Resistor, setting: Setting) -> Lowered:
    return _one("R", element, setting, number(element.resistance))


@lower.register
def _(element: Capacitor, setting: Setting) -> Lowered:
    return _one("C", element, setting, number(element.capacitance))


@lower.register
def _(element: Inductor, setting: Setting) -> Lowered:
    return _sensed("L", element, setting, number(element.inductance))


@lower.register
def _(element: Ammeter, setting: Setting) -> Lowered:
    return _sensed("V", element, setting, "0")


@lower.register
def _(element: Coupling, setting: Setting) -> Lowered:
    names = setting.names
    inductors = f"L{names.element(element.first)}", f"L{names.element(element.second)}"
    both = setting.inductances[element.first] * setting.inductances[element.second]
    factor = number(element.mutual / math.sqrt(both))
    return Lowered(parts=(Part("K", names.element(element.name), inductors, factor),))


@lower.register
def _(element: VoltageSource, setting: Setting) -> Lowered:
    if element.waveform is None:
        return _sensed("V", element, setting, number(element.offset))
    name, (a, b) = setting.names.element(element.name), setting.ends(element)
    middle = f"{name}_m"
    parts = (
        Part("V", name, (a, middle), number(element.offset)),
        Part("B", name, (middle, b), f"v={expression(element.waveform)}"),
    )
    return Lowered(parts=parts, currents={element.name: f"V{name}"})


@lower.register
def _(element: CurrentSource, setting: Setting) -> Lowered:
    return _one("B", element, setting, f"i={expression(element.waveform)}")


@lower.register
def _(element: Varistor, setting: Setting) -> Lowered:
    return _table(element, setting, varistor_points(element.law))


@lower.register
def _(element: Clamp, setting: Setting) -> Lowered:
    return _table(element, setting, clamp_points(element.voltage, element.resistance))


@lower.register
def _(element: PhotovoltaicSource, setting: Setting) -> Lowered:
    points = photovoltaic_points(
        element.open_circuit_voltage, element.short_circuit_current, element.resistance
    )
    return _table(element, setting, points)


@lower.register
def _(element: IonisingSoil, setting: Setting) -> Lowered:
    """Current from voltage, the law solved for it: u (w + sqrt(1 + w^2)), u = v/R0, w = |u|/2Ig."""
    a, b = setting.ends(element)
    volts, scale = f"v({a},{b})", number(2.0 * element.resistance * element.critical)
    share = f"{volts}/{scale}"
    swollen = f"abs({share})+sqrt(1+({share})*({share}))"
    value = f"i={volts}/{number(element.resistance)}*({swollen})"
    return _one("B", element, setting, value)


@lower.register
def _(element: Insulation, setting: Setting) -> Lowered:
    (a, b), name = setting.ends(element), setting.names.element(element.name)
    fired_at = setting.flashovers.fired_at.get(element.name)
    if fired_at is not None:
        return lower_arc(element, name=name, a=a, b=b, fired_at=fired_at)
    armed_from = setting.flashovers.until
    return lower_insulation(element, name=name, a=a, b=b, armed_from=armed_from)


@lower.register
def _(element: SparkGap, setting: Setting) -> Lowered:
    (a, b), name = setting.ends(element), setting.names.element(element.name)
    return lower_gap(element, name=name, a=a, b=b, given=setting.flashovers.gaps.get(element.name))


@lower.register
def _(element: Line, setting: Setting) -> Lowered:
    names, lumped = setting.names, element.name in setting.plan.lumped
    if element.name in setting.rows:
        row = setting.rows[element.name]
        part = InRow(row=row, line=element, element=names.element, node=names.node)
        return part.lower(lumped=lumped)
    return lower_line(element, name=names.element(element.name), node=names.node, lumped=lumped)


def _part(kind: Kind, element: Element, setting: Setting, value: str) -> Part:
    return Part(kind, setting.names.element(element.name), setting.ends(element), value)


def _one(kind: Kind, element: Element, setting: Setting, value: str) -> Lowered:
    return Lowered(parts=(_part(kind, element, setting, value),))


def _sensed(kind: Kind, element: Element, setting: Setting, value: str) -> Lowered:
    part = _part(kind, element, setting, value)
    return Lowered(parts=(part,), currents={element.name: part.full_name})


def _table(element: Element, setting: Setting, points: tuple[tuple[float, float], ...]) -> Lowered:
    a, b = setting.ends(element)
    return _one("B", element, setting, f"i={pwl(f'v({a},{b})', points)}")
