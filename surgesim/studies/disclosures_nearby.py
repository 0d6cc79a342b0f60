"""What a scenario's things have in common through soil and field, as plain data for its record."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from surgesim.build.induction import Field
from surgesim.build.soil import distance_and_mutual, electrodes, struck_spot
from surgesim.build.surges import surge_waveform
from surgesim.physics.induced import Induced
from surgesim.physics.induction import Point
from surgesim.physics.induction import induced as mutual
from surgesim.scenario.nearby import courses, loop_beside, spaced
from surgesim.scenario.schema import Scenario
from surgesim.studies.disclosures_circuit import Entry, six

THROUGH_SOIL = (
    "uniform soil, seen from afar as an upright rod (Dwight 1936) or a point: soil/(2 pi d)"
)
CHANNEL = (
    "field of a return stroke up an upright channel (transmission-line model); along the soil its"
    " surface impedance times that field, by diffusion in closed form"
)
CONDUCTOR = "field of the conductor's own length and of its image in the ground (Neumann)"


def common_soil(scenario: Scenario) -> Iterator[Entry]:
    """Each pair of electrodes, or of an electrode and the spot that a stroke enters."""
    soil = scenario.site.soil
    seen = list(electrodes(scenario))
    spot = struck_spot(scenario)
    for first, second in itertools.combinations([*seen, *([spot] if spot else [])], 2):
        distance, ohm = distance_and_mutual(first, second, soil)
        yield {
            "first": first.name,
            "second": f"surge {second.name}" if second is spot else second.name,
            "distance_m": six(distance),
            "mutual_ohm": six(ohm),
            "obtained": THROUGH_SOIL,
        }


def induced(scenario: Scenario) -> Iterator[Entry]:
    """Each route and loop beside a current outside the installation: what is induced, open."""
    field = Field.of(scenario, surge_waveform(scenario))
    if field is None:
        return
    time = np.geomspace(1e-3 * field.front, field.end, 20_000)
    for name, cable in scenario.cables.items():
        found = courses(cable, scenario)
        if found:
            parts = [field.over(course) for course in found]
            yield _entry(scenario, f"cable {name}", parts, field, [c.path for c in found], time)
        for other, spacing in spaced(name, scenario).items() if found else ():
            around = [loop_beside(course.path, spacing) for course in found]
            parts = [field.around(loop) for loop in around]
            where = f"loop of cable {other} and cable {name}"
            yield _entry(scenario, where, parts, field, around, time)
    for name, loop in scenario.loops.items():
        yield _entry(
            scenario, f"loop {name}", [field.around(loop.around)], field, [loop.around], time
        )


def _entry(
    scenario: Scenario,
    where: str,
    parts: list[Induced],
    field: Field,
    paths: Sequence[Sequence[Point]],
    time: NDArray[np.float64],
) -> Entry:
    values = np.sum([part.value(time) for part in parts], axis=0)
    struck = scenario.surge.strikes_ground_at is not None
    over = (path for path in paths if max(point[2] for point in path) > 0.0)
    return {
        "surge": scenario.surge_name,
        "where": where,
        "mutual_h": six(sum(mutual(path, field.source) for path in over)),
        "crest_v": six(float(values[int(np.argmax(np.abs(values)))])),
        "obtained": CHANNEL if struck else CONDUCTOR,
    }
