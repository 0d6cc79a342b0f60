"""Every mutant of the list is noticed by the tests it names."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from tests.mutants.__main__ import PAGE, page
from tests.mutants.listing import ROOT, Mutant, mutants
from tests.mutants.trial import Trial, copied, tried

AT_ONCE = 2

ALL = mutants()

FEWEST = 30


def test_the_list_is_long_enough_and_says_each_thing_once() -> None:
    assert len(ALL) >= FEWEST
    assert len({mutant.name for mutant in ALL}) == len(ALL)
    assert len({(mutant.file, mutant.old, mutant.new) for mutant in ALL}) == len(ALL)


@pytest.mark.parametrize("mutant", ALL, ids=lambda mutant: mutant.name)
def test_the_mutant_still_fits_the_code(mutant: Mutant) -> None:
    source = (ROOT / mutant.file).read_text(encoding="utf-8")
    assert "\n" not in mutant.old
    assert mutant.applied(source) != source
    assert mutant.tests


def test_a_mutant_that_no_longer_fits_is_said_to_need_renewing() -> None:
    with pytest.raises(ValueError, match="needs renewing"):
        ALL[0].applied("")
    with pytest.raises(ValueError, match="2 times"):
        ALL[0].applied(2 * ALL[0].old)


def test_the_page_is_that_of_the_list() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run `make checks`"


@pytest.mark.parametrize(
    ("code", "reason", "noticed"),
    [
        (1, "assert 1 == 2", True),
        (1, "surgesim.errors.EngineError: no usable result", True),
        (1, "NameError: name 'x' is not defined", False),
        (2, "assert 1 == 2", False),
    ],
)
def test_a_crash_is_no_notice(code: int, reason: str, noticed: bool) -> None:
    assert Trial(code=code, failed=(("tests/t.py::test", reason),), said="").noticed is noticed


def test_another_package_than_the_copys_is_told(tmp_path: Path) -> None:
    (tmp_path / "surgesim.py").write_text("")
    with pytest.raises(RuntimeError, match="another package"):
        tried(tmp_path, ["--version"])


@dataclass(frozen=True, slots=True)
class Sound:
    """A copy without a mutant, and what came of the named tests on it."""

    root: Path
    trial: Trial


def asked(request: pytest.FixtureRequest) -> list[Mutant]:
    """The mutants of this run, which may be of a few only."""
    items = [item for item in request.session.items if isinstance(item, pytest.Function)]
    chosen: list[Any] = [i.callspec.params["mutant"] for i in items if "trials" in i.fixturenames]
    return chosen or list(ALL)


@pytest.fixture(scope="module")
def sound(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Sound:
    """Every mutant is put into a copy of this one: what is compiled once serves them all."""
    root = copied(ROOT, tmp_path_factory.mktemp("sound") / "copy")
    tests = sorted({test for mutant in asked(request) for test in mutant.tests})
    return Sound(root, tried(root, tests, first_failure_only=False))


@pytest.fixture(scope="module")
def trials(request: pytest.FixtureRequest, sound: Sound) -> Iterator[dict[str, Future[Trial]]]:
    """The trials of all mutants asked for, a few at once."""

    def trial(mutant: Mutant) -> Trial:
        with TemporaryDirectory() as folder:
            root = copied(sound.root, Path(folder).resolve() / "copy", mutant=mutant)
            return tried(root, mutant.tests)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield {mutant.name: pool.submit(trial, mutant) for mutant in asked(request)}
        pool.shutdown(cancel_futures=True)


@pytest.mark.slow
def test_the_named_tests_pass_without_a_mutant(sound: Sound) -> None:
    assert sound.trial.code == 0, sound.trial.said


@pytest.mark.slow
@pytest.mark.parametrize("mutant", ALL, ids=lambda mutant: mutant.name)
def test_the_mutant_is_noticed(mutant: Mutant, trials: dict[str, Future[Trial]]) -> None:
    trial = trials[mutant.name].result()
    assert trial.noticed, trial.said
