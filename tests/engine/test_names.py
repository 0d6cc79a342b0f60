"""Deck names: never two alike, whatever users call things, and back again."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surgesim.engine.names import Names, printable, slug, without_deck_names
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Resistor
from surgesim.physics.waveforms import Step

MakeNetwork = Callable[..., Network]

AWKWARD = [
    "gnd",
    "GND",
    "0",
    "array",
    "Array",
    "ARRAY",
    "árray",
    "日本",
    "日木",
    "a b",
    "a_b",
    "a.b",
]


def star(nodes: list[str]) -> Network:
    """A resistor from every node to earth, named after it."""
    resistors = [Resistor(name=f"to {n}", a=n, b=GROUND, resistance=1.0) for n in nodes]
    return Network(title="star", elements=tuple(resistors), waveform=Step(peak=1.0, rise=1e-6))


@given(st.lists(st.text(min_size=1), unique=True, min_size=1, max_size=12))
def test_deck_names_are_distinct_words(nodes: list[str]) -> None:
    names = Names.of(star([node for node in nodes if node != GROUND] or ["a"]))
    decks = [deck for node, deck in names.nodes.items() if node != GROUND]
    decks += [f"R{deck}" for deck in names.elements.values()]
    assert len({deck.casefold() for deck in decks}) == len(decks)
    for deck in decks:
        assert re.fullmatch(r"R?[nx]\d+[a-z0-9_]*", deck)


def test_only_remote_earth_is_node_zero() -> None:
    names = Names.of(star(AWKWARD))
    zeros = [node for node, deck in names.nodes.items() if deck in ("0", "gnd", "GND")]
    assert zeros == [GROUND]


def test_a_collision_is_refused() -> None:
    names = Names(nodes={"one": "n1", "two": "N1"}, elements={})
    with pytest.raises(EngineError, match="does not tell 'two' from 'one'"):
        names.require_distinct()


def test_engine_text_comes_back_in_the_users_words() -> None:
    names = Names.of(star(["array/plus"]))
    said = "singular matrix:  check node n1_array_plus and rx1_to_array_plus#branch"
    assert names.in_user_words(said) == (
        "singular matrix:  check node 'array/plus' and 'to array/plus'#branch"
    )


def test_users_words_do_not_pass_for_the_engines() -> None:
    names = Names.of(star(["run aborted too small"]))
    (deck,) = (deck for node, deck in names.nodes.items() if node != GROUND)
    assert "aborted" in deck
    assert "aborted" not in without_deck_names(f"{deck}   0\nt1_aborted_highest = 5")


@given(st.text())
def test_comments_are_one_line_of_printable_ascii(text: str) -> None:
    assert re.fullmatch(r"[ -~]*", printable(text))
    assert re.fullmatch(r"(_[a-z0-9_]*[a-z0-9])?", slug(text))


def test_names_stay_when_an_element_is_added() -> None:
    few = star(["a", "b"])
    more = replace(few, elements=(*few.elements, *star(["c"]).elements))
    names = [Names.of(network).nodes for network in (few, more)]
    assert names[0].items() <= names[1].items()
