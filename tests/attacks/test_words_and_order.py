"""What things are called, in which order they stand and which end is which changes nothing."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from surgesim.engine.windows import front_plan
from surgesim.engine.writer import write_deck
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND
from surgesim.reading.names import FORBIDDEN, complaint_about, folded
from surgesim.scenario.terminals import CONDUCTORS
from tests.attacks.sites import PLAIN, SOLVERS, THINGS, Site, apart, network_of, site

# The same circuit in another order is the same equations in another order. The second solver
# ends its iterations a hair's breadth from the solution, on another side of it: 3e-7.
SAME = 1e-5

# Words that mean something to ngspice, to a shell, to YAML, to a format or to the program.
LOADED = (
    "gnd", "GND", "0", "00", "v1", "R1", "x1", "n1", "x12_a", "tran", "control", "quit", "all",
    "time", "temp", "inf", "nan", "null", "true", "no", "1e3", "1 kohm", "12:30", "~", "-", "--",
    "*", "*#", "$", "$(id)", "`id`", ";", "; quit", "+", "a+b", "(a)", "{}", "{0}", "%s", "%", "#",
    "# x", "a: b", "'", "''", "'gnd'", "it's", "!tag", "&anchor", "<<", "?", "@r1[i]", "\\n", "=",
    "a=1", "plus", "pe", "remote", "earth", "frame", "removed", "cable", "source", "port", "near",
    "far", "0∕0", "日本", "日木", "árray", "Ærø", "a b", "a_b",
    "a-b", "a,b", "x" * 60, "🜨",
)  # fmt: skip

letters = st.characters(
    exclude_categories=("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp", "Zs"),
    exclude_characters=FORBIDDEN,
)
names = st.one_of(
    st.sampled_from(LOADED),
    st.text(letters, min_size=1, max_size=20).map(lambda text: unicodedata.normalize("NFC", text)),
).filter(lambda name: not complaint_about(name))

ENDS = ("roof", "shed", "board", "bar")


def is_plain_end(name: str) -> bool:
    """Whether a place or a bar of this name leaves no terminal and no pair ambiguous."""
    return not set(re.split(r"\W+", name.casefold())) & {*CONDUCTORS, "to", "remote", "each"}


@st.composite
def callings(draw: st.DrawFn) -> dict[str, str]:
    """A name for everything, no two of them alike."""
    count = len(ENDS)
    ends = draw(
        st.lists(names.filter(is_plain_end), min_size=count, max_size=count, unique_by=folded)
    )
    assume(not any(other.startswith(f"{end} ") for end in ends for other in ends))
    rest = [thing for thing in THINGS if thing not in ENDS]
    others = draw(st.lists(names, min_size=len(rest), max_size=len(rest), unique_by=folded))
    return dict(zip((*ENDS, *rest), (*ends, *others), strict=True))


def without_names(network: Network) -> str:
    """A network's deck with no comment in it and every name cut down to its number."""
    deck = write_deck(network, front_plan(network))
    known = [*deck.names.nodes.values(), *deck.names.elements.values()]
    longest_first = sorted(known, key=len, reverse=True)
    name = re.compile(
        rf"(?<![A-Za-z0-9_])([A-Z]?)({'|'.join(map(re.escape, longest_first))})(?![a-z0-9])", re.I
    )
    probe = re.compile(r"\b(E?t\d+)_[a-z0-9_]*?(?=(?:_highest|_lowest)?\b)")
    lines = [line for line in deck.text.splitlines() if not line.startswith("*")]
    text = probe.sub(r"\1", "\n".join(lines))
    return name.sub(lambda match: match[1] + match[2].split("_")[0], text)


def probed(network: Network) -> list[tuple[str, str]]:
    """Which of a network's nodes its probes are on, by number."""
    number = {GROUND: "earth"} | {node: f"{k}" for k, node in enumerate(network.nodes())}
    pairs = [(probe.a, probe.b) for probe in network.terminals]
    pairs += [(probe.a, probe.b) for probe in network.arresters]
    pairs += [(probe.node, GROUND) for probe in network.earths]
    return [(number[a], number[b]) for a, b in pairs]


PLAIN_NETWORK = network_of(site())


@settings(max_examples=40)
@given(called=callings())
def test_names_change_a_deck_by_names_alone(called: dict[str, str]) -> None:
    network = network_of(site(called))
    assert without_names(network) == without_names(PLAIN_NETWORK)
    assert probed(network) == probed(PLAIN_NETWORK)


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=4)
@given(called=callings())
def test_names_change_no_peak(solver: str, called: dict[str, str]) -> None:
    expected = list(SOLVERS[solver](PLAIN_NETWORK).values())
    assert list(SOLVERS[solver](network_of(site(called))).values()) == expected


@pytest.mark.parametrize("name", [".tran", 'a"b', "a/b", "a|b", "a\nb", "*\n.control\n", "a\x00"])
@pytest.mark.parametrize("thing", ["roof", "bar", "run", "rod", "slot", "surge"])
def test_names_that_no_deck_or_path_could_bear_are_refused(thing: str, name: str) -> None:
    with pytest.raises(ValueError, match="name") as refused:
        network_of(site({**PLAIN, thing: name}))
    assert all(line.isprintable() for line in str(refused.value).splitlines())


def reordered(data: Any, draw: st.DrawFn) -> Any:
    """Plain data with the entries of every mapping in another order, but for lists."""
    if not isinstance(data, dict):
        return data
    return {key: reordered(data[key], draw) for key in draw(st.permutations(list(data)))}


@st.composite
def reorderings(draw: st.DrawFn) -> Site:
    data: Site = reordered(site(), draw)
    return data


@st.composite
def reversals(draw: st.DrawFn) -> Site:
    """The site with the two ends of some of its cables and bonds exchanged."""
    data = site()
    for thing in (*data["cables"].values(), *data["bonds"].values()):
        if draw(st.booleans()):
            thing["from"], thing["to"] = thing["to"], thing["from"]
    return data


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=5)
@given(reordering=reorderings(), reversal=reversals())
def test_order_and_direction_change_no_peak(solver: str, reordering: Site, reversal: Site) -> None:
    expected = SOLVERS[solver](PLAIN_NETWORK)
    for data in (reordering, reversal):
        assert apart(expected, SOLVERS[solver](network_of(data))) < SAME


EXCHANGED = {"plus": "minus", "minus": "plus"}


def exchanged(text: str) -> str:
    """A text with its poles exchanged, save ``plus to minus``, which is its own mirror image."""
    return re.sub(
        r"plus to minus|\b(?:plus|minus)\b", lambda found: EXCHANGED.get(found[0], found[0]), text
    )


def mirrored(data: Any) -> Any:
    """The site with its poles exchanged wherever one of them is named."""
    if isinstance(data, dict):
        return {exchanged(key): mirrored(value) for key, value in data.items()}
    return exchanged(data) if isinstance(data, str) else data


references = st.sampled_from(
    [
        {"to": "frame", "each pole": "2 Mohm"},
        {"to": "pe", "earthed pole": "minus", "through": "1 ohm"},
        {"to": "pe", "earthed pole": "plus", "through": "10 kohm"},
    ]
)
entries = st.sampled_from(
    [
        {"into": "roof frame"},
        {"into": "board pe"},
        {"into": "roof plus", "channel": "400 ohm"},
        {"into": "shed minus", "channel": "400 ohm"},
    ]
)


@pytest.mark.parametrize("solver", SOLVERS)
@settings(max_examples=5)
@given(reference=references, entry=entries, lit=st.sampled_from(["lit", "dark"]))
def test_the_opposite_polarity_with_the_poles_exchanged_mirrors(
    solver: str, reference: dict[str, str], entry: dict[str, str], lit: str
) -> None:
    data = site()
    data["supply"]["strings"] |= {"reference": reference, "state": lit}
    data["surges"]["surge"] |= entry
    opposite = {**mirrored(data), "polarity": "negative"}
    one = SOLVERS[solver](network_of(data))
    other = SOLVERS[solver](network_of(opposite))
    # towards a bar or the earth, the one pole's voltage is that of the other
    expected = {name: other[exchanged(name)] for name in one if "plus to minus, to" not in name}
    assert apart({name: one[name] for name in expected}, expected) < SAME
