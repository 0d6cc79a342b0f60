"""What every test may use: golden files (see ``pytest --update-golden``) and small circuits."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, AnyElement, Line, VoltageSource
from surgesim.physics.waveforms import Waveform

# The first example of a property pays for imports and, with the engine, for a process: how
# long an example takes says nothing.
settings.register_profile("surgesim", settings(), deadline=None)
settings.load_profile("surgesim")

# A deck prints ten significant digits, and the last one may differ between machines whose
# linear algebra rounds differently: one unit there is at most 1e-9 of the number.
NUMBER_TOLERANCE = 1.001e-9

NUMBER = re.compile(r"(?<![\w.])[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?(?![\w.])")

Golden = Callable[[str, str], None]
MakeNetwork = Callable[..., Network]
MakeLine = Callable[..., Line]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="rewrite the golden files with what the tests produce now; review the diff",
    )


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Golden:
    """Compare a text with ``golden/NAME`` beside the test; numbers to their last printed digit."""
    folder = request.path.parent / "golden"
    update = bool(request.config.getoption("--update-golden"))

    def check(name: str, text: str) -> None:
        path = folder / name
        if update:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        compare_with_golden(path, text)

    return check


def compare_with_golden(path: Path, text: str) -> None:
    """Fail with the first line that differs; a missing golden file is a failure too."""
    if not path.is_file():
        pytest.fail(f"no golden file {path}; write it with `pytest --update-golden` and review it")
    expected = path.read_text(encoding="utf-8").splitlines()
    actual = text.splitlines()
    for number, (was, now) in enumerate(zip(expected, actual, strict=False), start=1):
        if not same_line(was, now):
            pytest.fail(f"{path}:{number} differs\n  golden: {was}\n  now:    {now}")
    if len(expected) != len(actual):
        pytest.fail(f"{path} has {len(expected)} lines, now there are {len(actual)}")


def same_line(was: str, now: str) -> bool:
    """Equal words, and equal numbers within the last printed digit."""
    if NUMBER.sub("#", was) != NUMBER.sub("#", now):
        return False
    pairs = zip(NUMBER.findall(was), NUMBER.findall(now), strict=True)
    return all(math.isclose(float(a), float(b), rel_tol=NUMBER_TOLERANCE) for a, b in pairs)


@pytest.fixture
def line() -> MakeLine:
    """A single lossless conductor, unless it has a resistance."""

    def make(
        near: str,
        far: str,
        *,
        impedance: float,
        delay: float,
        name: str = "line",
        resistance: float = 0.0,
        references: tuple[str, str] = (GROUND, GROUND),
    ) -> Line:
        return Line(
            name=name,
            near=(near,),
            far=(far,),
            voltage_modes=((1.0,),),
            impedance=(impedance,),
            delay=(delay,),
            resistance=(resistance,),
            near_reference=references[0],
            far_reference=references[1],
        )

    return make


@pytest.fixture
def stiff() -> MakeNetwork:
    """A network on an ideal voltage source at node ``start``."""

    def make(waveform: Waveform, *elements: AnyElement, title: str = "test") -> Network:
        source = VoltageSource(name="source", a="start", b=GROUND, waveform=waveform)
        return Network(title=title, elements=(source, *elements), waveform=waveform)

    return make
