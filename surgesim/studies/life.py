"""Does it last: how many years until the surges that are to be expected have used an arrester up.

Each element counts one life as one pulse of its rating. A surge that takes a share of that uses up
share^m of it; how often the surges happen adds up to what a year uses. The slope m of pulse-rating
charts lies between 2.5 and 4, and a flash density is known within a factor of two (common practice,
no source): both make the spread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from surgesim.physics.pulse_life import LEAST, MOST, USUAL, pulses
from surgesim.studies.worst import Record, readings

Data = dict[str, Any]

PULSE = ("peak", "charge", "specific_energy")
"""The shares of a rating that a pulse has; what a fuse carries is not the element's life."""

DENSITY_WITHIN = 2.0
"""Factor within which a flash density, and so how often a surge happens, is known."""


def life(events: Mapping[str, float], cases: Sequence[Record]) -> list[Data]:
    """Every element of one alternative's ``cases`` that has a rating, hardest worked first.

    ``events`` is how often a year each surge happens; surges that are not in it do not count.
    """
    shares: dict[tuple[str, str], dict[str, float]] = {}
    for case in cases:
        if case["surge"] not in events:
            continue
        for record in readings(case, "arresters"):
            share = _share(record["shares"])
            if share is not None:
                mine = shares.setdefault((record["name"], record["element"]), {})
                mine[case["surge"]] = max(mine.get(case["surge"], 0.0), share)
    told = [_told(key, of, events) for key, of in shares.items()]
    return sorted(told, key=lambda one: math.inf if one["years"] is None else one["years"])


def _share(shares: Mapping[str, float | None]) -> float | None:
    """The largest of a pulse's shares; None where the card gives no rating."""
    known = [share for key in PULSE if (share := shares.get(key)) is not None]
    return max(known, default=None)


def _told(key: tuple[str, str], shares: Mapping[str, float], events: Mapping[str, float]) -> Data:
    hardest = max(shares, key=lambda surge: events[surge] / pulses(shares[surge], USUAL))
    years = [_years(shares, events, slope) for slope in (LEAST, USUAL, MOST)]
    return {
        "name": key[0],
        "element": key[1],
        "surge": hardest,
        "events_per_year": events[hardest],
        "share": shares[hardest],
        "pulses": _finite(pulses(shares[hardest], USUAL)),
        "years": _finite(years[1]),
        "years_low": _finite(min(years) / DENSITY_WITHIN),
        "years_high": _finite(max(years) * DENSITY_WITHIN),
    }


def _years(shares: Mapping[str, float], events: Mapping[str, float], slope: float) -> float:
    used = math.fsum(events[surge] / pulses(share, slope) for surge, share in shares.items())
    return math.inf if used == 0.0 else 1.0 / used


def _finite(number: float) -> float | None:
    """None where nothing is used up."""
    return number if math.isfinite(number) else None


def events_of(scenarios: Iterable[Any]) -> dict[str, float]:
    """How often a year each surge happens that says so, by its name; the most of any level."""
    events: dict[str, float] = {}
    for scenario in scenarios:
        happens = scenario.surge.happens
        if happens is not None:
            often = happens.events(scenario.site.flash_density)
            name = scenario.surge_name
            events[name] = max(events.get(name, 0.0), often)
    return events
