"""What is told of gaps: an arc that the supply feeds, one that a varistor puts out, one unfired."""

from __future__ import annotations

import pytest

from surgesim.engine import run_network
from surgesim.findings.case import CaseFindings, CaseInfo, measure
from surgesim.findings.conditions import conditions
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    CurrentSource,
    Inductor,
    PhotovoltaicSource,
    Resistor,
    SparkGap,
    Varistor,
)
from surgesim.network.probes import ArresterProbe, Rating
from surgesim.physics.spark_gap import GapLaw, calibrated
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import CubicExponential

LAW = calibrated(GapLaw(sparkover=600.0, collapse=1e-8), impulse=1100.0, slope=1e9)
HARDER = calibrated(GapLaw(sparkover=1500.0, collapse=1e-8), impulse=2200.0, slope=1e9)
DISC = fit_three_numbers(1220.0, 20e3, 3700.0)
RATED = Rating(
    device_class="II", continuous=1200.0, nominal_current=20e3, peak=40e3, charge=0.698,
    specific_energy=19.5e3, basis="a test",
)  # fmt: skip


def run(peak: float, law: GapLaw, foot: str, *more: AnyElement) -> CaseFindings:
    """8/20 into a gap on an array of 1000 V and 10 A, from ``pole`` to the node ``foot``."""
    pulse = CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)
    network = Network(
        title="array",
        waveform=pulse,
        elements=(
            CurrentSource(name="J", a=GROUND, b="pole", waveform=pulse),
            Inductor(name="run", a="strings", b="pole", inductance=5e-6),
            Resistor(name="run loss", a="strings", b="pole", resistance=5e3),
            PhotovoltaicSource(
                name="pv", a="strings", b=GROUND, open_circuit_voltage=1000.0,
                short_circuit_current=10.0, resistance=10.0,
            ),
            Ammeter(name="meter", a="pole", b="in"),
            SparkGap(name="tube", a="in", b=foot, law=law),
            Capacitor(name="tube body", a="in", b=foot, capacitance=2e-12),
            *more,
        ),
        arresters=(
            ArresterProbe(
                slot="box", element="pole to foot", card="tube", place="roof", a="pole", b=foot,
                ammeter="meter", rating=RATED, gap="tube",
            ),
        ),
    )  # fmt: skip
    info = CaseInfo(id="c0001", axes={}, surge="pulse")
    return measure(network, *run_network(network), info=info, asked_margin_percent=25.0)


def test_an_arc_that_the_array_feeds_is_told_and_is_a_failure() -> None:
    """A gap alone on 1000 V and 10 A holds at some 20 V for ever (own model, computed)."""
    (box,) = (found := run(5e3, HARDER, GROUND)).arresters
    discharge = box.discharge
    assert discharge is not None
    assert discharge.fired
    assert discharge.follows
    assert discharge.conducts_a == pytest.approx(10.0, rel=0.01)
    assert discharge.out_at_s is None
    assert (discharge.sparkover_v or 0.0) > 1500.0
    assert (box.verdict, box.rated_by) == ("exceeded", "follow_current")
    assert conditions({}, found.arresters) == (
        "box, pole to foot: does not go out, its follow current 20 x the least that keeps an arc",
    )
    (note,) = (note for note in found.notes if "box" in note)
    assert "still conducts 10 A at the end of the window" in note


def test_a_varistor_in_series_puts_it_out() -> None:
    """With 1220 V of varistor behind it the array's 1000 V drives nothing through the arc."""
    found = run(
        5e3, LAW, "between",
        Resistor(name="equal", a="in", b="between", resistance=20e6),
        Varistor(name="disc", a="between", b=GROUND, law=DISC),
        Capacitor(name="disc body", a="between", b=GROUND, capacitance=1e-9),
    )  # fmt: skip
    (box,) = found.arresters
    assert box.discharge is not None
    assert box.discharge.fired
    assert not box.discharge.follows
    assert box.discharge.conducts_a is None
    # computed: 23 mA after 50 us, 2 uA after 200 us
    assert 20e-6 < (box.discharge.out_at_s or 0.0) < 200e-6
    assert box.verdict == "holds"


def test_one_that_does_not_fire_says_so() -> None:
    (box,) = run(10.0, HARDER, GROUND).arresters
    assert box.discharge is not None
    assert not box.discharge.fired
    assert box.discharge.sparkover_v is None
    assert box.charge_c < 1e-6
    assert box.verdict == "holds"
