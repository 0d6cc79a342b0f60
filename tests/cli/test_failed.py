"""What a case without a result leaves behind: deck, log, reason, and where they are."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from surgesim.engine import simulation

Invoke = Callable[..., Result]
MakeEngine = Callable[..., Path]

TOO_STRICT = "reltol=1e-12 abstol=1e-20 vntol=1e-20 chgtol=1e-30 trtol=1e-6 method=trap"
ONE_FAILS = 'if grep -q "arrester box" deck.cir; then exec ngspice "$@"; fi; echo "Fatal"; exit 1'


def names(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.*"))


def test_a_stalled_engine_names_the_suspect_and_keeps_the_decks(
    shed: Path, invoke: Invoke, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The real engine, brought to stall by asking for more digits than there are."""
    monkeypatch.setattr(simulation, "planned_options", lambda *_: TOO_STRICT)
    monkeypatch.setattr(simulation, "OPTIONS", {"front": TOO_STRICT, "tail": TOO_STRICT})
    out = tmp_path / "out"
    answer = invoke("compare", shed, "--choose", "fitted=none", "--out", out)
    assert answer.exit_code == 3
    assert f"1 case without a result: decks, logs and reasons in {out}/failed" in answer.stderr
    attempts = ["front", "front-attempt-2", "front-attempt-3"]
    kept = [f"c0001/{stem}.{end}" for stem in attempts for end in ("cir", "log")]
    assert names(out / "failed") == sorted([*kept, "c0001/reason.txt"])
    assert "too small" in (out / "failed/c0001/front.log").read_text()
    reason = (out / "failed/c0001/reason.txt").read_text()
    for words in ("fitted: none", "surge: induced", "It came to", "Suspected: ", "Tried: steps of"):
        assert words in reason
    printed = " ".join(answer.stdout.split())
    for words in ("fitted none; induced", "Suspected: ", "Tried: steps of", "Try: "):
        assert words in printed


def test_without_a_folder_they_are_in_a_fresh_one_that_is_named(
    shed: Path, invoke: Invoke, fake_engine: MakeEngine
) -> None:
    """One case fails, the other goes on and leaves nothing."""
    fake_engine(ONE_FAILS)
    answer = invoke("compare", shed, "--json")
    assert answer.exit_code == 3
    found = re.search(r"1 case without a result: decks, logs and reasons in (\S+)", answer.stderr)
    assert found is not None
    folder = Path(found[1])
    assert [path.name for path in folder.iterdir()] == ["c0001"]
    assert "c0001/front.cir" in names(folder)
    again = invoke("compare", shed, "--json")
    assert f"in {folder}\n" not in again.stderr, "never the same folder twice"
    assert folder.exists()


def test_a_run_that_was_ended_keeps_its_deck(
    shed: Path, invoke: Invoke, fake_engine: MakeEngine, tmp_path: Path
) -> None:
    fake_engine("sleep 60")
    out = tmp_path / "out"
    words = ("--timeout", "0.3", "--choose", "fitted=box", "--out", out)
    assert invoke("run", shed, *words).exit_code == 3
    # insulation may fire: the run under error control, and the one with less of it, come first
    attempts = ["front", "front-attempt-2", "front-attempt-3"]
    kept = [f"c0002/{stem}.{end}" for stem in attempts for end in ("cir", "log")]
    assert names(out / "failed") == sorted([*kept, "c0002/reason.txt"])
    assert "still running after 0.3 s" in (out / "failed/c0002/reason.txt").read_text()


def test_a_folder_with_failed_cases_can_be_overwritten(
    shed: Path, invoke: Invoke, fake_engine: MakeEngine, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    fake_engine(ONE_FAILS)
    out = tmp_path / "out"
    assert invoke("compare", shed, "--out", out).exit_code == 3
    monkeypatch.undo()
    assert invoke("compare", shed, "--out", out, "--overwrite").exit_code == 0
    assert not (out / "failed").exists()
