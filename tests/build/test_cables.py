"""Cables: runs in parallel, companions in one duct, which cores count, what does not fit."""

from __future__ import annotations

import math

import numpy as np
import pytest

from surgesim.build import build
from surgesim.build.cables import Band, route_constants
from surgesim.engine import simulate
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Inductor, Line, Resistor
from surgesim.network.halves import half_names
from surgesim.physics.modes import surge_impedance
from surgesim.scenario.file import loads
from surgesim.scenario.schema import Cable, Scenario

BAND = Band(front=300e3, tail=500.0)
PAIR = (
    "{from: roof, to: house, length: 40 m, type: pv pair 6 mm2,"
    " laying: plastic duct 75 mm wide 0.7 m deep}"
)


def scenario(cables: str, *, more: str = "") -> Scenario:
    text = f"""
surgesim: 1
title: Cables
site: {{soil: 100 ohm m}}
places: {{roof: {{}}, house: {{}}}}
{cables}
earths:
  roof rod:  {{at: roof,  bar: pe, measured: 30 ohm, inductance: 2 uH}}
  house rod: {{at: house, bar: pe, measured: 10 ohm, inductance: 2 uH}}
supply:
  strings: {{at: roof, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: house
    plus to pe: {{withstand: 6 kV, from: guess, capacitance: 1 nF, flashover: 10 MV}}
surges:
  surge: {{shape: 10/350, peak: 1 kA, into: roof pe, returns: remote earth}}
{more}"""
    (case,) = loads(text).all_cases
    return case.scenario


def pair(changes: str = "", *, extra: str = "") -> Scenario:
    return scenario(f"cables:\n  pair: {PAIR[:-1]}{changes}}}\n{extra}")


def the_line(network: Network) -> Line:
    (line,) = network.lines
    return line


def ends(network: Network, line: Line) -> tuple[list[str], list[str]]:
    """Where a line's conductors end, on the outer side of their metal's resistance."""
    outer = {e.b: e.a for e in network.elements if isinstance(e, Resistor)}

    def end(node: str) -> str:
        while node.count("/") > 1:
            node = outer[node]
        return node

    return [end(node) for node in line.near], [end(node) for node in line.far]


def test_conductors_end_at_their_places() -> None:
    network = build(pair())
    line = the_line(network)
    assert ends(network, line) == (["roof/plus", "roof/minus"], ["house/plus", "house/minus"])
    assert line.name == "pair"


def test_half_of_each_conductors_metal_stands_at_either_end() -> None:
    """3.39 mohm/m of the 6 mm2 card, 40 m; two runs in parallel have half of it."""
    for count, ohm in (("", 0.5 * 40 * 3.39e-3), (", count: 2", 0.25 * 40 * 3.39e-3)):
        network = build(pair(count))
        line = the_line(network)
        names = ("plus at roof", "plus at house", "minus at roof", "minus at house")
        metal = {e.name: e.resistance for e in network.elements if isinstance(e, Resistor)}
        assert [metal[f"cable/pair/{name}"] for name in names] == pytest.approx([ohm] * 4)
        assert not any(line.resistance)


def test_poles_of_a_cable_are_alike_beside_a_third_conductor() -> None:
    """Strapped single cores keep no side: swapping the poles must change nothing."""
    constants, _ = route_constants(dict(pair(extra=BOND).cables), pair(extra=BOND), BAND)
    swap = [1, 0, 2]
    for matrix in (constants.inductance, constants.capacitance):
        assert matrix[np.ix_(swap, swap)] == pytest.approx(matrix, rel=1e-12)
    assert constants.inductance[0, 0] != pytest.approx(constants.inductance[2, 2], rel=1e-3)


def test_poles_are_alike_though_one_touches_a_bond_more() -> None:
    """Four cables close-packed in two rows: one pole touches both bonds, the other only one.

    Beside a single bond the three lie in a triangle, where the poles are alike anyway.
    """
    of = pair(extra=BOND + BOND.replace("bond:", "second bond:"))
    constants, kept = route_constants(dict(of.cables), of, BAND)
    assert [core.name for core in kept] == ["plus", "minus", "pe", "pe"]
    swap = [1, 0, 2, 3]
    for matrix in (constants.inductance, constants.capacitance):
        assert matrix[np.ix_(swap, swap)] == pytest.approx(matrix, rel=1e-12)


def test_delay_of_the_poles_against_each_other() -> None:
    """Go and return in the two cores: 40 m sqrt((L11 - L12) (C11 - C12)), a line of two equal
    wires (Paul, Analysis of Multiconductor Transmission Lines, from memory); the soil has no
    part in it."""
    constants, _ = route_constants(dict(pair().cables), pair(), BAND)
    henry, farad = (m[0, 0] - m[0, 1] for m in (constants.inductance, constants.capacitance))
    line = the_line(build(pair()))
    between = int(np.argmin(np.abs(line.modes.sum(axis=0))))
    assert line.delay[between] == pytest.approx(40.0 * math.sqrt(henry * farad), rel=1e-6)


def test_the_soil_begins_outside_the_ducts_wall() -> None:
    """One insulated conductor on the floor of a duct 75 mm wide, its wall 4.5 mm.

    Bare conductor in a cylinder of radius b, z off its axis: C = 2 pi eps0 / acosh((b^2 + r^2 -
    z^2) / (2 b r)) (Smythe, Static and Dynamic Electricity, from memory). The insulation of
    7 mm across and permittivity 2.5 in series takes (1 - 1/2.5) ln(R/r) off the acosh. 1 %:
    that series form, and the charge on the conductor's axis.
    """
    laying = "laying: plastic duct 75 mm wide 0.7 m deep"
    cable = f"{{from: roof, to: house, length: 40 m, type: copper 16 mm2, {laying}}}"
    poles = "{from: roof, to: house, length: 40 m, type: pv pair 6 mm2, laying: in air 1 m high}"
    of = scenario(f"cables:\n  bond: {cable}\n  pair: {poles}\n")
    constants, _ = route_constants({"bond": of.cables["bond"]}, of, BAND)
    metal, outside, soil = math.sqrt(16e-6 / math.pi), 3.5e-3, 37.5e-3 + 4.5e-3
    off_axis = 37.5e-3 - outside
    bare = math.acosh((soil**2 + metal**2 - off_axis**2) / (2 * soil * metal))
    farad = 2 * math.pi * 8.8542e-12 / (bare - (1 - 1 / 2.5) * math.log(outside / metal))
    assert constants.capacitance[0, 0] == pytest.approx(farad, rel=0.01)


def test_delay_is_length_over_the_modes_speed() -> None:
    short, long = (the_line(build(pair_of(length))) for length in ("20 m", "40 m"))
    assert np.array(long.delay) == pytest.approx(2 * np.array(short.delay))
    assert long.impedance == short.impedance


def pair_of(length: str) -> Scenario:
    return scenario(f"cables:\n  pair: {PAIR.replace('40 m', length)}\n")


def test_equal_runs_lower_the_common_impedance_by_less_than_their_number() -> None:
    """Two runs side by side share their field: Z/2 would be two runs far apart."""
    one, two = (route_impedance(pair(count)) for count in ("", ", count: 2"))
    assert 0.5 * common(one) < common(two) < common(one)


def common(impedance: np.ndarray) -> float:
    """Impedance of all conductors together to remote earth, ohm."""
    return float(1 / np.sum(np.linalg.inv(impedance)))


def route_impedance(of: Scenario) -> np.ndarray:
    constants, _ = route_constants(dict(of.cables), of, BAND)
    return np.asarray(surge_impedance(constants.inductance, constants.capacitance))


def test_runs_are_one_conductor_each_pole() -> None:
    short = PAIR.replace("40 m", "10 m")
    network = build(scenario(f"cables:\n  pair: {short[:-1]}, count: 4}}\n"))
    assert ends(network, the_line(network))[0] == ["roof/plus", "roof/minus"]


BOND = "  bond: {from: roof, to: house, length: 40 m, type: copper 16 mm2, laid with: pair}\n"


def test_companions_are_one_line_of_all_their_conductors() -> None:
    network = build(pair(extra=BOND))
    line = the_line(network)
    assert ends(network, line)[0] == ["roof/plus", "roof/minus", "roof/pe"]
    assert line.group == "cable pair, bond"
    # coupled: on its own line the bond would have one mode to itself and no part in another
    assert np.count_nonzero(np.abs(line.modes[2]) > 1e-3) == 2


def test_a_companion_described_from_its_other_end_is_the_same() -> None:
    turned = BOND.replace("from: roof, to: house", "from: house, to: roof")
    assert build(pair(extra=turned)) == build(pair(extra=BOND))


def test_a_cable_described_from_its_other_end_gives_the_same_peaks() -> None:
    """Turning a cable round changes which end is called near and nothing else."""
    turned = PAIR.replace("from: roof, to: house", "from: house, to: roof")
    ahead, back = (build(scenario(f"cables:\n  pair: {cable}\n{BOND}")) for cable in (PAIR, turned))
    first, second = (
        simulate(network, window="front").across("house/plus", "house/pe")
        for network in (ahead, back)
    )
    assert np.max(np.abs(second)) == pytest.approx(np.max(np.abs(first)), rel=1e-6)


def test_carries_leaves_cores_out() -> None:
    route = "from: roof, to: house, length: 40 m, laying: in air 1 m high"
    feed = f"  feed: {{{route}, type: 5x6 mm2, carries: [pe]}}\n"
    network = build(pair(extra=feed))
    lines = {line.name: line for line in network.lines}
    assert ends(network, lines["feed"])[0] == ["roof/pe"]


def test_the_soil_stands_at_both_ends_of_a_line() -> None:
    network = build(pair())
    line = the_line(network)
    ends = line.near_reference, line.far_reference
    assert len({*ends, GROUND}) == 3
    for end in ends:
        lags = [e for e in network.elements if isinstance(e, Inductor) and e.a.startswith(end)]
        assert len(lags) >= 3
        # R beside L, one after another down to remote earth, felt by a front and not by a tail
        assert [lag.a for lag in lags[1:]] + [GROUND] == [lag.b for lag in lags]


@pytest.mark.parametrize(
    ("laying", "message"),
    [
        ("plastic duct 9 mm wide 0.7 m deep", r"do not fit.*9 mm"),
        (
            "plastic duct 75 mm wide 30 mm deep",
            r"84 mm wide over its wall does not lie in the soil",
        ),
        ("in air 1 mm high", r"not clear of the soil"),
    ],
)
def test_what_cannot_be_laid_so_is_refused_by_its_path(laying: str, message: str) -> None:
    cable = PAIR.replace("plastic duct 75 mm wide 0.7 m deep", laying)
    with pytest.raises(InputError, match=message) as error:
        build(scenario(f"cables:\n  pair: {cable}\n"))
    assert error.value.path == "cables.pair.laying"


def soils(network: Network) -> list[float]:
    """Ohm of the soil at each end and joint of the only route, in order."""
    found: dict[str, float] = {}
    for element in network.elements:
        if isinstance(element, Resistor) and element.name.endswith("/loss"):
            place = element.name.partition("/soil at ")[2].removesuffix("/loss")
            where = "/".join(place.split("/")[: 2 if place.startswith("joint/") else 1])
            found[where] = found.get(where, 0.0) + element.resistance
    ends = [found["roof"], found["house"]]
    return [ends[0], *(found[f"joint/{k}"] for k in range(1, len(found) - 1)), ends[1]]


def test_the_soil_of_a_long_route_stands_at_joints_by_simpsons_rule() -> None:
    """1, 4, 2, 4, ... 4, 1 (any textbook of numerical analysis), of the whole in all."""
    long = pair().model_copy(update={"cables": {"pair": longer(400.0)}})
    at_places = soils(build(long))
    count = len(at_places) - 1
    assert count == len(build(long).lines) >= 4
    assert count % 2 == 0
    shares = [1.0, *(4.0 if k % 2 else 2.0 for k in range(1, count)), 1.0]
    assert at_places == pytest.approx([share * at_places[0] for share in shares])
    assert sum(at_places) == pytest.approx(10.0 * sum(soils(build(pair()))))


def longer(metres: float) -> Cable:
    return pair().cables["pair"].model_copy(update={"length": metres})


def test_twice_the_detail_is_twice_the_joints() -> None:
    for scenario_of in (pair(), pair().model_copy(update={"cables": {"pair": longer(400.0)}})):
        whole, detailed = build(scenario_of), build(scenario_of, in_halves=True)
        names = [half for line in whole.lines for half in half_names(line.name)]
        assert [line.name for line in detailed.lines] == names
        crossed = [np.sum([line.delay for line in n.lines], axis=0) for n in (whole, detailed)]
        assert crossed[1] == pytest.approx(crossed[0])
        assert len(soils(detailed)) == 2 * len(whole.lines) + 1
        assert sum(soils(detailed)) == pytest.approx(sum(soils(whole)))
