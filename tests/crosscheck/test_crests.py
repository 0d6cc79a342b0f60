"""Crests of nearly equal size and opposite sign, between solvers that share nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND
from surgesim.network.probes import EarthProbe
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Ramp
from surgesim.studies.crests import opposite_crests
from surgesim.studies.record_compare import DIFFERS, REPRODUCED, SECOND_SOLVER, numbers_beside

WHAT = "rod: rise_v"


def case(rise: float) -> dict[str, Any]:
    earth = {"name": "rod", "rise_v": rise, "peak_a": 40.0, "charge_c": 1e-3}
    figures = {"charge_c": 1e-3, "specific_energy_j_per_ohm": 1.0}
    return {"terminals": [], "arresters": [], "earths": [earth], "surge_figures": figures}


def compared(claimed: float, found: float, opposite: dict[str, float]) -> str:
    items = numbers_beside(case(claimed), case(found), SECOND_SOLVER, opposite=opposite)
    return str(next(item["status"] for item in items if item["what"] == WHAT))


def test_either_sign_is_right_where_both_crests_are_as_large() -> None:
    """The dairy's c0052: 987 V of the one solver, -982 V and 980 V of the other."""
    assert compared(987.3, -981.6, {WHAT: 980.2}) == REPRODUCED


@pytest.mark.parametrize(
    ("claimed", "found", "opposite"),
    [
        (987.3, -981.6, {}),  # the same solver: it has to find the same crest
        (987.3, -981.6, {WHAT: 950.0}),  # the other crest is plainly the smaller one
        (987.3, -981.6, {WHAT: 0.0}),  # a sign turned around
        (987.3, -1005.0, {WHAT: 1000.0}),  # as large as each other, and both too large
    ],
)
def test_otherwise_it_is_a_difference(
    claimed: float, found: float, opposite: dict[str, float]
) -> None:
    assert compared(claimed, found, opposite) == DIFFERS


def test_crests_are_read_off_both_windows() -> None:
    def waves(window: Any, time: list[float], volts: list[float]) -> Waveforms:
        return Waveforms(
            window=window, time=np.array(time), voltages={"bar": np.array(volts)},
            currents={"meter": -np.abs(np.array(volts))}, step=1.0, stop=time[-1],
        )  # fmt: skip

    probe = EarthProbe(name="rod", place="yard", node="bar", ammeter="meter", resistance=1.0)
    ramp = Ramp(peak=1.0, rise=1.0)
    network = Network(title="two crests", elements=(), waveform=ramp, earths=(probe,))
    front, tail = waves("front", [0, 1, 2], [0, 9, 3]), waves("tail", [0, 2, 3, 4], [0, 1, -8, 0])
    assert GROUND not in front.voltages
    assert opposite_crests(network, front, tail) == {WHAT: -8.0, "rod: peak_a": 0.0}
