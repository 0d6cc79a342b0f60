"""Leads of arresters that are longer than the rule for them."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.scenario.schema import Arrester, Scenario

LONGEST = 0.5
"""m of connecting leads in all, conductors and earth together, that should not be passed (IEC
60364-5-53:2015 cl. 534 and IEC 61643-12, from memory)."""


def lead_cautions(scenario: Scenario) -> Iterator[str]:
    """A word on each arrester whose leads together are longer than the rule has them."""
    for name, slot in scenario.arresters.items():
        length = in_the_way(slot)
        if length > LONGEST * (1.0 + 1e-9):
            yield (
                f"Arrester {name}: {length:g} m of leads in the surge's way, more than the"
                f" {LONGEST:g} m in all of IEC 60364-5-53 cl. 534 (from memory); --breakdown tells"
                " what they add."
            )


def in_the_way(slot: Arrester) -> float:
    """Length in m of the leads whose drop adds to what the equipment sees: those of a tee."""
    earth = slot.leads.earth
    line = slot.leads.line if slot.wiring == "tee" else 0.0
    return line + (0.0 if earth is None or slot.earth_wiring == "V" else earth.length)
