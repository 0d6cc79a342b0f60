"""What an engine hands back: every node voltage and branch current over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from surgesim.errors import ResultRefused
from surgesim.network.elements import GROUND

Window = Literal["front", "tail"]


class Series(dict[str, NDArray[np.float64]]):
    """Series by name. One that is not there is the refusal of the answer, by its name."""

    def __missing__(self, name: str) -> NDArray[np.float64]:
        raise ResultRefused(
            f"nothing dropped: the answer lacks {name!r}",
            hint="the engine left out what belongs to it, or solved another network",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Waveforms:
    """One run of a network over one window.

    ``time`` in s, shape (m,), increasing, from 0 to ``stop``. ``voltages`` maps a node of the
    network to its voltage to remote earth, V. ``currents`` maps the name of an Ammeter,
    VoltageSource or Inductor to its current a to b, A. A line's modes appear as
    ``f"{line}/near/{k}"`` and ``f"{line}/far/{k}"`` in both maps: voltage at the lossless
    line's own port (behind its end resistances) and current into that port.
    ``step`` is the ceiling that was used, ``lumped`` the lines replaced by one pi section.
    """

    window: Window
    time: NDArray[np.float64]
    voltages: Mapping[str, NDArray[np.float64]]
    currents: Mapping[str, NDArray[np.float64]]
    step: float
    stop: float
    lumped: tuple[str, ...] = ()
    engine: str = ""
    options: str = ""
    elapsed: float = 0.0
    notes: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        object.__setattr__(self, "voltages", Series(self.voltages))
        object.__setattr__(self, "currents", Series(self.currents))

    def across(self, a: str, b: str) -> NDArray[np.float64]:
        """Voltage v(a) - v(b) over time, V."""
        return self.at(a) - self.at(b)

    def at(self, node: str) -> NDArray[np.float64]:
        """Voltage of a node to remote earth over time, V."""
        if node == GROUND:
            return np.zeros_like(self.time)
        return self.voltages[node]
