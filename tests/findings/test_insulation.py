from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from surgesim.errors import ResultRefused
from surgesim.findings.insulation import FIRED, flashovers
from surgesim.findings.record import Record
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Insulation
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Ramp

Make = Callable[..., Waveforms]

FRONT, TAIL = np.arange(5) * 1e-7, np.arange(5) * 2e-7
GAP = Insulation(name="gap", a="roof/plus", b="roof/frame", level=10e3, group="equipment modules")
PROBE = TerminalProbe(
    equipment="modules", pair="plus to frame", place="roof", a="roof/plus", b="roof/frame",
    limit=Limit(kind="withstand", volts=8e3, origin="guess"), insulation="gap", flashover=10e3,
)  # fmt: skip


def network(*terminals: TerminalProbe, gap: Insulation = GAP) -> Network:
    return Network(
        title="roof", elements=(gap,), waveform=Ramp(peak=1.0, rise=1e-6), terminals=terminals
    )


def record(
    make: Make,
    front: tuple[list[float], list[float]],
    tail: tuple[list[float], list[float]],
) -> Record:
    """Voltages and states of the front and of the tail, frame at zero."""

    def one(time: np.ndarray, series: tuple[list[float], list[float]], window: str) -> Waveforms:
        volts, state = (np.array(values) for values in series)
        nodes = {"roof/plus": volts, "roof/frame": volts * 0, "gap/state": state}
        return make(time, nodes, window=window)

    return Record(one(FRONT, front, "front"), one(TAIL, tail, "tail"))


SOUND = ([0.0, 3e3, 5e3, 4e3, 3e3], [0.0] * 5)


def test_insulation_that_held_is_not_listed(waves: Make) -> None:
    assert flashovers(network(PROBE), record(waves, SOUND, SOUND)) == {}


def test_time_and_voltage_just_before(waves: Make) -> None:
    fired = ([0.0, -6e3, -10.2e3, -2e3, -10.0], [0.0, 0.0, 0.3, 0.7, 1.0])
    arc = ([0.0, -10.0, -10.0, -9.0, -8.0], [0.0, 0.0, 1.0, 1.0, 1.0])
    (found,) = flashovers(network(PROBE), record(waves, fired, arc)).values()
    assert found.label == "modules, plus to frame"
    assert found.at == pytest.approx(3e-7)
    assert found.volts == -10.2e3


def test_flashover_on_the_tail(waves: Make) -> None:
    late = ([0.0, 3e3, 3e3, 9.9e3, 20.0], [0.0, 0.0, 0.0, 0.1, 1.0])
    (found,) = flashovers(network(PROBE), record(waves, SOUND, late)).values()
    assert found.at == pytest.approx(8e-7)
    assert found.volts == 9.9e3


def test_a_level_passed_too_briefly_to_collapse_counts(waves: Make) -> None:
    grazed = ([0.0, 6e3, 10.3e3, 6e3, 3e3], [0.0, 0.0, 0.1, 0.1, 0.1])
    (found,) = flashovers(network(PROBE), record(waves, grazed, SOUND)).values()
    assert found.at == pytest.approx(2e-7)
    assert found.volts == 10.3e3


def test_a_coarse_tail_above_the_level_before_the_fronts_end_does_not(waves: Make) -> None:
    coarse = ([0.0, 11e3, 3e3, 3e3, 3e3], [0.0] * 5)
    assert flashovers(network(PROBE), record(waves, SOUND, coarse)) == {}


def test_the_reading_is_that_of_the_probe_when_the_element_lies_the_other_way(waves: Make) -> None:
    turned = Insulation(name="gap", a="roof/frame", b="roof/plus", level=10e3)
    fired = ([0.0, 9e3, 100.0, 0.0, 0.0], [0.0, 0.1, 1.0, 1.0, 1.0])
    arc = ([0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0, 1.0])
    (found,) = flashovers(network(PROBE, gap=turned), record(waves, fired, arc)).values()
    assert found.volts == 9e3


def test_insulation_nobody_probes_is_named_by_its_group(waves: Make) -> None:
    fired = ([0.0, 9e3, 100.0, 0.0, 0.0], [0.0, 0.1, 1.0, 1.0, 1.0])
    arc = ([0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0, 1.0])
    (found,) = flashovers(network(), record(waves, fired, arc)).values()
    assert found.label == "equipment modules"


def test_fired_before_the_surge(waves: Make) -> None:
    arc = ([12e3, 1.0, 1.0, 1.0, 1.0], [1.0] * 5)
    (found,) = flashovers(network(PROBE), record(waves, arc, arc)).values()
    assert (found.at, found.volts) == (0.0, 12e3)


FIRED_FRONT = ([0.0, 9e3, 100.0, 0.0, 0.0], [0.0, 0.1, 1.0, 1.0, 1.0])
FIRED_EARLY_TAIL = ([0.0, 9e3, 100.0, 0.0, 0.0], [0.0, 1.0, 1.0, 1.0, 1.0])


@pytest.mark.parametrize(
    ("front", "tail", "told"),
    [
        (FIRED_FRONT, SOUND, "in the front but not in the tail"),
        (SOUND, FIRED_EARLY_TAIL, "in the tail but not in the front"),
    ],
)
def test_windows_that_disagree_are_refused(
    waves: Make,
    front: tuple[list[float], list[float]],
    tail: tuple[list[float], list[float]],
    told: str,
) -> None:
    with pytest.raises(ResultRefused, match=f"equipment modules: flashed over {told}"):
        flashovers(network(PROBE), record(waves, front, tail))


def test_names_and_threshold_are_the_engines() -> None:
    from surgesim.engine import insulation as engine

    assert engine.FIRED == FIRED
    assert engine.state_name(GAP) == "gap/state"


def test_a_node_may_be_remote_earth(waves: Make) -> None:
    gap = Insulation(name="gap", a="roof/plus", b=GROUND, level=10e3)
    assert flashovers(network(gap=gap), record(waves, SOUND, SOUND)) == {}


def test_insulation_that_should_have_fired_is_refused(waves: Make) -> None:
    # 400 ns beyond the level on the tail, after the front's end: more than its 10 lags of 10 ns
    # and 3 steps of 100 ns
    fine = Insulation(name="gap", a="roof/plus", b="roof/frame", level=10e3, group="equipment x")
    time = np.arange(9) * 1e-7
    volts = np.concatenate(([0.0] * 2, [14e3] * 7))
    nodes = {"roof/plus": volts, "roof/frame": volts * 0, "gap/state": volts * 0}
    quiet = {name: series[:2] * 0 for name, series in nodes.items()}
    stayed = Record(waves(time[:2], quiet), waves(time, nodes, window="tail"))
    with pytest.raises(ResultRefused) as caught:
        flashovers(network(gap=fine), stayed)
    assert caught.value.message == (
        "insulation at equipment x: stood beyond its level of 1e+04 V for 0.6 us in the tail and "
        "did not fire, where 0.4 us are enough"
    )
    assert "left the insulation out" in caught.value.hint
    # a little less is a collapse that was cut off
    shorter = {name: series[:6] for name, series in nodes.items()}
    brief = Record(waves(time[:2], quiet), waves(time[:6], shorter, window="tail"))
    assert flashovers(network(gap=fine), brief)["gap"].volts == 14e3
