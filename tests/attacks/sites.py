"""A small site in plain form with one of everything, and its peaks by either solver."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surgesim.build import build
from surgesim.engine import run_network, simulate
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms
from surgesim.oracle import fitting_step, peaks, solve
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario
from surgesim.scenario.written import as_yaml

Site = dict[str, Any]
Peaks = dict[str, float]
Series = Mapping[str, NDArray[np.float64]]

LIMIT = {"withstand": "500 kV", "from": "guess", "capacitance": "10 nF"}
"""Insulation that never fires here: what it does at its edge is no matter of these attacks."""

THINGS = (
    "roof", "shed", "board", "bar", "run", "wire", "feed", "rod", "foundation", "bond", "tie",
    "strings", "inverter", "modules", "slot", "surge",
)  # fmt: skip
"""What the site below has, each thing here called as what it is."""

STOP = 10e-6
"""Seconds that every run goes on: past the crest of 8/20, and tens of the cables' delays."""

PLAIN = {thing: thing for thing in THINGS}


def site(names: Mapping[str, str] = PLAIN) -> Site:
    """A roof, a shed 25 m of duct away and a board behind it, the things called as asked."""
    n = names
    return {
        "surgesim": "1",
        "title": "a small site",
        "site": {"soil": "200 ohm m"},
        "places": {n["roof"]: {}, n["shed"]: {"bars": [n["bar"]]}, n["board"]: {}},
        "cables": {
            n["run"]: {
                "from": n["roof"],
                "to": n["shed"],
                "length": "25 m",
                "type": "pv pair 6 mm2",
                "laying": "plastic duct 75 mm wide 0.7 m deep",
            },
            n["wire"]: {
                "from": n["roof"],
                "to": n["shed"],
                "length": "25 m",
                "type": "copper 16 mm2",
                "laid with": n["run"],
            },
            n["feed"]: {
                "from": n["shed"],
                "to": n["board"],
                "length": "12 m",
                "type": "copper 16 mm2",
                "laying": "in air 0.5 m high",
            },
        },
        "earths": {
            n["rod"]: {"at": n["roof"], "bar": "pe", "measured": "38 ohm", "inductance": "2 uH"},
            n["foundation"]: {
                "at": n["board"],
                "bar": "pe",
                "measured": "9 ohm",
                "inductance": "3 uH",
            },
        },
        "bonds": {
            n["bond"]: {
                "from": f"{n['roof']} frame",
                "to": f"{n['roof']} pe",
                "length": "1 m",
                "type": "copper 16 mm2",
            },
            n["tie"]: {
                "from": f"{n['shed']} {n['bar']}",
                "to": f"{n['shed']} pe",
                "length": "0.5 m",
                "type": "copper 16 mm2",
            },
        },
        "supply": {
            n["strings"]: {
                "at": n["roof"],
                "voltage": "800 V",
                "Isc at STC": "20 A",
                "reference": {"to": "frame", "each pole": "2 Mohm"},
            }
        },
        "equipment": {
            n["inverter"]: {
                "at": n["shed"],
                f"plus to {n['bar']}": dict(LIMIT),
                f"minus to {n['bar']}": dict(LIMIT),
                "plus to minus": {**LIMIT, "capacitance": "1 uF"},
            },
            n["modules"]: {
                "at": n["roof"],
                "plus to frame": dict(LIMIT),
                "minus to frame": dict(LIMIT),
            },
        },
        "arresters": {
            n["slot"]: {
                "at": n["shed"],
                "across": f"each pole to {n['bar']}",
                "card": "pv 1000 class II",
                "leads": {"line": "0.3 m", "earth": f"0.5 m to {n['bar']}"},
            }
        },
        "surges": {
            n["surge"]: {
                "shape": "8/20",
                "peak": "3 kA",
                "into": f"{n['roof']} frame",
                "returns": "remote earth",
            }
        },
    }


def scenario_of(data: Site) -> Scenario:
    """The one case of a site, read as the file that it would be."""
    (case,) = loads(as_yaml(data)).all_cases
    return case.scenario


def network_of(data: Site) -> Network:
    return build(scenario_of(data))


def oracle_peaks(network: Network, *, stop: float = STOP) -> Peaks:
    """Peak of everything probed, V or A, from the second solver.

    Of several delays its steps fit the shortest only; the others it reads between steps, and at
    1 ns does so for the front of 0.25 us to 1e-3.
    """
    step = fitting_step(network, largest=1e-9)
    return values(network, solve(network, step=step, stop=stop))


def front_peaks(network: Network, *, stop: float = STOP) -> Peaks:
    """The same from the engine's front, with an end that is the same for every network."""
    return values(network, simulate(network, window="front", stop=stop))


def engine_peaks(network: Network) -> Peaks:
    """The same from the engine's front, and from its tail where the front has ended."""
    front, tail = run_network(network)
    return values(network, joined(front, tail))


def values(network: Network, waves: Waveforms) -> Peaks:
    return {name: peak.value for name, peak in peaks(network, waves).items()}


def joined(front: Waveforms, tail: Waveforms) -> Waveforms:
    """One run of both windows: the tail's coarse steps count where there are no finer ones."""
    later = tail.time > front.time[-1]

    def both(one: Series, other: Series) -> Series:
        return {name: np.concatenate((one[name], other[name][later])) for name in one}

    return replace(
        front,
        time=np.concatenate((front.time, tail.time[later])),
        voltages=both(front.voltages, tail.voltages),
        currents=both(front.currents, tail.currents),
    )


SOLVERS = {"ngspice": front_peaks, "oracle": oracle_peaks}


def apart(one: Peaks, other: Peaks) -> float:
    """Largest difference in size of two sets of peaks, of the peak itself.

    What the surge hardly moves is not measured by itself: a peak counts as at least a hundredth
    of the largest one of its unit. Signs are left out, as a swing's two sides may be equal.
    """
    assert one.keys() == other.keys()
    least = {unit: 1e-2 * max(sizes) for unit, sizes in _by_unit(one).items()}
    return max(
        abs(abs(one[name]) - abs(other[name])) / max(abs(one[name]), least[_unit(name)])
        for name in one
    )


def _by_unit(found: Peaks) -> dict[str, list[float]]:
    sizes: dict[str, list[float]] = {"V": [], "A": []}
    for name, value in found.items():
        sizes[_unit(name)].append(abs(value))
    return sizes


def _unit(name: str) -> str:
    return "A" if name.endswith(" current") else "V"
