"""Whatever the user calls things, no two nodes and no two elements become one."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from surgesim.build import build
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Coupling
from surgesim.scenario.file import loads

# Every name that a user chooses stands in braces.
SITE = """
surgesim: 1
title: Names
site: {{soil: 100 ohm m}}
places: {{{roof}: {{}}, {house}: {{}}}}
cables:
  {cable}: {{from: {roof}, to: {house}, length: 20 m, type: pv pair 6 mm2, laying: in air 3 m high}}
  {feed}: {{from: {roof}, to: {house}, length: 20 m, type: copper 16 mm2, laid with: {cable}}}
earths:
  {rod}: {{at: {house}, bar: pe, measured: 10 ohm, inductance: 2 uH}}
bonds:
  {bond}: {{from: {roof} frame, to: {roof} pe, length: 1 m, type: copper 16 mm2}}
supply:
  {strings}:
    at: {roof}
    voltage: 600 V
    Isc at STC: 10 A
    reference: {{to: frame, each pole: 1 Mohm}}
equipment:
  {inverter}:
    at: {house}
    plus to pe:    {{withstand: 6 kV, from: guess, capacitance: 1 nF}}
    plus to minus: {{withstand: 6 kV, from: guess, capacitance: 1 nF}}
arresters:
  {slot}:
    at: {house}
    across: [plus to pe, plus to minus]
    card: pv 1000 class II
    wiring: {wiring}
    leads: {{line: 0.5 m, earth: 0.5 m to pe}}
surges:
  {surge}:
    shape: 1.2/50
    peak: 6 kV
    source impedance: 2 ohm
    into: {roof} plus
    returns: {roof} pe
"""

THINGS = (
    "cable", "feed", "rod", "bond", "strings", "inverter", "slot", "surge", "roof", "house",
)  # fmt: skip
DIFFERENT = {thing: f"my {thing}" for thing in THINGS}


def network_of(names: dict[str, str], *, wiring: str = "tee") -> Network:
    (case,) = loads(SITE.format(**names, wiring=wiring)).all_cases
    return build(case.scenario)


def anonymous(network: Network) -> list[tuple[Any, ...]]:
    """A network with its nodes and elements numbered in order of appearance instead of named."""
    nodes: dict[str, int] = {GROUND: 0}
    elements = {e.name: k for k, e in enumerate(network.elements)}

    def number(node: str) -> int:
        return nodes.setdefault(node, len(nodes))

    plain: list[tuple[Any, ...]] = []
    for element in network.elements:
        values = {f.name: getattr(element, f.name) for f in dataclasses.fields(element)}
        del values["name"], values["group"]
        for key in ("a", "b", "near", "far", "near_reference", "far_reference", "first", "second"):
            value = values.pop(key, None)
            if isinstance(element, Coupling) and value is not None:
                values[key] = elements[value]
            elif value is not None:
                values[key] = (
                    [number(n) for n in value] if isinstance(value, tuple) else number(value)
                )
        plain.append((type(element).__name__, values))
    return plain


# Each of these gave one node or one element twice while names were not kept apart.
ALIKE = {
    "all things alike": {t: "same" for t in THINGS if t not in ("feed", "house", "roof")},
    "a slot like its place": {"slot": DIFFERENT["house"]},
    "a slot like another place": {"slot": DIFFERENT["roof"]},
    "an electrode like a place": {"rod": DIFFERENT["roof"]},
    "a bond like a place": {"bond": DIFFERENT["roof"]},
    "a slot like an equipment": {"slot": DIFFERENT["inverter"]},
    "a supply like a cable": {"strings": DIFFERENT["cable"]},
    "places like kinds of things": {"roof": "arrester", "house": "earth"},
    "names like parts": {"slot": "plus", "rod": "head", "bond": "middle", "surge": "source"},
}


@pytest.mark.parametrize("wiring", ["tee", "V"])
@pytest.mark.parametrize("names", ALIKE.values(), ids=ALIKE.keys())
def test_names_make_no_difference(names: dict[str, str], wiring: str) -> None:
    expected = anonymous(network_of(DIFFERENT, wiring=wiring))
    assert anonymous(network_of(DIFFERENT | names, wiring=wiring)) == expected


@pytest.mark.parametrize("names", ALIKE.values(), ids=ALIKE.keys())
def test_element_names_are_unique(names: dict[str, str]) -> None:
    elements = [element.name for element in network_of(DIFFERENT | names).elements]
    assert len(set(elements)) == len(elements)
