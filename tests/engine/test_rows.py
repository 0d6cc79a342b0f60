"""Lines in a row written mode by mode are what they are each by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from surgesim.engine import deck, simulate
from surgesim.engine.rows import rows
from surgesim.engine.windows import Plan
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, Inductor, Line, Resistor
from surgesim.network.waveforms import Window
from surgesim.physics.modes import decompose
from surgesim.physics.waveforms import Waveform

MakeNetwork = Callable[..., Network]
MakeWaveform = Callable[..., Waveform]

# Microhenry and picofarad per metre. A bundle of which every mode follows its references, each by
# another share; and a pair of equal poles, whose difference passes them by.
BUNDLE = (
    [[1.50, 0.90, 0.60], [0.90, 1.40, 0.70], [0.60, 0.70, 1.80]],
    [[60.0, -30.0, -5.0], [-30.0, 70.0, -8.0], [-5.0, -8.0, 40.0]],
)
PAIR = ([[1.5, 0.9], [0.9, 1.5]], [[60.0, -30.0], [-30.0, 60.0]])
ONE = ([[1.5]], [[20.0]])


def pieces(of: tuple[list[list[float]], list[list[float]]], count: int) -> list[Line]:
    """Lines of 20 m in a row, with metal, from ``0/near`` on and with soil at every end."""
    modes = decompose(1e-6 * np.array(of[0]), 1e-12 * np.array(of[1]))
    conductors = range(len(modes.impedance))
    ends = [tuple(f"{k}/{conductor}" for conductor in conductors) for k in range(count + 1)]
    return [
        Line(
            name=f"piece {k}",
            near=near,
            far=far,
            voltage_modes=tuple(tuple(map(float, row)) for row in modes.voltage_modes),
            impedance=tuple(map(float, modes.impedance)),
            delay=tuple(float(20.0 / v) for v in modes.velocity),
            resistance=(0.4,) * len(conductors),
            near_reference="soil 0" if k == 0 else GROUND,
            far_reference=f"soil {k + 1}",
        )
        for k, (near, far) in enumerate(pairwise(ends))
    ]


def around(lines: list[Line]) -> Iterator[AnyElement]:
    """The soil, a source's resistance to the first conductor, and unlike loads."""
    yield Resistor(name="behind", a="start", b=lines[0].near[0], resistance=20.0)
    for k in range(len(lines) + 1):
        yield Resistor(name=f"loss {k}", a=f"soil {k}", b=GROUND, resistance=15.0)
        yield Inductor(name=f"lag {k}", a=f"soil {k}", b=GROUND, inductance=3e-6)
    for line, end in ((lines[0], "near"), (lines[-1], "far")):
        for k, node in enumerate(getattr(line, end)):
            ohm = 60.0 + 70.0 * k
            yield Resistor(name=f"load {k} {end}", a=node, b=GROUND, resistance=ohm)


def apart(lines: list[Line]) -> Iterator[AnyElement]:
    """Resistances that carry nothing: with them at its nodes a joint is one no more."""
    for line in lines[:-1]:
        for node in line.far:
            yield Resistor(name=f"nothing at {node}", a=node, b=GROUND, resistance=1e12)


@pytest.mark.parametrize("window", ["front", "tail"])
@pytest.mark.parametrize("of", [BUNDLE, PAIR, ONE], ids=["bundle", "pair", "one"])
def test_a_row_is_its_lines(
    stiff: MakeNetwork, step: MakeWaveform, of: tuple[list[list[float]], ...], window: Window
) -> None:
    """Every result of it, those inside too. 1e-6 of the largest: the decks have ten digits."""
    lines = pieces((of[0], of[1]), 3)
    row = stiff(step(1e3, rise=0.5e-6), *lines, *around(lines))
    each = replace(row, elements=(*row.elements, *apart(lines)))
    assert [len(one.lines) for one in rows(row)] == [3]
    assert not list(rows(each))
    lumped = tuple(line.name for line in lines) if window == "tail" else ()
    plan = Plan(window=window, step=10e-9, stop=5e-6, lumped=lumped)
    found, wanted = (simulate(network, window=window, plan=plan) for network in (row, each))
    np.testing.assert_allclose(found.time, wanted.time, rtol=1e-9)
    for kind in ("voltages", "currents"):
        here, there = getattr(found, kind), getattr(wanted, kind)
        assert here.keys() == there.keys()
        largest = max(float(np.max(np.abs(values))) for values in there.values())
        for name, values in there.items():
            np.testing.assert_allclose(here[name], values, rtol=0, atol=1e-6 * largest)


def test_only_the_ends_of_a_row_have_transformers(stiff: MakeNetwork, step: MakeWaveform) -> None:
    lines = pieces(BUNDLE, 5)
    text = deck(stiff(step(1e3, rise=0.5e-6), *lines, *around(lines)), window="front")
    counts = {kind: sum(line.startswith(kind) for line in text.splitlines()) for kind in "EFT"}
    assert counts == {"E": 18, "F": 18, "T": 15}


def test_a_row_ends_where_its_lines_differ(stiff: MakeNetwork, step: MakeWaveform) -> None:
    first, second, third, fourth = pieces(BUNDLE, 4)
    turned = tuple(tuple(-share for share in row) for row in third.voltage_modes)
    lines = [first, second, replace(third, voltage_modes=turned), fourth]
    network = stiff(step(1e3, rise=0.5e-6), *lines, *around(lines))
    assert [[line.name for line in row.lines] for row in rows(network)] == [["piece 0", "piece 1"]]


@pytest.mark.parametrize(("unlike", "count"), [(1e-5, 0), (5e-4, 0), (0.05, 1)])
def test_a_mode_that_hardly_follows_its_references_is_not_scaled(
    stiff: MakeNetwork, step: MakeWaveform, unlike: float, count: int
) -> None:
    """Poles that differ by 1 in 10^5 have a difference that follows by as much; scaled to follow
    in full its impedance would be 10^10 times larger. By 1 in 2000 ngspice got lost in it."""
    inductance = [[1.5, 0.9], [0.9, 1.5 * (1.0 + unlike)]]
    lines = pieces((inductance, PAIR[1]), 3)
    network = stiff(step(1e3, rise=0.5e-6), *lines, *around(lines))
    assert len(list(rows(network))) == count
