"""Guesses about currents beside an installation, and their ranges."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from surgesim.build import build
from surgesim.reading.quantities import SPEED, format_quantity
from surgesim.scenario.schema import Scenario
from surgesim.studies.guess import End, Guess, with_thing


def guesses_beside(scenario: Scenario) -> Iterator[Guess]:
    """The speed of a return stroke, where the surge is one."""
    surge, name = scenario.surge, scenario.surge_name
    if surge.return_stroke_speed is None:
        return
    ends = (
        (speed, surge.model_copy(update={"return_stroke_speed": speed})) for speed in (1e8, 2e8)
    )
    yield Guess(
        what=f"speed of the return stroke of surge {name}",
        kind="from memory",
        used=format_quantity(surge.return_stroke_speed, SPEED),
        ends=tuple(
            End(
                value=format_quantity(speed, SPEED),
                network=partial(build, with_thing(scenario, "surges", {name: other})),
            )
            for speed, other in ends
        ),
        reason="a third to two thirds of the speed of light (Rakov and Uman 2003, from memory)",
    )
