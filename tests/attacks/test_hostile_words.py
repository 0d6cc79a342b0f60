"""Words from strangers: no word reaches a deck as anything but a comment, and reading runs nothing.

What a record may hold and where its parts may lie is attacked in ``tests/record``, bytes and
structure of a scenario in ``tests/scenario``.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from surgesim.engine import simulate
from surgesim.engine.windows import front_plan
from surgesim.engine.writer import write_deck
from surgesim.errors import InputError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource, Resistor
from surgesim.network.probes import Limit, TerminalProbe
from surgesim.physics.waveforms import Step
from surgesim.scenario.file import loads
from surgesim.scenario.written import as_yaml
from tests.attacks.sites import site

HOSTILE = (
    "\n.control\nshell touch owned\n.endc\n", "*#shell touch owned", "\r.include /etc/passwd",
    "\x0b.lib x", "\x85.control", "\u2028.control", ".tran 1 1", "$ x", "; quit", "x\\\n+ y",
    "\x00", "{shell}", "`touch owned`", "$(touch owned)", "\n.end\n", "gnd", "0", "v1", "%n%s",
    "\u202e", "\ud800", "a\tb", "* *#", "", " ",
)  # fmt: skip

words = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(max_size=30),
    st.tuples(st.text(max_size=5), st.sampled_from(HOSTILE)).map("".join),
)

NAME = r"[a-z]?[a-z0-9_]+"
NUMBER = r"-?[0-9.]+(e[+-][0-9]+)?"
LINES = re.compile(
    "|".join(
        (
            r"\*( [\x20-\x7e]*)?",
            r"\.title surgesim, (front|tail) window",
            rf"[RE]{NAME}( {NAME})+ {NUMBER}",
            rf"B{NAME} {NAME} {NAME} i=[-+*/(){{}},.a-z0-9_<>?: ]*",
            r"\.options [a-z0-9=. e-]+",
            rf"\.save( [vi]\({NAME}\))+",
            rf"\.tran( {NUMBER})+",
            rf"\.meas tran {NAME} (MAX|MIN) v\({NAME}\)",
            r"\.end",
        )
    )
)
"""What the deck of the network below may hold: ``*#`` and everything unforeseen is none of it."""


def network_called(called: list[str]) -> Network:
    """Two resistors behind a surge, with every word that a network can carry set to one given."""
    title, first, second, surge, upper, lower, group, equipment, pair, place = called
    wave = Step(peak=1.0, rise=1e-6)
    limit = Limit(kind="withstand", volts=6e3, origin="guess", where=title)
    return Network(
        title=title,
        elements=(
            CurrentSource(name=surge, a=GROUND, b=first, waveform=wave, group=group),
            Resistor(name=upper, a=first, b=second, resistance=1.0, group=group),
            Resistor(name=lower, a=second, b=GROUND, resistance=1.0, group=f"{group}{place}"),
        ),
        waveform=wave,
        terminals=(
            TerminalProbe(
                equipment=equipment, pair=pair, place=place, a=first, b=second, limit=limit
            ),
        ),
        notes=(title, group),
    )


@settings(max_examples=150)
@given(called=st.lists(words, min_size=10, max_size=10))
def test_words_are_comments_in_a_deck(called: list[str]) -> None:
    for k in (1, 2, 3, 4, 5):
        called[k] += f" {k}"  # nodes and elements are told apart by their words
    network = network_called(called)
    text = write_deck(network, front_plan(network)).text
    lines = text.split("\n")
    assert lines.pop() == ""
    assert all(LINES.fullmatch(line) for line in lines), [
        line for line in lines if not LINES.fullmatch(line)
    ]
    plain = network_called([f"word {k}" for k in range(10)])
    expected = write_deck(plain, front_plan(plain)).text.split("\n")[:-1]
    assert len([x for x in lines if x[0] != "*"]) == len([x for x in expected if x[0] != "*"])


def test_the_form_of_a_deck_is_a_form() -> None:
    for line in (".control", "*#shell touch owned", "shell touch owned", ".include x", "", "+ x"):
        assert not LINES.fullmatch(line)


@pytest.mark.parametrize("word", HOSTILE)
def test_the_engine_runs_no_word(
    word: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    network = network_called([f"{word} {k}" for k in range(10)])
    waves = simulate(network, window="front", stop=2e-6)
    assert waves.at(f"{word} 1")[-1] == pytest.approx(2.0, rel=1e-6)
    assert list(tmp_path.iterdir()) == []


# --- reading ----------------------------------------------------------------------------------

WATCHED = (
    "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "socket.", "os.mkdir",
    "os.rename", "os.remove", "os.link", "os.symlink", "os.truncate", "os.chmod", "shutil.",
    "ctypes.", "webbrowser.", "marshal.", "pickle.",
)  # fmt: skip


class _Watch:
    """Notes what the interpreter does while it is on; an audit hook cannot be taken off again."""

    def __init__(self) -> None:
        self.on = False
        self.seen: list[str] = []
        sys.addaudithook(self._note)

    def _note(self, event: str, details: tuple[Any, ...]) -> None:
        if not self.on:
            return
        writes = event == "open" and isinstance(details[1], str) and set(details[1]) & set("wax+")
        if writes or event.startswith(WATCHED):
            self.seen.append(f"{event} {details!r}")

    @contextmanager
    def watching(self) -> Iterator[None]:
        self.seen.clear()
        self.on = True
        try:
            yield
        finally:
            self.on = False


@pytest.fixture(scope="module")
def watch() -> _Watch:
    loads(as_yaml(site()))  # whatever is imported late is imported by now
    return _Watch()


BOMB = "\n".join(
    ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    + [f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 9)}]" for k in range(1, 12)]
)

FILES = {
    "a tag that calls": "surgesim: !!python/object/apply:os.system ['touch owned']\n",
    "a tag that makes": "surgesim: !!python/object/new:subprocess.Popen [['touch', 'owned']]\n",
    "a tag of a module": "x: !!python/module:this\n",
    "a tag of bytes": "x: !!binary aGVsbG8=\n",
    "a tag of its own": "%TAG ! tag:evil,2000:\n---\nx: !thing {a: b}\n",
    "a bomb of aliases": BOMB,
    "an alias of itself": "a: &a [*a]\n",
    "a merge": "a: &a {b: c}\nd: {<<: *a}\n",
    "a merge without an alias": "surgesim: 1\n<<: {title: x}\n",
    "an include": "surgesim: 1\ntitle: !include /etc/passwd\n",
    "a path for a card": "surgesim: 1\ntitle: x\ncards: ../../../etc/passwd\n",
    "a directive": "%YAML 9.9\n---\nsurgesim: 1\n",
}


@pytest.mark.parametrize("text", FILES.values(), ids=FILES.keys())
def test_reading_a_hostile_file_only_refuses_it(text: str, watch: _Watch) -> None:
    with watch.watching(), pytest.raises(InputError) as refused:
        loads(text, name="stranger's")
    assert watch.seen == []
    assert all(len(str(problem)) < 400 for problem in refused.value.problems)


@given(called=st.lists(words, min_size=4, max_size=4))
@settings(max_examples=40)
def test_reading_hostile_words_touches_nothing(called: list[str], watch: _Watch) -> None:
    title, about, where, card = (word.encode("utf-8", "replace").decode() for word in called)
    data = site()
    data["title"], data["question"] = title, about
    data["equipment"]["modules"]["plus to frame"] |= {"from": "table", "where": where}
    data["arresters"]["slot"]["card"] = f"../models/{card}"
    text = as_yaml(data)
    with watch.watching(), pytest.raises(InputError):
        loads(text)
    assert watch.seen == []
