"""Energy closure: what the sources gave must be lost, stored or still travelling.

Every element takes energy from its two nodes: ``integral of v i`` where it dissipates or
delivers, the change of its store where it stores. Over a whole circuit these add up to zero at
every instant (Tellegen). What is left over measures the run: steps too long for what happened
in them, an element that was not lowered as described, a line that lost or made energy. It does
not measure whether the circuit is the right one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from surgesim.findings.devices import Currents
from surgesim.findings.lines import energy_into
from surgesim.findings.measured import Measured
from surgesim.findings.record import integral
from surgesim.findings.wiring import Wiring
from surgesim.findings.words import percent
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    Capacitor,
    Clamp,
    Coupling,
    Element,
    Inductor,
    Insulation,
    Line,
    PhotovoltaicSource,
    SparkGap,
    Varistor,
)
from surgesim.network.waveforms import Waveforms, Window

CLOSURE_LIMIT = 0.005
"""A result that leaves more than this share of its energy unaccounted for is refused."""

LEAST_ENERGY = 1e-9
"""J; turnovers below a nanojoule count as this much, or a dead circuit's noise had a closure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyBalance:
    """Energy in J that each element took from the circuit over one window.

    Positive: lost or stored; negative: delivered by a source or out of a store. ``before`` is
    what had been turned over in the record already.
    """

    window: Window
    taken: Mapping[str, float]
    before: float = 0.0

    @property
    def turned_over(self) -> float:
        """Energy that changed hands, J: half the sum of sizes, being counted at both hands."""
        return self.before + math.fsum(abs(joules) for joules in self.taken.values()) / 2

    @property
    def closure(self) -> float:
        """Energy unaccounted for as a share of the energy turned over."""
        missing = abs(math.fsum(self.taken.values()))
        return missing / max(self.turned_over, LEAST_ENERGY)

    def measured(self) -> Measured:
        """The closure against :data:`CLOSURE_LIMIT`."""
        largest = sorted(self.taken, key=lambda name: -abs(self.taken[name]))[:3]
        return Measured(
            name="energy closure",
            worst=self.closure,
            limit=CLOSURE_LIMIT,
            unit="share",
            where=f"the {self.window} window",
            told=f"{percent(self.closure)} of {self.turned_over:.3g} J is unaccounted for, more "
            f"than {percent(CLOSURE_LIMIT)}",
            hint=f"a shorter step may help; most energy is in {', '.join(largest)}",
        )


def energy_balance(
    network: Network,
    waves: Waveforms,
    *,
    since: float = 0.0,
    before: float = 0.0,
    currents: Currents | None = None,
) -> EnergyBalance:
    """The balance of one window, from ``since`` (s) to its end, on the engine's own points.

    A tail is held to account from the front's end on. What its steps are too coarse for before
    that, the record takes from the front, in which ``before`` (J) was turned over. ``currents``
    are the window's, where they are known.
    """
    first = max(int(np.searchsorted(waves.time, since, side="right")) - 1, 0)
    currents = (currents or Currents(waves)).since(first)
    wiring = Wiring(network)
    inductors = {e.name: e for e in network.elements if isinstance(e, Inductor)}
    taken: dict[str, float] = {}
    for element in network.elements:
        if isinstance(element, Coupling):
            pair = inductors[element.first], inductors[element.second]
            taken[element.name] = _mutual(element, *pair, currents.waves)
        elif isinstance(element, Line):
            taken[element.name] = energy_into(element, waves, first=first)
        else:
            taken[element.name] = energy_taken(element, currents, wiring)
    return EnergyBalance(window=waves.window, taken=taken, before=before)


def energy_taken(element: Element, currents: Currents, wiring: Wiring) -> float:
    """Energy in J an element took over the window; a source's is negative."""
    waves = currents.waves
    match element:
        case Capacitor():
            volts = waves.across(element.a, element.b)
            return element.capacitance / 2 * float(volts[-1] ** 2 - volts[0] ** 2)
        case Inductor():
            amps = waves.currents[element.name]
            return element.inductance / 2 * float(amps[-1] ** 2 - amps[0] ** 2)
        case Varistor() | Clamp() | Insulation() | PhotovoltaicSource() | SparkGap():
            return _device(element, currents, wiring)
        case _:
            return _through(element, currents)


def _device(element: Element, currents: Currents, wiring: Wiring) -> float:
    """By the current of what stands in series, where that is known; else by its own law."""
    amps = wiring.series_current(element, currents)
    if amps is None:
        return _through(element, currents)
    waves = currents.waves
    volts = waves.across(element.a, element.b)
    beside = wiring.companions(element)
    return integral(volts * amps, waves.time) - math.fsum(
        energy_taken(companion, currents, wiring) for companion in beside
    )


def _through(element: Element, currents: Currents) -> float:
    volts = currents.waves.across(element.a, element.b)
    return integral(volts * currents.through(element), currents.waves.time)


def _mutual(coupling: Coupling, first: Inductor, second: Inductor, waves: Waveforms) -> float:
    one, two = waves.currents[first.name], waves.currents[second.name]
    return coupling.mutual * float(one[-1] * two[-1] - one[0] * two[0])
