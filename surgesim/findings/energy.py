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

from surgesim.errors import ResultRefused
from surgesim.findings.devices import current
from surgesim.findings.lines import energy_into
from surgesim.findings.record import integral
from surgesim.findings.wiring import Wiring
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

    Positive: lost or stored; negative: delivered by a source or out of a store.
    """

    window: Window
    taken: Mapping[str, float]

    @property
    def turned_over(self) -> float:
        """Energy that changed hands, J: half the sum of sizes, being counted at both hands."""
        return math.fsum(abs(joules) for joules in self.taken.values()) / 2

    @property
    def closure(self) -> float:
        """Energy unaccounted for as a share of the energy turned over."""
        missing = abs(math.fsum(self.taken.values()))
        return missing / max(self.turned_over, LEAST_ENERGY)

    def check(self) -> None:
        """Raise ResultRefused when the closure is beyond :data:`CLOSURE_LIMIT`."""
        if self.closure > CLOSURE_LIMIT:
            largest = sorted(self.taken, key=lambda name: -abs(self.taken[name]))[:3]
            raise ResultRefused(
                f"energy closure of the {self.window} window: {self.closure * 100:.2g} % of "
                f"{self.turned_over:.3g} J is unaccounted for, more than "
                f"{CLOSURE_LIMIT * 100:g} %",
                hint=f"a shorter step may help; most energy is in {', '.join(largest)}",
            )


def energy_balance(network: Network, waves: Waveforms) -> EnergyBalance:
    """The balance of one window, from t = 0 to its end, on the engine's own time points."""
    wiring = Wiring(network)
    inductors = {e.name: e for e in network.elements if isinstance(e, Inductor)}
    taken: dict[str, float] = {}
    for element in network.elements:
        if isinstance(element, Coupling):
            pair = inductors[element.first], inductors[element.second]
            taken[element.name] = _mutual(element, *pair, waves)
        elif isinstance(element, Line):
            taken[element.name] = energy_into(element, waves)
        else:
            taken[element.name] = energy_taken(element, waves, wiring)
    return EnergyBalance(window=waves.window, taken=taken)


def energy_taken(element: Element, waves: Waveforms, wiring: Wiring) -> float:
    """Energy in J an element took over the window; a source's is negative."""
    match element:
        case Capacitor():
            volts = waves.across(element.a, element.b)
            return element.capacitance / 2 * float(volts[-1] ** 2 - volts[0] ** 2)
        case Inductor():
            amps = waves.currents[element.name]
            return element.inductance / 2 * float(amps[-1] ** 2 - amps[0] ** 2)
        case Varistor() | Clamp() | Insulation() | PhotovoltaicSource():
            return _device(element, waves, wiring)
        case _:
            return _through(element, waves)


def _device(element: Element, waves: Waveforms, wiring: Wiring) -> float:
    """By the current of what stands in series, where that is known; else by its own law."""
    amps = wiring.series_current(element, waves)
    if amps is None:
        return _through(element, waves)
    volts = waves.across(element.a, element.b)
    beside = wiring.companions(element)
    return integral(volts * amps, waves.time) - math.fsum(
        energy_taken(companion, waves, wiring) for companion in beside
    )


def _through(element: Element, waves: Waveforms) -> float:
    volts = waves.across(element.a, element.b)
    return integral(volts * current(element, waves), waves.time)


def _mutual(coupling: Coupling, first: Inductor, second: Inductor, waves: Waveforms) -> float:
    one, two = waves.currents[first.name], waves.currents[second.name]
    return coupling.mutual * float(one[-1] * two[-1] - one[0] * two[0])
