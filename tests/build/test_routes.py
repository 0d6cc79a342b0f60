"""Routes in metal, with screens, of several stretches, with a bond beside the duct; branches."""

from __future__ import annotations

import math

import numpy as np
import pytest

from surgesim.build import build
from surgesim.build.cables import Band, route_constants, stretches
from surgesim.engine import simulate
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import Line
from surgesim.oracle import fitting_step, solve
from surgesim.physics.conductors import solid_radius
from surgesim.physics.constants import MU_0
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Scenario

BAND = Band(front=300e3, tail=500.0)
EARTHED = "  {0}: {{from: {1} {0}, to: {1} pe, length: 0.1 m, type: copper 16 mm2}}\n"


def scenario(laying: str, *, bonds: str = "", pair: str = "", more: str = "") -> Scenario:
    text = f"""
surgesim: 1
title: Routes
site: {{soil: 100 ohm m}}
places: {{roof: {{}}, house: {{}}}}
cables:
  pair: {{from: roof, to: house, length: 40 m, type: pv pair 6 mm2, laying: {laying}{pair}}}
  bond: {{from: roof, to: house, length: 40 m, type: copper 6 mm2, laid with: pair{more}}}
{"bonds:" if bonds else ""}
{bonds}
earths:
  roof rod:  {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
  house rod: {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  modules:
    at: roof
    plus to pe: {{withstand: 8 kV, from: guess, capacitance: 100 nF, flashover: 10 MV}}
    minus to pe: {{withstand: 8 kV, from: guess, capacitance: 100 nF, flashover: 10 MV}}
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {{shape: 1/200, peak: 1 kA, into: roof pe, returns: remote earth}}
"""
    (case,) = loads(text).all_cases
    return case.scenario


TRAY = "galvanised tray 200 mm 3 m high"
TRUNKING = "metal trunking 100 mm 3 m high"


def bonded(metal: str, *places: str) -> str:
    return "".join(
        EARTHED.format(metal, place).replace(f"  {metal}:", f"  at {place}:") for place in places
    )


def at_the_inverter(of: Scenario) -> float:
    """Peak of its plus to pe beyond what stood there, V, by the engine; the oracle agrees."""
    network = build(of)
    waves = simulate(network, window="front")
    found = peak(waves.across("house/plus", "house/pe"))
    other = solve(network, step=fitting_step(network, largest=waves.step), stop=waves.stop)
    # 1 %: what two solvers may differ by
    assert peak(other.across("house/plus", "house/pe")) == pytest.approx(found, rel=0.01)
    return found


def peak(wave: np.ndarray) -> float:
    return float(np.max(np.abs(wave - wave[0])))


def test_a_tray_shields_where_both_its_ends_are_bonded_and_hardly_where_one_is() -> None:
    """Bonding at one end does next to nothing at a surge's frequencies, at both ends it takes most
    of the current (IEC 61000-5-2, from memory)."""
    none = at_the_inverter(scenario("in air 3 m high"))
    one = at_the_inverter(scenario(TRAY, bonds=bonded("tray", "house")))
    both = at_the_inverter(scenario(TRAY, bonds=bonded("tray", "roof", "house")))
    assert one > 0.5 * none
    assert both < 0.15 * none


def test_closed_trunking_shields_better_than_a_tray() -> None:
    tray, trunking = (
        at_the_inverter(scenario(laying, bonds=bonded(metal, "roof", "house")))
        for laying, metal in ((TRAY, "tray"), (TRUNKING, "trunking"))
    )
    # what is left in the trunking is the drop of its bonds, 0.1 m each
    assert trunking < 0.8 * tray


def test_metal_bonded_along_is_one_conductor_with_the_bond() -> None:
    along = ", metal bonded: every 3 m to bond"
    of = scenario(TRUNKING, pair=along)
    constants, kept = route_constants(dict(of.cables), of, BAND)
    assert [(core.cable, core.name) for core in kept] == [
        ("pair", "plus"), ("pair", "minus"), ("bond", "pe"),
    ]  # fmt: skip
    # 3.08 mohm/m of the bond beside 0.8 mohm/m of the metal
    assert constants.resistance[2] == pytest.approx(3.08e-3 * 0.8e-3 / 3.88e-3)
    ends = at_the_inverter(scenario(TRUNKING, bonds=bonded("trunking", "roof", "house")))
    assert at_the_inverter(of) < ends


def test_bonds_too_far_apart_for_the_front_are_refused() -> None:
    """1 us are 300 m of front: a tenth of that is 30 m."""
    with pytest.raises(InputError, match=r"bonded every 31 m, too far apart for this surge") as e:
        build(scenario(TRUNKING, pair=", metal bonded: every 31 m to bond"))
    assert e.value.path == "cables.pair.metal bonded"
    assert "a tenth of the" in (e.value.hint or "")
    build(scenario(TRUNKING, pair=", metal bonded: every 29 m to bond"))


def test_a_core_sees_its_screen_as_a_coaxial_line() -> None:
    """L' = mu0/2pi ln(b/a) for return in the screen; the screen's own field drops out. One core in
    the middle, of 0.5 mm2, screen of 4.2 mm: textbook. With 1 nH/m of transfer inductance that
    loop is the same, and the screen's current drives it with that."""
    cards = "type: screened data pair 0.5 mm2, carries: [data a, screen]"
    of = scenario(
        "in air 1 m high",
        more=f"}}\n  data: {{from: roof, to: house, length: 40 m, laid with: pair, {cards}",
        bonds=bonded("screen", "house") + "  d: {from: roof data a, to: roof pe, length: 0.1 m,"
        " type: copper 6 mm2}\n",
    )  # fmt: skip
    constants, kept = route_constants(dict(of.cables), of, BAND)
    core, screen = (
        next(k for k, c in enumerate(kept) if c.name == name) for name in ("data a", "screen")
    )
    ind = constants.inductance
    loop = ind[core, core] + ind[screen, screen] - 2 * ind[core, screen]
    expected = MU_0 / (2 * math.pi) * math.log(2.1e-3 / solid_radius(0.5e-6))
    assert loop == pytest.approx(expected, rel=1e-6)
    assert ind[screen, screen] - ind[core, screen] == pytest.approx(1e-9, rel=1e-4)
    # another conductor's current does not get inside
    other = ind[0, core] - ind[0, screen]
    assert other == pytest.approx(0.0, abs=1e-15)


def test_a_bond_beside_the_duct_makes_a_loop_as_wide_as_its_spacing() -> None:
    """L' of go and return in two wires far apart, mu0/2pi (ln(d/a) + ln(d/b)): soil is no metal."""
    duct = "plastic duct 50 mm wide 0.7 m deep"
    of = scenario(duct, pair=", carries: [plus]", more=", spacing: 0.4 m")
    route = dict(of.cables)
    constants, _ = route_constants(route, of, BAND)
    ind = constants.inductance
    loop = ind[0, 0] + ind[1, 1] - 2 * ind[0, 1]
    expected = MU_0 / (2 * math.pi) * 2 * math.log(0.4 / solid_radius(6e-6))
    assert loop == pytest.approx(expected, rel=1e-6)
    assert constants.capacitance[0, 1] == 0.0


def test_a_bond_inside_the_duct_takes_more_off_the_inverter_than_one_beside_it() -> None:
    duct = "plastic duct 50 mm wide 0.7 m deep"
    inside, beside = (
        at_the_inverter(scenario(duct, more=more)) for more in ("", ", spacing: 0.4 m")
    )
    assert inside < 0.7 * beside


@pytest.mark.parametrize(
    ("laying", "spacing", "message"),
    [
        ("plastic duct 50 mm wide 0.7 m deep", "30 mm", "30 mm from the middle of the duct over"),
        ("plastic duct 50 mm wide 0.7 m deep", "0.8 m", "0.8 m beside a duct 0.7 m deep is not"),
        ("in air 1 m high", "3 mm", "overlap"),
    ],
)
def test_what_leaves_no_room_is_refused(laying: str, spacing: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as error:
        build(scenario(laying, more=f", spacing: {spacing}"))
    assert error.value.path == "cables.pair.laying"


def test_only_one_cable_lies_in_the_soil_beside_a_duct() -> None:
    second = (
        "}\n  second: {from: roof, to: house, length: 40 m, type: copper 6 mm2, laid with: pair"
    )
    of = scenario(
        "plastic duct 50 mm wide 0.7 m deep",
        more=f", spacing: 0.3 m{second}, spacing: 0.5 m",
    )
    with pytest.raises(InputError, match="only one cable can lie in the soil at a spacing"):
        build(of)


def test_cables_too_wide_for_their_tray_are_refused() -> None:
    with pytest.raises(InputError, match="60 mm do not fit, close packed, on a tray 200 mm wide"):
        build(wide("60 mm", TRAY))


def wide(diameter: str, laying: str) -> Scenario:
    of = scenario(laying, pair=", count: 20", bonds=bonded("tray", "house"))
    card = of.cards["pv pair 6 mm2"]
    value = float(diameter.split()[0]) * 1e-3
    core = card.core_diameter.model_copy(update={"value": value})  # type: ignore[union-attr]
    cards = {**of.cards, "pv pair 6 mm2": card.model_copy(update={"core_diameter": core})}
    return of.model_copy(update={"cards": cards})


def test_two_stretches_alike_are_the_route_in_one() -> None:
    # 0.5 %: the soil stands at other joints
    duct = "plastic duct 50 mm wide 0.7 m deep"
    whole = at_the_inverter(scenario(duct))
    cut = at_the_inverter(scenario(f"[15 m {duct}, 25 m {duct}]"))
    assert cut == pytest.approx(whole, rel=5e-3)


def test_stretches_take_as_long_as_each_of_them() -> None:
    duct, air = "plastic duct 50 mm wide 0.7 m deep", "in air 3 m high"
    of = scenario(f"[15 m {duct}, 25 m {air}]")
    network = build(of)
    parts = list(stretches(dict(of.cables), of, BAND))
    assert [part.length for part in parts] == [15.0, 25.0]
    for part, length, laying in zip(parts, (15.0, 25.0), (duct, air), strict=True):
        alone = scenario(laying)
        found = lines(network, part.name)
        expected = lines(build(alone), "pair")
        slowest, whole = (sum(max(line.delay) for line in of_) for of_ in (found, expected))
        assert slowest / length == pytest.approx(whole / 40.0, rel=1e-9)


def lines(network: Network, name: str) -> list[Line]:
    return [e for e in network.lines if e.name == name or e.name.startswith(f"{name}, ")]


def test_metal_that_begins_on_the_way_is_bonded_where_it_arrives() -> None:
    """28 m in a duct, then in trunking to the inverter: its start hangs in the air."""
    laying = f"[28 m plastic duct 50 mm wide 0.7 m deep, 12 m {TRUNKING}]"
    of = scenario(laying, bonds=bonded("trunking", "house"))
    network = build(of)
    nodes = {node for line in network.lines for node in (*line.near, *line.far)}
    assert any(node.startswith("cable/pair/trunking at change/1") for node in nodes)
    alone = at_the_inverter(scenario(laying, bonds=bonded("trunking", "house")))
    along = at_the_inverter(scenario(laying, pair=", metal bonded: every 3 m to bond"))
    assert along < alone


BRANCHES = """
surgesim: 1
title: Branches
site: {soil: 100 ohm m}
places: {far: {}, joint: {}, first: {}, second: {}}
cables:
  line:    {from: far, to: joint, length: 300 m, type: line 400 ohm}
  onward:  {from: joint, to: first, length: 300 m, type: line 400 ohm}
  turning: {from: joint, to: second, length: 300 m, type: line 40 ohm}
earths:
  first: {at: first, bar: plus, measured: 400 ohm, inductance: 0 H}
  second: {at: second, bar: plus, measured: 40 ohm, inductance: 0 H}
equipment:
  box: {at: joint, bar: plus, not assessed: a joint}
surges:
  wave: {shape: 1.2/50, peak: 200 kV, source impedance: 400 ohm, into: far plus, returns: remote earth}
cards:
  line 400 ohm: {kind: textbook line, about: A line, cores: [plus], surge impedance: {value: 400 ohm, source: example}, velocity: {value: 300 m/us, source: example}}
  line 40 ohm: {kind: textbook line, about: A cable, cores: [plus], surge impedance: {value: 40 ohm, source: example}, velocity: {value: 300 m/us, source: example}}
"""  # noqa: E501


def test_a_wave_divides_at_a_branch_of_three_cables() -> None:
    """Of 100 kV on 400 ohm 2 Zp/(Z + Zp) goes on, Zp = 400 and 40 ohm in parallel: a sixth
    (closed form, any text on travelling waves). Every end is matched: nothing comes back."""
    (case,) = loads(BRANCHES).all_cases
    waves = simulate(build(case.scenario), window="front")
    for place in ("joint", "first", "second"):
        # 0.2 %: the shape's own crest
        crest = float(np.max(np.abs(waves.at(f"{place}/plus"))))
        assert crest == pytest.approx(100e3 / 6, rel=2e-3)
