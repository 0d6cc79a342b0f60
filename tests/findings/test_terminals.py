from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.errors import ResultRefused
from surgesim.findings.insulation import Flashover
from surgesim.findings.record import Record
from surgesim.findings.terminals import (
    TerminalFinding,
    conditioned,
    measure_terminal,
    reached,
)
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.network.waveforms import Waveforms

Make = Callable[..., Waveforms]

FRONT, TAIL = np.arange(5) * 1.0, np.arange(11) * 2.0


def probe(*, limit: float = 6e3, bar: str | None = "bar", gap: bool = False) -> TerminalProbe:
    return TerminalProbe(
        equipment="inverter", pair="plus to pe", place="wall", a="plus", b="pe", bar=bar,
        limit=Limit(kind="withstand", volts=limit, origin="table", where="IEC 62109-1 Table 16"),
        insulation="gap" if gap else None, flashover=12e3 if gap else None,
    )  # fmt: skip


def record(
    make: Make, front: list[float], tail: list[float], *, pe: float = 0.0, bar: float = 0.0
) -> Record:
    def one(time: np.ndarray, plus: list[float], window: str) -> Waveforms:
        volts = np.array(plus)
        nodes = {"plus": volts, "pe": volts * 0 + pe, "bar": volts * 0 + bar}
        return make(time, nodes, window=window)

    return Record(one(FRONT, front, "front"), one(TAIL, tail, "tail"))


def measured(
    record: Record, probe: TerminalProbe, *, flashover: Flashover | None = None
) -> TerminalFinding:
    return measure_terminal(probe, record, flashover=flashover, asked_percent=25.0)


QUIET = [0.0] * 11
FIRED = Flashover(label="inverter, plus to pe", at=2.0, volts=11.9e3)


def test_peak_time_window_and_margin(waves: Make) -> None:
    found = measured(record(waves, [0, 1e3, -4e3, 2e3, 1e3], QUIET), probe())
    assert (found.peak_v, found.time_s, found.window) == (-4e3, 2.0, "front")
    assert (found.ratio, found.margin_percent) == (1.5, 50.0)
    assert found.verdict == "holds"


def test_peak_on_the_tail(waves: Make) -> None:
    tail = [0, 9e3, 9e3, 2e3, 5e3, 3e3, 1e3, 0, 0, 0, 0]
    found = measured(record(waves, [0, 1e3, 3e3, 2e3, 1e3], tail), probe())
    # what the tail says before the front's end at 4 s is not heard
    assert (found.peak_v, found.time_s, found.window) == (5e3, 8.0, "tail")
    assert found.verdict == "thin"


def test_peak_at_the_fronts_last_point(waves: Make) -> None:
    tail = [0, 0, 0, 2e3, 1e3, 0, 0, 0, 0, 0, 0]
    found = measured(record(waves, [0, 1e3, 3e3, 4e3, 5e3], tail), probe())
    assert (found.peak_v, found.time_s, found.window) == (5e3, 4.0, "front")


def test_standing_voltage_is_the_peak_of_a_pair_the_surge_does_not_raise(waves: Make) -> None:
    steady = [874.0] * 11
    found = measured(record(waves, [874.0, 870.0, 860.0, 870.0, 874.0], steady), probe(limit=1100))
    assert (found.peak_v, found.time_s, found.bias_v) == (874.0, 0.0, 874.0)
    assert found.above_half_s == 20.0


def test_duration_reaches_across_both_windows(waves: Make) -> None:
    tail = [0, 0, 0, 3e3, 2e3, 0, 0, 0, 0, 0, 0]
    found = measured(record(waves, [0, 0, 0, 2e3, 4e3], tail), probe())
    assert found.above_half_s == pytest.approx(8.0 - 3.0)


def test_voltage_to_the_local_bar_and_to_remote_earth(waves: Make) -> None:
    found = measured(
        record(waves, [100, 1e3, -4e3, 2e3, 1e3], [100.0, *QUIET[1:]], pe=1e3, bar=-2e3), probe()
    )
    assert found.bias_v == -900.0
    assert found.peak_v == -5e3
    assert found.to_bar_v == 4e3
    assert found.to_remote_earth_v == -4e3


def test_no_bar_no_voltage_to_it(waves: Make) -> None:
    assert measured(record(waves, [0, 1, 2, 1, 0], QUIET), probe(bar=None)).to_bar_v is None


def test_nothing_above_an_insulation_level_is_a_peak(waves: Make) -> None:
    found = measured(record(waves, [0, 9e3, 166e3, 10, 0], QUIET), probe(gap=True), flashover=FIRED)
    assert found.peak_v is found.time_s is found.above_half_s is None
    assert found.window is None
    assert found.ratio is found.margin_percent is None
    assert found.to_bar_v is found.to_remote_earth_v is None
    assert found.verdict == "exceeded"
    assert found.insulation is not None
    assert (found.insulation.fired, found.insulation.level_v) == (True, 12e3)
    assert (found.insulation.fired_at_s, found.insulation.fired_v) == (2.0, 11.9e3)


def test_insulation_that_held(waves: Make) -> None:
    found = measured(record(waves, [0, 1e3, 2e3, 1e3, 0], QUIET), probe(gap=True))
    assert found.insulation is not None
    assert not found.insulation.fired
    assert found.insulation.fired_at_s is found.insulation.fired_v is None
    # held against the 6 kV it is rated for, not the 12 kV at which it would flash over
    assert found.ratio == 3.0


@pytest.mark.parametrize("volts", [0.0, 5e-324])
def test_a_pair_that_sees_nothing_has_no_ratio_and_holds(waves: Make, volts: float) -> None:
    found = measured(record(waves, [0, volts, 0, 0, 0], QUIET), probe())
    assert (found.peak_v, found.ratio, found.verdict) == (volts, None, "holds")


def test_a_voltage_still_rising_at_the_end_is_refused_by_name(waves: Make) -> None:
    rising = [400.0 * n for n in range(11)]
    with pytest.raises(ResultRefused, match=r"inverter, plus to pe: .*still rising.*20 s"):
        reached(probe(), record(waves, [0, 200, 400, 600, 800], rising)).check()


@pytest.mark.parametrize(
    ("front", "tail"),
    [
        # reached long before the end, and held
        ([0, 1e3, 2e3, 3e3, 4e3], [0, 0, 0, *[4e3] * 7, 4001.0]),
        # the standing voltage regained
        ([874, 700, 700, 700, 700], [874, 0, 0, 700, 750, 800, 850, 860, 865, 870, 874.001]),
        # rising, to nothing worth a word
        ([0, 0, 0, 0, 0], [0.0, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7]),
    ],
)
def test_a_peak_that_is_known_is_not_refused(
    waves: Make, front: list[float], tail: list[float]
) -> None:
    reached(probe(), record(waves, front, tail)).check()


@pytest.mark.parametrize(
    ("front", "tail"),
    [
        # turned around: no larger than what stood there before, and still on its way down
        ([1000, 990, 980, 970, 960], [1000, 800, 600, 400, 200, 0, -200, -400, -600, -800, -1005]),
        # back where it stood, and on beyond it
        ([900, 0, 0, 0, 0], [900, 0, 200, 400, 600, 800, 900, 910, 920, 930, 1200]),
    ],
)
def test_growth_is_counted_from_what_stood_before(
    waves: Make, front: list[float], tail: list[float]
) -> None:
    with pytest.raises(ResultRefused, match="still rising"):
        reached(probe(), record(waves, front, tail)).check()


def test_a_highest_voltage_is_asked_only_not_to_be_exceeded(waves: Make) -> None:
    pair = replace(probe(), limit=Limit(kind="highest voltage", volts=1100.0, origin="guess"))
    near, beyond = ([874.0, volts, 874.0, 874.0, 874.0] for volts in (1000.0, 1101.0))
    assert measured(record(waves, near, QUIET), pair).verdict == "holds"
    assert measured(record(waves, near, QUIET), pair).asked_percent == 0.0
    assert measured(record(waves, beyond, QUIET), pair).verdict == "exceeded"


def test_conditions_make_void_what_would_hold(waves: Make) -> None:
    alone = measured(record(waves, [0, 1e3, 2e3, 1e3, 0], QUIET), probe())
    failed = ("modules, plus to frame: flashed over at 0.61 us",)
    found = conditioned(alone, failed)
    assert (alone.verdict, found.verdict, found.conditional_on) == ("holds", "void", failed)
    assert found.peak_v == alone.peak_v


def test_conditions_are_listed_beside_what_is_exceeded(waves: Make) -> None:
    failed = ("array box, plus to pe: charge 2.4 x rating",)
    beyond = measured(record(waves, [0, 1e3, 7e3, 1e3, 0], QUIET), probe())
    found = conditioned(beyond, failed)
    assert (found.verdict, found.conditional_on) == ("exceeded", failed)


def test_own_flashover_stays_exceeded_under_conditions(waves: Make) -> None:
    alone = measured(record(waves, [0, 9e3, 9e3, 0, 0], QUIET), probe(gap=True), flashover=FIRED)
    assert conditioned(alone, ("x, y: z",)).verdict == "exceeded"


@given(st.lists(st.floats(-1e5, 1e5), min_size=3, max_size=3), st.floats(1.0, 1e6))
def test_numbers_belong_together(waves: Make, volts: list[float], limit: float) -> None:
    found = measured(record(waves, [0.0, *volts, 0.0], QUIET), probe(limit=limit))
    assert found.peak_v is not None
    assert abs(found.peak_v) == max(map(abs, [*volts, 0.0]))
    if found.ratio is not None and found.margin_percent is not None:
        assert found.ratio * abs(found.peak_v) == pytest.approx(limit)
        assert (found.verdict == "exceeded") == (abs(found.peak_v) > limit or found.ratio < 1.0)
