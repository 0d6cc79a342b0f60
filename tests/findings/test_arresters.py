from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from surgesim.errors import ResultRefused
from surgesim.findings.arresters import (
    UNFINISHED,
    ArresterFinding,
    charge_over,
    decisive,
    measure_arrester,
    reached,
    undecided,
)
from surgesim.findings.earths import measure_earth
from surgesim.findings.record import Record
from surgesim.network.elements import GROUND
from surgesim.network.probes import ArresterProbe, EarthProbe, Rating
from surgesim.network.waveforms import Waveforms

Make = Callable[..., Waveforms]

TAU = 500e-6
RATING = Rating(
    device_class="II", continuous=1000.0, nominal_current=20e3, peak=40e3, charge=0.7,
    specific_energy=20e3, basis="one 8/20 impulse of 40 kA",
)  # fmt: skip
UNRATED = Rating(
    device_class="textbook", continuous=None, nominal_current=None, peak=None, charge=None,
    specific_energy=None, basis="a textbook limiter has no rating",
)  # fmt: skip


def probe(rating: Rating = RATING) -> ArresterProbe:
    return ArresterProbe(
        slot="array box", element="plus to pe", card="pv 1000 class II", place="array",
        a="hot", b="cold", ammeter="meter", rating=rating,
    )  # fmt: skip


def decaying(make: Make, *, peak: float = 2e3, volts: float = 900.0, times: float = 12) -> Record:
    """exp(-t/TAU) at a constant voltage; the front ends at a tenth of TAU."""

    def one(time: np.ndarray, window: str) -> Waveforms:
        across = np.full_like(time, volts)
        across[0] = 437.0
        nodes = {"hot": across + 50.0, "cold": np.full_like(time, 50.0)}
        return make(time, nodes, {"meter": peak * np.exp(-time / TAU)}, window=window)

    front = np.linspace(0.0, 0.1 * TAU, 2001)
    tail = np.linspace(0.0, times * TAU, 6001)
    return Record(one(front, "front"), one(tail, "tail"))


def test_charge_and_specific_energy_of_an_exponential(waves: Make) -> None:
    found = measure_arrester(probe(), decaying(waves))
    # 2 kA exp(-t/tau): Q = I tau, W/R = I^2 tau/2; steps of tau/500 leave 1e-6
    assert found.peak_a == 2e3
    assert found.charge_c == pytest.approx(2e3 * TAU, rel=1e-5)
    assert found.specific_energy_j_per_ohm == pytest.approx(2e3**2 * TAU / 2, rel=1e-5)
    assert found.energy_j == pytest.approx(900.0 * 2e3 * TAU, rel=1e-4)
    assert found.residual_v == 900.0
    assert found.standing_v == 437.0


def test_charge_counts_both_directions_and_net_charge_their_difference(waves: Make) -> None:
    time = np.array([0.0, 1.0, 2.0, 3.0, 4.0])
    amps = np.array([0.0, 2.0, 0.0, -1.0, 0.0])
    one = waves(time, {"hot": amps, "cold": amps * 0}, {"meter": amps})
    found = measure_arrester(probe(), Record(one, one))
    assert (found.charge_c, found.net_charge_c) == (3.0, 1.0)
    assert (found.peak_a, found.time_s) == (2.0, 1.0)


def test_negative_surge_has_a_negative_peak_and_a_positive_charge(waves: Make) -> None:
    found = measure_arrester(probe(), decaying(waves, peak=-2e3, volts=-900.0))
    assert found.peak_a == -2e3
    assert found.residual_v == -900.0
    assert found.charge_c > 0 > found.net_charge_c
    assert found.energy_j > 0


def test_shares_and_verdict(waves: Make) -> None:
    found = measure_arrester(probe(), decaying(waves))
    assert found.shares["peak"] == pytest.approx(2e3 / 40e3)
    assert found.shares["charge"] == pytest.approx(1.0 / 0.7, rel=1e-5)
    assert found.shares["specific_energy"] == pytest.approx(1e3 / 20e3, rel=1e-5)
    assert found.shares["continuous"] == pytest.approx(0.437)
    assert (found.rated_by, found.verdict) == ("charge", "exceeded")
    assert found.share_of_rating == found.shares["charge"]


def test_within_its_rating(waves: Make) -> None:
    found = measure_arrester(probe(), decaying(waves, peak=100.0))
    assert (found.verdict, found.rated_by) == ("holds", "charge")


def test_no_rating_no_verdict(waves: Make) -> None:
    found = measure_arrester(probe(UNRATED), decaying(waves))
    assert found.verdict == "not assessed"
    assert found.share_of_rating is None
    assert found.rated_by is None


def shares(**given: float | None) -> dict[str, float | None]:
    return {"peak": None, "charge": None, "specific_energy": None, "continuous": None} | given


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (shares(peak=0.3, charge=0.2, continuous=0.87), "peak"),
        (shares(peak=0.3, specific_energy=2.0, charge=0.2), "specific_energy"),
        (shares(peak=0.3, continuous=1.1), "continuous"),
        (shares(peak=1.3, continuous=1.1), "peak"),
        (shares(continuous=0.4), "continuous"),
        (shares(), None),
    ],
)
def test_standing_voltage_decides_only_beyond_the_continuous(
    given: dict[str, float | None], expected: str | None
) -> None:
    assert decisive(given) == expected


@pytest.mark.parametrize("times", [7, 4, 2, 1])
def test_what_an_exponential_still_brings_is_extrapolated(waves: Make, times: float) -> None:
    # exp(-n) follows the record, of the 1 - exp(-n) in it; a geometric series is an exponential
    found = charge_over(probe(), decaying(waves, times=times))
    assert found.worst == pytest.approx(np.exp(-times) / (1 - np.exp(-times)), rel=0.01)
    assert (found.worst > UNFINISHED) == (times < 4)


def test_a_current_that_does_not_die_down_counts_as_flowing_on_as_long(waves: Make) -> None:
    time = np.linspace(0.0, 1.0, 1001)
    amps = np.minimum(time / 0.01, 1.0) * 100.0
    one = waves(time, {"hot": amps, "cold": amps * 0}, {"meter": amps})
    assert charge_over(probe(), Record(one, one)).worst == pytest.approx(1.0, rel=0.02)


def test_charge_to_come_of_no_account_is_none(waves: Make) -> None:
    # 2 mA to the end of 24 ms: 50 uC against a hundredth of the rated 0.7 C
    faint = decaying(waves, peak=2e-3, times=0.1)
    assert charge_over(probe(), faint).worst < UNFINISHED
    assert charge_over(probe(), decaying(waves, peak=0.0)).worst == 0.0


def test_charge_to_come_that_decides_is_told(waves: Make) -> None:
    with pytest.raises(ResultRefused) as caught:
        charge_over(probe(), decaying(waves, times=2)).check()
    assert caught.value.message.startswith(
        "charge within the window at array box, plus to pe: 16 % of its charge would still flow "
        "after the end of the window (1 ms), more than 2 %"
    )
    assert caught.value.hint == "lengthen the tail window"


@pytest.mark.parametrize(
    ("charge", "still", "open_"),
    [(0.9, 0.05, False), (0.9, 0.15, True), (1.1, 0.15, False), (0.1, 0.5, False)],
)
def test_undecided_is_a_share_that_what_is_to_come_would_carry_past_one(
    waves: Make, charge: float, still: float, open_: bool
) -> None:
    # 2 kA x 500 us = 1 C
    found = measure_arrester(probe(replace(RATING, charge=1.0 / charge)), decaying(waves))
    assert undecided(found, still) is open_


def test_a_current_still_rising_at_the_end_is_refused_by_name(waves: Make) -> None:
    time = np.linspace(0.0, 1.0, 1001)
    one = waves(time, {"hot": time, "cold": time * 0}, {"meter": -2e3 * time})
    with pytest.raises(ResultRefused, match=r"array box, plus to pe: the current is still rising"):
        reached(probe(), Record(one, one)).check()
    # a hundredth of the rated 40 kA is 400 A
    small = waves(time, {"hot": time, "cold": time * 0}, {"meter": -300.0 * time})
    reached(probe(), Record(small, small)).check()


def test_findings_are_python_numbers(waves: Make) -> None:
    found = measure_arrester(probe(), decaying(waves))
    numbers = [getattr(found, name) for name in ArresterFinding.__slots__]
    assert not any(isinstance(number, np.generic) for number in numbers)


def test_earth(waves: Make) -> None:
    time = np.array([0.0, 1.0, 2.0])
    amps = np.array([0.0, -100.0, 0.0])
    one = waves(time, {"bar": 38.0 * amps}, {"rods": amps})
    electrode = EarthProbe(name="array rods", place="array", node="bar", ammeter="rods",
                           resistance=38.0)  # fmt: skip
    found = measure_earth(electrode, Record(one, one))
    assert (found.rise_v, found.peak_a, found.charge_c) == (-3800.0, -100.0, 100.0)
    assert (found.name, found.place, found.resistance_ohm) == ("array rods", "array", 38.0)


def test_an_earth_at_remote_earth_does_not_rise(waves: Make) -> None:
    time = np.array([0.0, 1.0])
    one = waves(time, {}, {"rods": time})
    electrode = EarthProbe(name="e", place="p", node=GROUND, ammeter="rods", resistance=1.0)
    assert measure_earth(electrode, Record(one, one)).rise_v == 0.0
