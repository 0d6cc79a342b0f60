"""A whole case from hand-made waveforms: a roof with two pairs, an arrester, one electrode."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from surgesim.errors import ResultRefused
from surgesim.findings.case import CaseFindings, CaseInfo, measure, surge_figures
from surgesim.findings.schema import schema
from surgesim.findings.terminals import TerminalFinding
from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    CurrentSource,
    Insulation,
    Resistor,
    VoltageSource,
)
from surgesim.network.probes import ArresterProbe, EarthProbe, Limit, Rating, TerminalProbe
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import DoubleExponential, Ramp

Make = Callable[..., Waveforms]

# 1.2/50 as a current, A.4 of IEC 60060-1's double exponential (from memory)
WAVE = DoubleExponential(peak=1e3, scale=1.03725, decay=14659.1, rise=2.46893e6)
INFO = CaseInfo(id="c0007", axes={"fitted": "both", "card": None}, surge="frame struck")
RATING = Rating(
    device_class="II", continuous=1000.0, nominal_current=20e3, peak=40e3, charge=0.7,
    specific_energy=20e3, basis="one 8/20 impulse of 40 kA",
)  # fmt: skip
TABLE = "IEC 62109-1 Table 16"


def pair(name: str, limit: float, *, gap: str | None = None) -> TerminalProbe:
    return TerminalProbe(
        equipment="modules" if gap else "inverter", pair=name, place="roof", a="plus", b=GROUND,
        limit=Limit(kind="withstand", volts=limit, origin="table", where=TABLE), bar="pe",
        insulation=gap, flashover=10e3 if gap else None,
    )  # fmt: skip


def network(
    *, ohm: float = 3.0, rating: Rating = RATING, limit: float = 6e3, gap: bool = True
) -> Network:
    """The surge through a meter into a resistor; the meter counts as the arrester's."""
    insulation = (Insulation(name="gap", a="plus", b=GROUND, level=10e3),) if gap else ()
    return Network(
        title="roof",
        elements=(
            CurrentSource(name="s", a=GROUND, b="plus", waveform=WAVE),
            Ammeter(name="meter", a="plus", b="pe"),
            Resistor(name="rods", a="pe", b=GROUND, resistance=ohm),
            *insulation,
        ),
        waveform=WAVE,
        terminals=(
            pair("plus to pe", limit),
            *((pair("plus to frame", 8e3, gap="gap"),) if gap else ()),
        ),
        arresters=(
            ArresterProbe(
                slot="array box", element="plus to pe", card="pv 1000 class II", place="roof",
                a="plus", b=GROUND, ammeter="meter", rating=rating,
            ),
        ),
        earths=(EarthProbe(name="rods", place="roof", node="pe", ammeter="meter", resistance=ohm),),
    )  # fmt: skip


def windows(make: Make, *, ohm: float = 3.0, fired_at: float | None = None) -> list[Waveforms]:
    """Front to 5 us, tail to 500 us, the sampled double exponential in both."""
    made = []
    for window, stop in (("front", 5e-6), ("tail", 500e-6)):
        time = np.linspace(0.0, stop, 8001)
        amps = WAVE.value(time)
        state = np.zeros_like(time) if fired_at is None else np.where(time > fired_at, 1.0, 0.0)
        nodes = {"plus": ohm * amps, "pe": ohm * amps, "gap/state": state}
        made.append(make(time, nodes, {"meter": amps}, window=window))
    return made


def measured(make: Make, circuit: Network, *, ohm: float = 3.0) -> CaseFindings:
    front, tail = windows(make, ohm=ohm)
    return measure(circuit, front, tail, info=INFO, asked_margin_percent=25.0)


def with_a_flashover(make: Make, *, limit: float) -> tuple[TerminalFinding, ...]:
    """The gap fires at 0.61 us; its arc carries nothing, so that the waveforms stay what they
    were and energy closes."""
    front, tail = windows(make, fired_at=0.61e-6)
    circuit = network(limit=limit)
    gap = Insulation(name="gap", a="plus", b=GROUND, level=10e3, resistance=1e12)
    circuit = replace(circuit, elements=(*circuit.elements[:3], gap))
    return measure(circuit, front, tail, info=INFO, asked_margin_percent=25.0).terminals


def test_one_case(waves: Make) -> None:
    found = measured(waves, network())
    inverter, modules = found.terminals
    assert inverter.peak_v == pytest.approx(3e3, rel=1e-3)
    assert inverter.window == "front"
    assert (inverter.verdict, modules.verdict) == ("holds", "holds")
    assert inverter.conditional_on == ()
    (arrester,) = found.arresters
    assert arrester.charge_c == pytest.approx(0.0704, rel=0.01)
    assert arrester.verdict == "holds"
    (rods,) = found.earths
    assert rods.rise_v == inverter.peak_v
    assert found.energy_closure == {
        "front": pytest.approx(0.0, abs=1e-9),
        "tail": pytest.approx(0.0, abs=1e-9),
    }
    assert found.windows["tail"].points == 8001
    assert found.notes == ()


def test_its_json_is_a_case_of_the_schema(waves: Make) -> None:
    case = measured(waves, network()).as_json()
    whole = schema()
    part = {"$ref": "#/$defs/case", "$defs": whole["$defs"]}
    Draft202012Validator(part).validate(json.loads(json.dumps(case, allow_nan=False)))
    assert case["terminals"][0]["limit"] == {
        "kind": "withstand", "origin": "table", "where": TABLE,
    }  # fmt: skip
    assert case["arresters"][0]["class"] == "II"
    assert case["axes"] == {"fitted": "both", "card": None}
    assert case["surge_figures"]["unit"] == "A"
    assert case["surge_figures"]["t2_s"] == pytest.approx(50e-6, rel=0.02)


def test_a_flashover_elsewhere_makes_void(waves: Make) -> None:
    inverter, modules = with_a_flashover(waves, limit=6e3)
    assert inverter.conditional_on == ("modules, plus to frame: flashed over at 0.61 us",)
    assert inverter.verdict == "void"
    assert (modules.verdict, modules.conditional_on) == ("exceeded", ())
    assert modules.peak_v is None


def test_what_is_exceeded_stays_so(waves: Make) -> None:
    inverter, _ = with_a_flashover(waves, limit=2e3)
    assert inverter.verdict == "exceeded"
    assert inverter.conditional_on == ("modules, plus to frame: flashed over at 0.61 us",)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"charge": 0.0293}, "charge 2.4 x rating"),
        ({"peak": 300.0}, "peak current 3.3 x rating"),
        ({"specific_energy": 10.0}, "specific energy 3.6 x rating"),
        ({"charge": 0.0702}, "charge 1.001 x rating"),
    ],
)
def test_an_arrester_beyond_its_rating_makes_void(
    waves: Make, changes: dict[str, Any], words: str
) -> None:
    found = measured(waves, network(rating=replace(RATING, **changes)))
    assert found.arresters[0].verdict == "exceeded"
    for terminal in found.terminals:
        assert terminal.conditional_on == (f"array box, plus to pe: {words}",)
        assert terminal.verdict == "void"


def test_standing_voltage_beyond_the_continuous(waves: Make) -> None:
    level = np.full(11, 1200.0)
    time = np.linspace(0.0, 1.0, 11)
    circuit = Network(
        title="battery", waveform=Ramp(peak=1.0, rise=1.0),
        elements=(
            VoltageSource(name="s", a="plus", b=GROUND, offset=1200.0),
            Ammeter(name="meter", a="plus", b="pe"),
            Resistor(name="rods", a="pe", b=GROUND, resistance=12e3),
        ),
        arresters=network().arresters,
    )  # fmt: skip
    currents = {"s": level * 0 - 0.1, "meter": level * 0 + 0.1}
    made = [
        waves(time, {"plus": level, "pe": level}, currents, window=window)
        for window in ("front", "tail")
    ]
    found = measure(circuit, *made, info=INFO, asked_margin_percent=25.0)
    (arrester,) = found.arresters
    assert (arrester.rated_by, arrester.verdict) == ("continuous", "exceeded")
    assert found.surge_figures.unit == "V"
    assert found.surge_figures.charge_c is None
    assert found.notes == (
        "array box, plus to pe: still carries current where the record ends; it takes more "
        "charge than shown, by some 100 %",
    )


def test_an_arrester_without_rating_is_noted(waves: Make) -> None:
    bare = Rating(
        device_class="textbook", continuous=None, nominal_current=None, peak=None, charge=None,
        specific_energy=None, basis="",
    )  # fmt: skip
    found = measured(waves, network(rating=bare))
    assert found.notes == (
        "array box, plus to pe: pv 1000 class II gives no rating to hold its duty against",
    )
    assert found.terminals[0].verdict == "holds"


def test_notes_of_the_windows_are_kept(waves: Make) -> None:
    front, tail = windows(waves)
    tail = replace(tail, notes=("field run: one pi section",))
    found = measure(network(), front, tail, info=INFO, asked_margin_percent=25.0)
    assert found.notes == ("tail: field run: one pi section",)


def test_charge_that_does_not_balance_is_refused_by_name(waves: Make) -> None:
    with pytest.raises(ResultRefused) as caught:
        measured(waves, network(ohm=3.1))
    assert caught.value.message.startswith("c0007: charge balance at 'pe', ")
    assert caught.value.message.endswith("are unaccounted for, 2.4 %, more than 0.1 %")
    assert caught.value.hint == "a shorter step may help; what meets there is of meter, rods"
    assert caught.value.exit_code == 3


def test_energy_that_does_not_close_is_refused_by_name(waves: Make) -> None:
    """A current that alternates with every step adds no charge, and is lost in a resistor all
    the same: 0.15 squared of what the last half of the front loses."""
    front, tail = windows(waves)
    alternating = np.where(front.time > 2.5e-6, 0.15 * (-1.0) ** np.arange(8001), 0.0)
    amps = front.currents["meter"] * (1.0 + alternating)
    nodes = {**front.voltages, "plus": 3.0 * amps, "pe": 3.0 * amps}
    front = replace(front, voltages=nodes, currents={"meter": amps})
    with pytest.raises(ResultRefused) as caught:
        measure(network(), front, tail, info=INFO, asked_margin_percent=25.0)
    assert caught.value.message.startswith("c0007: energy closure at the front window: 1.")
    assert "shorter step" in caught.value.hint


def test_every_invariant_is_in_the_findings_with_its_limit(waves: Make) -> None:
    found = measured(waves, network()).invariants
    assert list(found) == list(schema()["$defs"]["case"]["properties"]["invariants"]["properties"])
    assert all(figure.worst <= figure.limit for figure in found.values())
    assert found["standing"].unit == "V"
    assert found["charge_to_come"].where == "array box, plus to pe"


def test_the_asked_margin_decides_between_holds_and_thin(waves: Make) -> None:
    front, tail = windows(waves)
    for asked, verdict in ((99.0, "holds"), (101.0, "thin")):
        found = measure(network(gap=False), front, tail, info=INFO, asked_margin_percent=asked)
        assert found.terminals[0].verdict == verdict


def test_a_number_that_is_none_is_refused_where_it_stands(waves: Make) -> None:
    found = measured(waves, network())
    broken = replace(found, energy_closure={"front": float("nan"), "tail": 0.0})
    with pytest.raises(ResultRefused, match=r"c0007\.energy_closure\.front: nan"):
        broken.as_json()


def test_figures_of_a_surge_without_end() -> None:
    wave = Ramp(peak=500.0, rise=1e-6)
    source = CurrentSource(name="s", a=GROUND, b="a", waveform=wave)
    figures = surge_figures(Network(title="ramp", elements=(source,), waveform=wave))
    assert (figures.formula, figures.unit, figures.peak) == (wave.formula, "A", 500.0)
    assert figures.t2_s is figures.charge_c is figures.specific_energy_j_per_ohm is None
