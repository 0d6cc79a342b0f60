"""Every file in ``tests/scenarios/invalid`` has one fault and begins with what is said of it.

``# expect: line:column path: message; hint`` stands for exactly one problem; line and path are
left out where the fault has none.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from surgesim.errors import InputError, Problem
from surgesim.scenario.file import load

FOLDER = Path(__file__).resolve().parents[1] / "scenarios" / "invalid"
FILES = sorted(FOLDER.glob("*.yaml"))
EXPECT = "# expect: "


def told(problem: Problem) -> str:
    """A problem as the first line of a file expects it."""
    spot = f"{problem.line}:{problem.column}" if problem.line else ""
    path = f"{problem.path}:" if problem.path else ""
    words = " ".join(part for part in (spot, path, problem.message) if part)
    return f"{words}; {problem.hint}" if problem.hint else words


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_one_fault_is_one_message(path: Path) -> None:
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith(EXPECT)
    with pytest.raises(InputError) as caught:
        load(path)
    assert [told(problem) for problem in caught.value.problems] == [first.removeprefix(EXPECT)]
    assert caught.value.problems[0].file == str(path)
    # it fits a screen, on one line
    assert len(first) < 400
    assert first.isprintable()


def test_there_are_files() -> None:
    assert len(FILES) >= 200
