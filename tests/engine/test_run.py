"""Processes: their time-out, their end, what they leave behind, and whether they are believed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from surgesim.engine import deck, engine_version, map_networks, simulate
from surgesim.engine.accept import Refused, accept
from surgesim.engine.run import Answer, EngineStopped, EngineTimeout, Leash, on, run_deck
from surgesim.engine.windows import front_plan
from surgesim.engine.writer import CLOSE, LESS_CLOSE, OPTIONS, Deck, write_deck
from surgesim.errors import EngineError, EngineMissing
from surgesim.network.circuit import Network
from surgesim.network.elements import GROUND, CurrentSource, Insulation, Resistor, VoltageSource
from surgesim.physics.waveforms import Step

MakeNetwork = Callable[..., Network]
MakeEngine = Callable[..., Path]

SLOW = """
sleep 60 &
echo $! >> {pids}
echo $$ >> {pids}
wait
"""


def running(pid: int) -> bool:
    """Whether a process is there and not merely waiting to be buried."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def gone(pids: Path) -> bool:
    """Whether all processes noted in a file are gone, given a moment."""
    deadline = time.monotonic() + 5.0
    numbers = [int(word) for word in pids.read_text().split()]
    while any(map(running, numbers)) and time.monotonic() < deadline:
        time.sleep(0.02)
    return bool(numbers) and not any(map(running, numbers))


def appears(path: Path, *, lines: int) -> bool:
    deadline = time.monotonic() + 20.0
    while time.monotonic() < deadline:
        if path.exists() and len(path.read_text().split()) >= lines:
            return True
        time.sleep(0.02)
    return False


@pytest.fixture
def network(injected: MakeNetwork) -> Network:
    return injected(
        Step(peak=1.0, rise=1e-6),
        Resistor(name="rods", a="start", b=GROUND, resistance=10.0),
        title="small",
    )


@pytest.fixture
def scratch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Where temporary folders are made; must be empty again afterwards."""
    folder = tmp_path / "scratch"
    folder.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(folder))
    yield folder
    assert list(folder.iterdir()) == []


def test_nothing_is_left_behind(network: Network, scratch: Path) -> None:
    simulate(network, window="front")
    assert list(scratch.iterdir()) == []


def test_a_timeout_ends_the_whole_group(
    network: Network, fake_engine: MakeEngine, tmp_path: Path, scratch: Path
) -> None:
    pids = tmp_path / "pids"
    fake_engine(SLOW.format(pids=pids))
    began = time.monotonic()
    with pytest.raises(EngineTimeout, match=r"still running after 0\.5 s"):
        simulate(network, window="front", timeout=0.5)
    assert time.monotonic() - began < 10.0
    assert gone(pids)
    assert list(scratch.iterdir()) == []


def test_a_run_is_ended_beyond_its_points(network: Network) -> None:
    text = deck(network, window="tail")
    complete = run_deck(text, engine=engine_version(), timeout=60, most_points=100_000)
    assert complete.code == 0
    with pytest.raises(EngineTimeout) as caught:
        run_deck(text, engine=engine_version(), timeout=60, most_points=100)
    assert caught.value.limit == "still running after 100 points"
    assert caught.value.raw


def test_a_stopped_leash_ends_its_runs_and_no_others(
    network: Network, fake_engine: MakeEngine, tmp_path: Path, scratch: Path
) -> None:
    pids = tmp_path / "pids"
    fake_engine(SLOW.format(pids=pids))
    leash, errors = Leash(), []

    def job() -> None:
        with on(leash):
            try:
                simulate(network, window="front")
            except EngineError as error:
                errors.append(error)

    threads = [threading.Thread(target=job) for _ in range(2)]
    for thread in threads:
        thread.start()
    assert appears(pids, lines=4)
    leash.stop()
    for thread in threads:
        thread.join(timeout=10.0)
    assert [type(error) for error in errors] == [EngineStopped, EngineStopped]
    assert gone(pids)
    with on(leash), pytest.raises(EngineStopped):
        simulate(network, window="front")
    assert list(scratch.iterdir()) == []


def test_outcomes_come_as_they_finish(network: Network) -> None:
    peaks = [3.0, 1.0, 2.0, 5.0]
    networks = [replace(network, waveform=Step(peak=p, rise=1e-6), title=f"{p}") for p in peaks]
    outcomes = list(map_networks(networks, lambda n: simulate(n, window="front"), workers=2))
    assert sorted(outcome.job.title for outcome in outcomes) == ["1.0", "2.0", "3.0", "5.0"]
    assert all(outcome.result is not None and outcome.error is None for outcome in outcomes)


def test_one_failure_is_one_outcome(network: Network) -> None:
    broken = replace(network, elements=network.elements[:1], title="broken")
    outcomes = list(
        map_networks([network, broken, network], lambda n: simulate(n, window="front"), workers=2)
    )
    failed = [outcome for outcome in outcomes if outcome.error is not None]
    assert [outcome.job.title for outcome in failed] == ["broken"]
    assert len(outcomes) == 3


def test_a_bug_in_a_worker_is_not_swallowed() -> None:
    def worker(job: int) -> int:
        return 1 // job

    with pytest.raises(ZeroDivisionError):
        list(map_networks([1, 0, 2], worker, workers=2))


def test_jobs_are_taken_as_they_are_needed() -> None:
    taken: list[int] = []

    def jobs() -> Iterator[int]:
        for k in range(1000):
            taken.append(k)
            yield k

    outcomes = map_networks(jobs(), lambda k: k, workers=2)
    next(outcomes)
    assert len(taken) < 10
    outcomes.close()  # type: ignore[attr-defined]


def test_closing_ends_what_runs(
    network: Network, fake_engine: MakeEngine, tmp_path: Path, scratch: Path
) -> None:
    pids = tmp_path / "pids"
    fake_engine(SLOW.format(pids=pids))

    def worker(job: int) -> object:
        if job:
            return simulate(network, window="front")
        assert appears(pids, lines=2)
        return None

    outcomes = map_networks([0, 1, 2, 3, 4], worker, workers=2)
    assert next(outcomes).job == 0
    outcomes.close()  # type: ignore[attr-defined]
    assert gone(pids)
    assert list(scratch.iterdir()) == []


INTERRUPTED = """
    import sys
    from surgesim.engine import map_networks, simulate
    from surgesim.network.circuit import Network
    from surgesim.network.elements import GROUND, CurrentSource, Insulation, Resistor, VoltageSource
    from surgesim.physics.waveforms import Step

    surge = Step(peak=1.0, rise=1e-6)
    network = Network(
        title="small",
        elements=(
            CurrentSource(name="surge", a=GROUND, b="start", waveform=surge),
            Resistor(name="rods", a="start", b=GROUND, resistance=10.0),
        ),
        waveform=surge,
    )
    try:
        if sys.argv[1] == "pool":
            for outcome in map_networks([network] * 6, lambda n: simulate(n, window="front"),
                                        workers=2):
                print("finished", outcome.error)
        else:
            simulate(network, window="front")
    except KeyboardInterrupt:
        print("interrupted")
        sys.exit(130)
"""


@pytest.mark.parametrize(("how", "count"), [("pool", 4), ("alone", 2)])
def test_an_interrupt_leaves_nothing_behind(
    fake_engine: MakeEngine, tmp_path: Path, how: str, count: int
) -> None:
    pids, folder = tmp_path / "pids", tmp_path / "temporary"
    folder.mkdir()
    fake_engine(SLOW.format(pids=pids))
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(INTERRUPTED), how],
        env={**os.environ, "TMPDIR": str(folder)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert appears(pids, lines=count)
    process.send_signal(signal.SIGINT)
    printed, complained = process.communicate(timeout=20)
    assert (process.returncode, printed, complained) == (130, "interrupted\n", "")
    assert gone(pids)
    assert list(folder.iterdir()) == []


def failing_first(tmp_path: Path, how_often: int, complaint: str) -> str:
    """An engine that complains a few times before it is the real one."""
    real = engine_version().path
    return textwrap.dedent(f"""
        echo x >> {tmp_path}/runs
        if [ $(wc -l < {tmp_path}/runs) -le {how_often} ]; then echo "{complaint}"; exit 1; fi
        exec {real} "$@"
        """)


def test_a_failed_run_is_tried_at_half_the_step(
    network: Network, fake_engine: MakeEngine, tmp_path: Path
) -> None:
    planned = front_plan(network).step
    fake_engine(failing_first(tmp_path, 1, "doAnalyses: TRAN:  Timestep too small"))
    waves = simulate(network, window="front", keep=tmp_path / "kept")
    assert waves.step == pytest.approx(planned / 2)
    (note,) = waves.notes
    # what an installer reads: the engine's options stand in the decks that were kept
    assert (
        note == "solved at attempt 2; the one before was not usable: ngspice reported 'too small'"
    )
    kept = sorted(path.name for path in (tmp_path / "kept").iterdir())
    assert kept == ["front-attempt-2.cir", "front-attempt-2.log", "front.cir", "front.log"]


def test_what_error_control_does_not_get_through_is_run_without(
    network: Network, fake_engine: MakeEngine, tmp_path: Path
) -> None:
    gap = Insulation(name="gap", a="start", b=GROUND, level=1e6)
    watched = replace(network, elements=(*network.elements, gap))
    fake_engine(failing_first(tmp_path, 2, "doAnalyses: TRAN:  Timestep too small"))
    waves = simulate(watched, window="front", stop=1e-6, keep=tmp_path / "kept")
    kept = [(tmp_path / "kept" / name).read_text() for name in ("front.cir", "front-attempt-2.cir")]
    assert CLOSE in kept[0]
    assert LESS_CLOSE in kept[1]
    assert f".tran {gap.lag / 4:.10g} " in kept[1]
    assert waves.options == OPTIONS["front"]
    assert waves.step == pytest.approx(gap.lag / 8)
    (note,) = waves.notes
    assert note == (
        "solved at attempt 3; the 2 before were not usable: ngspice reported 'too small'"
    )


def test_a_false_state_at_rest_is_sought_the_other_way(
    injected: MakeNetwork, fake_engine: MakeEngine, tmp_path: Path
) -> None:
    network = injected(
        Step(peak=1.0, rise=1e-6),
        VoltageSource(name="battery", a="start", b="foot", offset=600.0),
        Resistor(name="rods", a="foot", b=GROUND, resistance=10.0),
    )
    real = engine_version().path
    # an engine that comes out a hundred volts off, unless asked to raise the sources
    fake_engine(f"""
        if ! grep -q "gminsteps=0" deck.cir; then
            echo "Note: Dynamic gmin stepping completed"; sed -i 's/600/700/' deck.cir
        fi
        exec {real} "$@"
        """)
    waves = simulate(network, window="front", stop=1e-7, keep=tmp_path / "kept")
    assert waves.at("start")[0] == pytest.approx(600.0, rel=1e-6)
    assert waves.options.endswith("gminsteps=0")
    (note,) = waves.notes
    assert note == (
        "solved at attempt 2; the one before was not usable:"
        " 'start' did not begin at rest but 1e+02 V from it"
    )


def test_giving_up_says_what_was_tried(
    network: Network, fake_engine: MakeEngine, tmp_path: Path
) -> None:
    complaint = "Warning: singular matrix:  check node n1_start"
    fake_engine(failing_first(tmp_path, 99, complaint))
    with pytest.raises(EngineError) as caught:
        simulate(network, window="front")
    error = caught.value
    assert "no usable result for 'small', front window" in error.message
    assert error.message.count("steps of") == 3
    assert "itl4=100" not in error.message
    assert "itl4=100" in error.deck
    assert "check node 'start'" in error.message
    assert "Suspected: (1) no state at rest" in error.message
    assert "the supply, its reference" in error.hint
    assert complaint in error.log
    assert ".tran" in error.deck


def test_a_kept_deck_is_the_deck(network: Network, tmp_path: Path) -> None:
    simulate(network, window="front", keep=tmp_path / "kept")
    kept = (tmp_path / "kept" / "front.cir").read_text(encoding="ascii")
    assert kept == deck(network, window="front")


@pytest.fixture(scope="module")
def answered() -> tuple[Deck, Answer]:
    surge = Step(peak=1.0, rise=1e-6)
    resistor = Resistor(name="rods", a="start", b=GROUND, resistance=10.0)
    source = CurrentSource(name="surge", a=GROUND, b="start", waveform=surge)
    network = Network(title="small", elements=(source, resistor), waveform=surge)
    written = write_deck(network, front_plan(network))
    return written, run_deck(written.text, engine=engine_version(), timeout=60.0)


def test_a_good_answer_is_accepted(answered: tuple[Deck, Answer]) -> None:
    written, answer = answered
    vectors = accept(answer, written)
    assert vectors["v(n1_start)"][-1] == pytest.approx(10.0)


@pytest.mark.parametrize(
    "word",
    [
        "Warning: inductance matrix is not positive definite",
        "run simulation(s) aborted",
        "Error on line 3",
        "Fatal error: out of memory",
        "Timestep too small; time = 1e-9",
        "Warning: singular matrix:  check node 3",
    ],
)
def test_complaints_are_refused(answered: tuple[Deck, Answer], word: str) -> None:
    written, answer = answered
    with pytest.raises(Refused, match="ngspice reported"):
        accept(replace(answer, log=f"{answer.log}\n{word}\n"), written)


def doctored(answer: Answer, change: Callable[[np.ndarray], np.ndarray]) -> Answer:
    """An answer whose table of doubles was changed, with the header kept true."""
    header, mark, body = answer.raw.partition(b"\nBinary:\n")
    table = np.frombuffer(body, dtype="<f8").reshape(-1, 2).copy()
    count = len(table)
    changed = change(table)
    header = header.replace(b"No. Points: %d" % count, b"No. Points: %d" % len(changed))
    return replace(answer, raw=header + mark + changed.tobytes())


def with_nan(table: np.ndarray) -> np.ndarray:
    table[len(table) // 2, 1] = np.nan
    return table


def shrunk(table: np.ndarray) -> np.ndarray:
    middle = len(table) // 2
    table[middle, 0] = table[middle - 1, 0] * (1 + 1e-9)
    return table


def backwards(table: np.ndarray) -> np.ndarray:
    table[5, 0] = table[3, 0]
    return table


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (with_nan, "is not finite throughout"),
        (backwards, "does not run forward"),
        (lambda table: table[:-3], "runs from 0 s to"),
        (lambda table: table[1:], "runs from .* s to"),
        (lambda table: table[:1], "does not run forward"),
        (shrunk, "its steps shrank to"),
    ],
)
def test_incomplete_answers_are_refused(
    answered: tuple[Deck, Answer], change: Callable[[np.ndarray], np.ndarray], message: str
) -> None:
    written, answer = answered
    with pytest.raises(Refused, match=message):
        accept(doctored(answer, change), written)


def test_a_step_to_a_corner_may_be_as_short_as_it_comes_out(answered: tuple[Deck, Answer]) -> None:
    written, answer = answered
    short = doctored(answer, shrunk)
    time = np.frombuffer(short.raw.partition(b"\nBinary:\n")[2], dtype="<f8")[::2]
    landed = float(time[len(time) // 2])
    accept(short, replace(written, corners=(0.0, landed)))
    with pytest.raises(Refused, match="its steps shrank to"):
        accept(short, replace(written, corners=(0.0, landed + 3e-6 * written.plan.step)))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"code": 1}, "exit code 1"),
        ({"raw": b""}, "no binary part"),
        ({"raw": b"Title: x\nBinary:\n"}, "holds 'nothing'"),
    ],
)
def test_broken_answers_are_refused(
    answered: tuple[Deck, Answer], change: dict[str, object], message: str
) -> None:
    written, answer = answered
    with pytest.raises(Refused, match=message):
        accept(replace(answer, **change), written)  # type: ignore[arg-type]


def test_a_file_cut_short_is_refused(answered: tuple[Deck, Answer]) -> None:
    written, answer = answered
    for raw, message in (
        (answer.raw[:-8], "cut short"),
        (answer.raw.replace(b"Flags: real", b"Flags: complex"), "real numbers"),
        (answer.raw.replace(b"Transient Analysis", b"Operating Point"), "'Operating Point'"),
    ):
        with pytest.raises(Refused, match=message):
            accept(replace(answer, raw=raw), written)


def test_a_vector_that_is_missing_is_named(answered: tuple[Deck, Answer]) -> None:
    written, answer = answered
    with pytest.raises(Refused, match="the answer lacks v"):
        accept(replace(answer, raw=answer.raw.replace(b"v(n1_start)", b"v(n1_stray)")), written)


def test_the_engine_is_found_and_new_enough() -> None:
    assert int(engine_version().version.split(".")[0]) >= 36


def test_a_missing_engine_says_what_to_install(
    network: Network, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURGESIM_NGSPICE", "/nowhere/ngspice")
    with pytest.raises(EngineMissing, match="apt-get install ngspice") as caught:
        simulate(network, window="front")
    assert "'/nowhere/ngspice'" in caught.value.message


def test_an_engine_off_the_path_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("SURGESIM_NGSPICE", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(EngineMissing, match="ngspice was not found"):
        engine_version()


@pytest.mark.parametrize(
    ("says", "message"),
    [
        ("** ngspice-35 : Circuit level simulation program", "is ngspice 35; version 36 or newer"),
        ("GNU coreutils 9.1", "does not say that it is ngspice"),
    ],
)
def test_an_unfit_engine_is_refused(fake_engine: MakeEngine, says: str, message: str) -> None:
    fake_engine("", says=says)
    with pytest.raises(EngineMissing, match=message):
        engine_version()


def test_an_engine_that_does_not_start_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    program = tmp_path / "ngspice-broken"
    program.write_bytes(b"\x7fELF nonsense")
    program.chmod(0o755)
    monkeypatch.setenv("SURGESIM_NGSPICE", str(program))
    with pytest.raises(EngineMissing, match="does not start"):
        engine_version()


def test_the_users_own_start_file_is_not_read(
    network: Network, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / ".spiceinit").write_text(f"shell touch {tmp_path}/written\n", encoding="ascii")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    simulate(network, window="front")
    assert not (tmp_path / "written").exists()
