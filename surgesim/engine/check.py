"""A circuit with a known answer, to see that the engine found here answers rightly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from surgesim.engine.simulation import simulate
from surgesim.engine.version import EngineInfo, engine_version
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Line, Resistor, VoltageSource
from surgesim.physics.waveforms import Step

TOLERANCE = 0.002
"""Share of the largest voltage by which a measured plateau may miss the expected one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """Measured against expected voltages, in V, of one circuit."""

    engine: EngineInfo
    source: str
    measured: tuple[float, ...]
    expected: tuple[float, ...]
    elapsed: float

    @property
    def passed(self) -> bool:
        """Whether every measured voltage is the known one, within the tolerance."""
        error = np.max(np.abs(np.subtract(self.measured, self.expected)))
        return bool(error <= TOLERANCE * max(self.expected))


def check_engine() -> Check:
    """Lattice of a mismatched line, by the engine: four plateaus at its end.

    Turan Gönen, Electric Power Transmission System Engineering, 2nd ed., Example 7.6: 1 kV
    from an ideal source on 40 ohm ending in 60 ohm; 1200, 960, 1008 and 998.4 V.
    """
    delay, rise = 1e-6, 0.1e-6
    waves = simulate(_lattice(delay, rise), window="front")
    plateaus = [float(np.interp(k * delay, waves.time, waves.at("end"))) for k in (2, 4, 6, 8)]
    return Check(
        engine=engine_version(),
        source="Gönen, Electric Power Transmission System Engineering, 2nd ed., Example 7.6",
        measured=tuple(plateaus),
        expected=(1200.0, 960.0, 1008.0, 998.4),
        elapsed=waves.elapsed,
    )


def _lattice(delay: float, rise: float) -> Network:
    step = Step(peak=1000.0, rise=rise)
    line = Line(
        name="line",
        near=("start",),
        far=("end",),
        voltage_modes=((1.0,),),
        impedance=(40.0,),
        delay=(delay,),
        resistance=(0.0,),
    )
    return Network(
        title="lattice of a mismatched line",
        elements=(
            VoltageSource(name="source", a="start", b=GROUND, waveform=step),
            line,
            Resistor(name="load", a="end", b=GROUND, resistance=60.0),
        ),
        waveform=step,
    )
