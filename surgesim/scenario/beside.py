"""Bare bonds that lie in the soil beside a cable's duct."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.reading.names import did_you_mean
from surgesim.reading.quantities import LENGTH, format_quantity
from surgesim.scenario.bonds import Bond
from surgesim.scenario.references import Complaint
from surgesim.scenario.schema import Scenario


def beside_a_duct(
    name: str, bond: Bond, places: set[str], scenario: Scenario
) -> Iterator[Complaint]:
    """What is wrong with where a bond lies that ends at ``places`` and is ``laid with`` a cable."""
    here, other = ("bonds", name, "laid with"), bond.laid_with or ""
    cable = scenario.cables.get(other)
    if cable is None:
        yield here, f"no cable {other!r}", did_you_mean(other, scenario.cables)
    elif cable.laid_with is not None:
        words = f"{other!r} has no 'laying' of its own"
        yield here, words, f"name the cable that has it, {cable.laid_with!r}"
    elif len(cable.laying or ()) != 1 or (cable.laying or ())[0].in_ != "plastic duct":
        words = f"{other!r} does not lie in one plastic duct all along"
        yield here, words, "leave 'laid with' and 'spacing' out: it then induces nothing in cables"
    elif {cable.from_, cable.to} != places:
        words = f"{other!r} does not join the same two places"
        yield here, words, "only what runs between the same two places shares a route"
    elif cable.length != bond.length:
        length = format_quantity(cable.length, LENGTH)
        yield here, f"{other!r} is {length} long, this is not", "give both the same length"
