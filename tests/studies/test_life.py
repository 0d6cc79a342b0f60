"""How long arresters last, and how often a surge happens."""

from __future__ import annotations

from typing import Any

import pytest

from surgesim.scenario.file import loads
from surgesim.studies.life import events_of, life

SITE = """
surgesim: 1
title: House
site: {{soil: 100 ohm m{density}}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair: {{from: roof, to: house, length: 20 m, type: pv pair 6 mm2, laying: in air 3 m high}}
earths:
  rod:   {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
  posts: {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter: {{at: house, plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF}}}}
surges:
  struck: {{shape: 8/20, peak: 1 kA, into: house pe, returns: remote earth, happens: {happens}}}
  other:  {{shape: 8/20, peak: 1 kA, into: house pe, returns: remote earth}}
"""


def events(happens: str, density: str = ", flash density: 4 per km2 per year") -> dict[str, float]:
    cases = loads(SITE.format(happens=happens, density=density)).all_cases
    return events_of(case.scenario for case in cases)


@pytest.mark.parametrize(
    ("happens", "often"),
    [
        ("0.02 per year", 0.02),
        # IEC 62305-2:2010 Annex E.2 (from memory): 1.03e-2 to the house, 8e-2 and 8 by its line
        ("{strikes: to structure, length: 15 m, width: 20 m, height: 6 m, factor: 1}", 1.03e-2),
        ("{strikes: to line, length: 1000 m, factor: 0.5}", 8e-2),
        ("{strikes: near line, length: 1000 m, factor: 0.5}", 8.0),
        # 820.4e3 m2 around it
        ("{strikes: near structure, length: 15 m, width: 20 m, factor: 1}", 3.28),
    ],
)
def test_how_often_a_surge_happens(happens: str, often: float) -> None:
    assert events(happens) == {"struck": pytest.approx(often, rel=5e-3)}


def test_what_is_said_to_happen_reads_back() -> None:
    text = SITE.format(happens="{strikes: to line, length: 300 m, factor: 1}", density="")
    scenario = loads(text.replace("100 ohm m", "100 ohm m, flash density: 1 per km2 per year"))
    one = scenario.all_cases[0].scenario
    assert type(one).model_validate(one.written()) == one


def case(surge: str, *shares: tuple[str, float | None]) -> dict[str, Any]:
    arresters = [
        {
            "name": "box", "element": element,
            "shares": {"peak": 0.1, "charge": share, "specific_energy": None, "continuous": 0.9,
                       "in_series": 5.0},
        }
        for element, share in shares
    ]  # fmt: skip
    return {"surge": surge, "arresters": arresters}


def test_years_until_a_life_is_used_up() -> None:
    cases = [
        case("struck", ("plus", 0.5), ("minus", 0.05)),
        case("struck", ("plus", 0.4), ("minus", 0.2)),
        case("switching", ("plus", 0.1), ("minus", 0.1)),
        case("unsaid", ("plus", 0.9), ("minus", 0.9)),
    ]
    first, second = life({"struck": 0.1, "switching": 50.0}, cases)
    # 0.1 x 0.5^3.5 + 50 x 0.1^3.5 of a life a year, by hand: 0.02465
    assert first["element"] == "plus"
    assert first["years"] == pytest.approx(1 / 0.02465, rel=1e-3)
    # m 2.5: 0.1758 a year, and twice as many strokes; m 4: 0.01125, and half as many
    assert first["years_low"] == pytest.approx(1 / 0.1758 / 2, rel=1e-3)
    assert first["years_high"] == pytest.approx(1 / 0.01125 * 2, rel=1e-3)
    # what uses most of it, and how many of those make a life
    assert first["surge"] == "switching"
    assert first["pulses"] == pytest.approx(10**3.5)
    assert second["share"] == pytest.approx(0.1)


def test_beyond_its_rating_it_lasts_until_the_first() -> None:
    (told,) = life({"struck": 0.01}, [case("struck", ("plus", 1.6))])
    assert (told["pulses"], told["years"]) == (1.0, pytest.approx(100.0))


def test_an_element_without_a_rating_has_no_life() -> None:
    unrated = case("struck", ("plus", None))
    unrated["arresters"][0]["shares"]["peak"] = None
    assert life({"struck": 1.0}, [unrated]) == []
