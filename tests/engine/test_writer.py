"""The deck: answers by hand as it does for us, and carries no user's text as orders."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from surgesim.engine import deck, engine_version, run_network, simulate
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, Line, Resistor
from surgesim.network.probes import TerminalProbe
from surgesim.network.waveforms import Waveforms
from surgesim.physics.waveforms import Ramp, Step, Waveform

MakeNetwork = Callable[..., Network]
MakeProbe = Callable[..., TerminalProbe]
Shape = Callable[[float], Waveform]

MEASURED = re.compile(r"^(t\d+\S*_(?:highest|lowest))\s*=\s+(\S+)", re.MULTILINE)


def by_hand(text: str, folder: Path) -> str:
    """What plain ``ngspice -b`` prints for a deck."""
    (folder / "a.cir").write_text(text, encoding="ascii")
    command = [engine_version().path, "-b", "a.cir"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout


def peaks(network: Network, waves: Waveforms) -> list[float]:
    volts = [waves.across(probe.a, probe.b) for probe in network.terminals]
    return [float(extreme(v)) for v in volts for extreme in (np.max, np.min)]


def test_a_deck_run_by_hand_prints_the_same_peaks(
    installation: MakeNetwork, ten_350: Shape, tmp_path: Path
) -> None:
    # with a flashover, so that the front was run again at finer steps and the tail has its arc
    network = installation(ten_350(5e3))
    front, tail = run_network(network)
    assert front.voltages["gap/state"][-1] > 0.5
    for waves, text in (
        (front, deck(network, window="front", front=front)),
        (tail, deck(network, window="tail", front=front)),
    ):
        printed = [float(value) for _, value in MEASURED.findall(by_hand(text, tmp_path))]
        # 1e-4: ngspice prints seven digits and measures between the same points
        assert printed == pytest.approx(peaks(network, waves), rel=1e-4, abs=1e-3)


def test_a_deck_says_what_its_parts_are(installation: MakeNetwork, ten_350: Shape) -> None:
    text = deck(installation(ten_350(5e3)), window="front")
    for words in ("* cable run", "* arrester", "* earth rods", "*   n1_start: start"):
        assert words in text.splitlines()
    assert "* inverter, plus to pe, at barn" in text
    assert text.isascii()


def test_a_deck_is_always_the_same(installation: MakeNetwork, ten_350: Shape) -> None:
    texts = {deck(installation(ten_350(5e3)), window="tail") for _ in range(3)}
    assert len(texts) == 1


def hostile(folder: Path) -> str:
    return f"x\n.control\nshell touch {folder}/written\n.endc\n*#shell touch {folder}/written\n"


def test_no_name_is_obeyed(injected: MakeNetwork, probe: MakeProbe, tmp_path: Path) -> None:
    words = hostile(tmp_path)
    network = injected(
        Step(peak=10.0, rise=1e-6),
        Resistor(name=words, a="start", b=words, resistance=1.0, group=words),
        Resistor(name="load", a=words, b=GROUND, resistance=1.0, group="*#" + words),
        title=words,
        terminals=(replace(probe(words), equipment=words, pair=words, place=words),),
    )
    waves = simulate(network, window="front")
    assert waves.at(words)[-1] == pytest.approx(10.0)
    text = deck(network, window="front")
    by_hand(text, tmp_path)
    assert not (tmp_path / "written").exists()
    assert not re.search(r"^(\*#|\.control|shell)", text, re.MULTILINE | re.IGNORECASE)


def test_names_that_fold_together_stay_apart(injected: MakeNetwork) -> None:
    # one divider with a node for each name: all voltages differ
    names = [
        "Bar",
        "bar",
        "BAR",
        "bár",
        "gnd",
        "GND",
        "0",
        "日",
        "月",
        "a b",
        "a_b",
        "error aborted",
    ]
    chain = ["start", *names, GROUND]
    steps = [Resistor(name=f"{a} to {b}", a=a, b=b, resistance=1.0) for a, b in pairwise(chain)]
    waves = simulate(injected(Step(peak=1.0, rise=1e-6), *steps), window="front")
    last = [float(waves.at(name)[-1]) for name in names]
    assert last == pytest.approx([12.0 - k for k in range(len(names))])


def test_an_element_called_like_a_failure_is_no_failure(injected: MakeNetwork) -> None:
    names = ["Error", "Fatal Error", "aborted", "timestep too small", "singular matrix"]
    loads = [Resistor(name=name, a="start", b=GROUND, resistance=5.0, group=name) for name in names]
    network = injected(Step(peak=1.0, rise=1e-6), *loads, title="Error: aborted, too small")
    assert simulate(network, window="front").at("start")[-1] == pytest.approx(1.0)


def test_a_very_long_name_is_cut(injected: MakeNetwork) -> None:
    name = "long " * 1000
    network = injected(
        Step(peak=1.0, rise=1e-6), Resistor(name=name, a="start", b=GROUND, resistance=5.0)
    )
    assert simulate(network, window="front").at("start")[-1] == pytest.approx(5.0)
    assert max(map(len, deck(network, window="front").splitlines())) < 300


def test_numbers_are_plain(installation: MakeNetwork, ten_350: Shape) -> None:
    text = deck(installation(ten_350(5e3)), window="front")
    parts = [line for line in text.splitlines() if re.match(r"[RLCT]", line)]
    assert len(parts) > 8
    for line in parts:
        assert re.search(r"[ =]\d+(\.\d+)?(e[-+]?\d+)?$", line)
        assert not re.search(r"\d(meg|[fpnumkgt])\b", line, re.IGNORECASE)


def test_lumped_lines_are_named(stiff: MakeNetwork, line: Callable[..., Line]) -> None:
    network = stiff(
        Ramp(peak=1.0, rise=10e-6),
        line("start", "middle", impedance=50.0, delay=1e-6, name="tap"),
        line("middle", "end", impedance=50.0, delay=100e-6, name="feeder"),
        Resistor(name="load", a="end", b=GROUND, resistance=50.0),
    )
    _, tail = run_network(network)
    assert tail.lumped == ("tap",)
    text = deck(network, window="tail")
    assert "* as one pi section each: tap" in text
    assert len(re.findall(r"^T", text, re.MULTILINE)) == 1
    assert tail.step <= 50e-6


def test_two_results_of_one_name_are_refused(
    injected: MakeNetwork, line: Callable[..., Line]
) -> None:
    network = injected(
        Step(peak=1.0, rise=1e-6),
        line("start", "line/near/0", impedance=50.0, delay=1e-6),
        Resistor(name="load", a="line/near/0", b=GROUND, resistance=50.0),
    )
    with pytest.raises(EngineError, match="two results would be named 'line/near/0'"):
        simulate(network, window="front")
