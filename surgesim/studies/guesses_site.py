"""Guesses about the site: ducts, soil, earths, bonds, and the array that stands there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

from surgesim.build import build
from surgesim.build.cables import WALL
from surgesim.network.circuit import Network
from surgesim.reading.quantities import (
    CAPACITANCE,
    FIELD,
    INDUCTANCE,
    LENGTH,
    RESISTANCE,
    RESISTIVITY,
    format_quantity,
)
from surgesim.scenario.bonds import LONGEST
from surgesim.scenario.schema import Scenario
from surgesim.studies.guess import (
    PRACTICE,
    End,
    Guess,
    about,
    assumed,
    built,
    ends_at,
    with_thing,
    with_value,
)


def ducts(scenario: Scenario) -> Iterator[Guess]:
    """Walls of plastic ducts, and widths that were assumed."""
    ducts = {
        n: c for n, c in scenario.cables.items() if any(laying.width for laying in c.laying or ())
    }
    if ducts:
        yield Guess(
            what="wall of the plastic ducts",
            kind="no source",
            used=f"{100 * WALL:g} % of the width",
            ends=tuple(
                End(value=f"{100 * wall:g} %", network=partial(build, scenario, wall=wall))
                for wall in (0.03, 0.1)
            ),
            reason=f"thin to thick ducts as they are sold ({PRACTICE})",
        )
    filled = assumed(scenario, "duct 50 mm wide") or ""
    named = [name for name in ducts if about(filled, name)]
    if named:

        def wide(value: float) -> Scenario:
            changed = {}
            for name in named:
                new = tuple(
                    laying.model_copy(update={"width": value}) if laying.width else laying
                    for laying in ducts[name].laying or ()
                )
                changed[name] = ducts[name].model_copy(update={"laying": new})
            return with_thing(scenario, "cables", changed)

        yield Guess(
            what=f"width of the duct of {' and '.join(named)}",
            kind="no source",
            used="50 mm",
            ends=ends_at((0.04, 0.11), LENGTH, wide),
            reason=f"ducts as they are sold for such cables ({PRACTICE})",
        )


def ground(scenario: Scenario) -> Iterator[Guess]:
    """The soil, and of each earth what nobody measured."""
    soil = scenario.site.soil

    def soaked(value: float) -> Scenario:
        return scenario.model_copy(
            update={"site": scenario.site.model_copy(update={"soil": value})}
        )

    yield Guess(
        what="resistivity of the soil",
        kind="not stated",
        used=format_quantity(soil, RESISTIVITY),
        ends=ends_at((soil / 2, 2 * soil), RESISTIVITY, soaked),
        reason=f"half to twice, by season and depth; measured earths stay ({PRACTICE})",
    )
    for name, earth in scenario.earths.items():
        yield from _ionising(scenario, name)
        if not earth.lumped:
            yield from _along(scenario, name)
            continue
        henry = earth.lumped
        yield Guess(
            what=f"inductance of earth {name}",
            kind="not stated",
            used=format_quantity(henry, INDUCTANCE),
            ends=ends_at(
                (henry / 2, 2 * henry),
                INDUCTANCE,
                with_value(scenario, "earths", name, "inductance"),
            ),
            reason=f"half to twice: its lead is seldom measured ({PRACTICE})",
        )


def _ionising(scenario: Scenario, name: str) -> Iterator[Guess]:
    """The field at which the soil round an electrode gives way, where it does."""
    earth = scenario.earths[name]
    if earth.ionises_at is None:
        return
    yield Guess(
        what=f"field at which the soil of earth {name} ionises",
        kind="not stated",
        used=format_quantity(earth.ionises_at, FIELD),
        ends=ends_at((300e3, 1e6), FIELD, with_value(scenario, "earths", name, "ionises_at")),
        reason="300 to 1000 kV/m, as soils were measured (from memory)",
    )


def _along(scenario: Scenario, name: str) -> Iterator[Guess]:
    """The chain along an electrode, against an electrode that is all of it at once."""
    earth = scenario.earths[name]
    if earth.lumped is not None:
        return

    def _at_once() -> Network:
        new = earth.model_copy(update={"inductance": 0.0})
        return build(with_thing(scenario, "earths", {name: new}))

    yield Guess(
        what=f"inductance along earth {name}",
        kind="not stated",
        used="from its shape",
        ends=(End(value="none", network=_at_once),),
        reason="without any the whole electrode counts from the first instant; formulas differ by"
        f" a fifth ({PRACTICE})",
    )


def bonds(scenario: Scenario) -> Iterator[Guess]:
    """Lengths of bonds: drawn, and seldom measured."""
    for name, bond in scenario.bonds.items():
        if bond.laid_with is not None:
            continue  # as long as its cable
        length, most = bond.length, LONGEST if bond.bare_in_soil is None else math.inf
        yield Guess(
            what=f"length of bond {name}",
            kind="not stated",
            used=format_quantity(length, LENGTH),
            ends=ends_at(
                (length / 2, min(2 * length, most)),
                LENGTH,
                with_value(scenario, "bonds", name, "length"),
            ),
            reason=f"half to twice as long as drawn ({PRACTICE})",
        )


def supplies(scenario: Scenario) -> Iterator[Guess]:
    """What an array does beyond its range, and its leakage."""
    filled = assumed(scenario, "array conducts beyond") or ""
    for name, supply in scenario.supply.items():

        def _leaking(value: float, name: str = name) -> Scenario:
            old = scenario.supply[name]
            reference = old.reference.model_copy(update={"each_pole": value})
            return with_thing(
                scenario, "supply", {name: old.model_copy(update={"reference": reference})}
            )

        ohm, leak = supply.resistance, supply.reference.each_pole
        if about(filled, name):
            yield Guess(
                what=f"resistance of {name} beyond its range",
                kind="guess",
                used=format_quantity(ohm, RESISTANCE),
                ends=ends_at(
                    (ohm / 2, 2 * ohm),
                    RESISTANCE,
                    with_value(scenario, "supply", name, "resistance"),
                ),
                reason=f"2 to 8 % of Voc/Isc instead of 4 % ({PRACTICE})",
            )
        if leak is not None:
            yield Guess(
                what=f"leakage of {name}, each pole",
                kind="not stated",
                used=format_quantity(leak, RESISTANCE),
                ends=ends_at((leak / 4, 10 * leak), RESISTANCE, _leaking),
                reason=f"a quarter in wet, ten times in dry weather ({PRACTICE})",
            )


def modules(scenario: Scenario) -> Iterator[Guess]:
    """The capacitance of modules to their frames, which is seldom measured."""
    for name, supply in scenario.supply.items():
        if not supply.to_frame:
            continue

        def _soaked(factor: float, name: str = name) -> Scenario:
            old = scenario.supply[name]
            assert old.modules is not None
            both = old.modules.capacitance_to_frame
            side = "dry" if old.surface == "dry" else "wet"
            cells = getattr(both, side)
            scaled = cells.model_copy(update={"value": factor * cells.value})
            modules = old.modules.model_copy(
                update={"capacitance_to_frame": both.model_copy(update={side: scaled})}
            )
            new = old.model_copy(update={"modules": modules})
            return with_thing(scenario, "supply", {name: new})

        guessed = about(assumed(scenario, "modules 100 nF per kW") or "", name)
        total = float(f"{supply.to_frame:.3g}")
        yield Guess(
            what=f"capacitance of the modules of {name} to their frames",
            kind="guess" if guessed else "not stated",
            used=format_quantity(total, CAPACITANCE),
            ends=tuple(
                End(
                    value=format_quantity(float(f"{factor * total:.3g}"), CAPACITANCE),
                    network=partial(built, _soaked, factor),
                )
                for factor in (0.5, 2.0)
            ),
            reason=f"half to twice, by glass, frame and weather ({PRACTICE})",
        )
