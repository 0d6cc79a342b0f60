"""Values at the ends of what can be written: a finite answer, or a refusal with a reason."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from surgesim.errors import EngineError, InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Capacitor, Line, Resistor
from surgesim.physics.waveforms import Step
from surgesim.scenario.file import loads
from surgesim.scenario.written import as_yaml
from surgesim.studies.run import measure, run
from tests.attacks.networks import SOLVERS, driven
from tests.attacks.sites import Site, site

STOP = 1e-6

ohms = st.sampled_from([1e-3, 1.0, 1e3, 1e6, 1e9])
farads = st.sampled_from([1e-12, 1e-9, 1e-6, 1e-3])
delays = st.sampled_from([0.3 / 3e8, 3 / 3e8, 1e3 / 3e8, 1e5 / 3e8])
amperes = st.sampled_from([1e-3, 1.0, 1e3, 1e6])


def circuit(peak: float, ohm: tuple[float, float], farad: float, delay: float) -> Network:
    """A surge into a resistor, a line, and a resistor with a capacitor at its other end."""
    return driven(
        (
            Resistor(name="near end", a="near", b=GROUND, resistance=ohm[0]),
            Line(
                name="line",
                near=("near",),
                far=("far",),
                voltage_modes=((1.0,),),
                impedance=(100.0,),
                delay=(delay,),
                resistance=(0.0,),
            ),
            Resistor(name="far end", a="far", b=GROUND, resistance=ohm[1]),
            Capacitor(name="load", a="far", b=GROUND, capacitance=farad),
        ),
        Step(peak=peak, rise=0.2e-6),
        into="near",
    )


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=10)
@given(peak=amperes, ohm=st.tuples(ohms, ohms), farad=farads, delay=delays)
def test_a_network_of_extremes_is_finite(
    solver: str, peak: float, ohm: tuple[float, float], farad: float, delay: float
) -> None:
    """Nothing here can exceed the current into the line's impedance, back and forth for 1 us.

    Each passage adds at most the wave that entered: 2 Z I for every round trip, textbook.
    """
    waves = SOLVERS[solver](circuit(peak, ohm, farad, delay), STOP)
    trips = 2.0 + STOP / delay
    for volts in waves.voltages.values():
        assert np.all(np.isfinite(volts))
        assert np.max(np.abs(volts)) <= 2.0 * 100.0 * peak * trips


lengths = st.sampled_from(["0.01 m", "0.3 m", "10 m", "1 km", "100 km", "101 km", "0 m"])
extremes = st.fixed_dictionaries(
    {
        "run": lengths,
        "feed": lengths,
        "laying": st.sampled_from(
            [
                "in air 1 mm high",
                "in air 0.5 m high",
                "in air 1000 m high",
                "in air 100 km high",
                "plastic duct 75 mm wide 1 mm deep",
                "plastic duct 75 mm wide 1000 m deep",
                "plastic duct 1 mm wide 0.7 m deep",
                "plastic duct 100 m wide 0.7 m deep",
            ]
        ),
        "soil": st.sampled_from(["1e-9 ohm m", "0.01 ohm m", "100 ohm m", "1000 kohm m"]),
        "rod": st.sampled_from(["1 mohm", "1 uohm", "38 ohm", "1 Gohm", "1000 Gohm"]),
        "inductance": st.sampled_from(["0 H", "0.001 nH", "2 uH", "10 mH"]),
        "leads": st.sampled_from(["0 m", "0.001 mm", "0.3 m", "100 m"]),
        "capacitance": st.sampled_from(["0 F", "1 pF", "10 nF", "1000 uF"]),
        "peak": st.sampled_from(["1 mA", "1 uA", "3 kA", "1000 kA", "10000 kA"]),
        "voltage": st.sampled_from(["1 mV", "800 V", "100 MV"]),
        "current": st.sampled_from(["1 uA", "20 A", "1000 kA"]),
        "temperature": st.sampled_from(["-300 degC", "-14 degC", "400 degC"]),
        "height": st.sampled_from(["-100 km", "0 m", "100 km"]),
    }
)


def with_values(chosen: dict[str, str]) -> Site:
    data = site()
    data["cables"]["run"] |= {"length": chosen["run"], "laying": chosen["laying"]}
    data["cables"]["wire"]["length"] = chosen["run"]
    data["cables"]["feed"]["length"] = chosen["feed"]
    data["site"] = {"soil": chosen["soil"], "lowest air temperature": chosen["temperature"]}
    data["places"]["roof"] = {"height": chosen["height"]}
    data["earths"]["rod"] |= {"measured": chosen["rod"], "inductance": chosen["inductance"]}
    lead = chosen["leads"]
    data["arresters"]["slot"]["leads"] = {"line": lead, "earth": f"{lead} to bar"}
    data["equipment"]["modules"]["plus to frame"]["capacitance"] = chosen["capacitance"]
    data["surges"]["surge"]["peak"] = chosen["peak"]
    data["supply"]["strings"] |= {"voltage": chosen["voltage"], "Isc at STC": chosen["current"]}
    return data


ORDINARY = {
    "run": "10 m", "feed": "10 m", "laying": "in air 0.5 m high", "soil": "100 ohm m",
    "rod": "38 ohm", "inductance": "2 uH", "leads": "0.3 m", "capacitance": "10 nF",
    "peak": "3 kA", "voltage": "800 V", "current": "20 A", "temperature": "-14 degC",
    "height": "0 m",
}  # fmt: skip


def few_of(chosen: dict[str, str], kept: set[str]) -> dict[str, str]:
    """Extremes for what is in ``kept`` and ordinary values for the rest."""
    return {key: chosen[key] if key in kept else ORDINARY[key] for key in chosen}


def check(data: Site) -> None:
    """A result without an infinity in it, or a refusal in words; nothing else may be raised."""
    try:
        (case,) = loads(as_yaml(data)).all_cases
        (result,) = run([case], timeout=10.0)
        json.dumps(measure(result).as_json(), allow_nan=False)
        return
    except InputError as refused:
        said = [str(problem) for problem in refused.problems]
    except EngineError as refused:
        said = [refused.message]
    assert said
    assert all(words and words.isprintable() for words in said)


kept = st.sets(st.sampled_from(sorted(ORDINARY)), min_size=1, max_size=3)


def test_the_ordinary_values_give_a_result() -> None:
    (case,) = loads(as_yaml(with_values(ORDINARY))).all_cases
    (result,) = run([case])
    assert measure(result).terminals


@settings(max_examples=6, suppress_health_check=[HealthCheck.too_slow])
@given(chosen=extremes, kept=kept)
def test_a_site_of_extremes_is_finite_or_refused(chosen: dict[str, str], kept: set[str]) -> None:
    check(with_values(few_of(chosen, kept)))


@pytest.mark.slow
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(chosen=extremes, kept=kept)
def test_many_sites_of_extremes(chosen: dict[str, str], kept: set[str]) -> None:
    check(with_values(few_of(chosen, kept)))
