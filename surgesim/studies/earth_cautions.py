"""What an earth's own numbers say against each other."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.build.electrodes import worked_out
from surgesim.scenario.schema import Scenario

FAR_APART = 2.0
"""Factor between what was measured and what the shape gives from which it is told; a season
explains as much (common practice, no source)."""


def earth_cautions(scenario: Scenario) -> Iterator[str]:
    """Rods too near each other to help, and measured values that the shape does not explain."""
    for name, earth in scenario.earths.items():
        rod = earth.rod
        if rod is not None and rod.spacing is not None and rod.spacing < rod.length:
            yield (
                f"Earth {name}: rods {rod.length:g} m long and {rod.spacing:g} m apart share"
                " their soil; nearer than their length, more of them hardly help."
            )
        found = worked_out(earth, scenario.site.soil)
        if earth.measured is None or found.from_shape is None:
            continue
        ratio = found.resistance / found.from_shape
        if max(ratio, 1 / ratio) > FAR_APART:
            yield (
                f"Earth {name}: {found.resistance:.3g} ohm as measured, which counts, but"
                f" {found.from_shape:.3g} ohm by its shape and soil; one of the two is off."
            )
