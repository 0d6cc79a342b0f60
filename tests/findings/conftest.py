"""Hand-made waveforms, so that every expected number has a closed form."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from surgesim.network.waveforms import Waveforms, Window

Series = Mapping[str, NDArray[np.float64]]


def make_waves(
    time: NDArray[np.float64],
    voltages: Series,
    currents: Series | None = None,
    *,
    window: Window = "front",
    lumped: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Waveforms:
    return Waveforms(
        window=window,
        time=time,
        voltages=voltages,
        currents=currents or {},
        step=float(np.max(np.diff(time))),
        stop=float(time[-1]),
        lumped=lumped,
        notes=notes,
    )


@pytest.fixture(scope="session")
def waves() -> Callable[..., Waveforms]:
    return make_waves
