"""One ngspice process for one deck, in a folder and a session of its own."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

from surgesim.engine.version import EngineInfo
from surgesim.errors import EngineError


class EngineStopped(EngineError):
    """A run was ended from outside; never tried again."""


class EngineTimeout(EngineError):
    """A run took longer than it was given; never tried again, a finer step takes longer.

    ``raw`` is what the engine had written of its vectors by then, ``limit`` what it went beyond.
    """

    def __init__(
        self,
        message: str,
        *,
        hint: str = "",
        log: str = "",
        deck: str = "",
        raw: bytes = b"",
        limit: str = "",
    ) -> None:
        super().__init__(message, hint=hint, log=log, deck=deck)
        self.raw = raw
        self.limit = limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a process left behind: its exit code, all it printed, and its file of vectors."""

    code: int
    log: str
    raw: bytes
    elapsed: float


class Leash:
    """Holds every process started under it, so that all of them can be ended at once."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: set[subprocess.Popen[bytes]] = set()
        self._stopped = False

    def start(self, command: list[str], folder: Path) -> subprocess.Popen[bytes]:
        """Start a process that ``stop`` will end; refused once stopped."""
        with self._lock:
            if self._stopped:
                raise EngineStopped("stopped before the run began")
            process = subprocess.Popen(
                command,
                cwd=folder,
                env={**os.environ, "LC_ALL": "C"},
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
            self._running.add(process)
        return process

    def release(self, process: subprocess.Popen[bytes]) -> None:
        """End a process, if it has not ended, with all it may have started; then forget it."""
        with self._lock:
            _kill_group(process)
            self._running.discard(process)
        process.wait()
        if process.stdout is not None:
            process.stdout.close()

    def stop(self) -> None:
        """End every process and let no other start."""
        with self._lock:
            self._stopped = True
            for process in self._running:
                _kill_group(process)

    @property
    def stopped(self) -> bool:
        """Whether no further process may start."""
        return self._stopped


_everyone = Leash()
"""Of runs that are on no other leash; nothing ever stops it."""

_leash: ContextVar[Leash | None] = ContextVar("leash", default=None)


@contextmanager
def on(leash: Leash) -> Iterator[None]:
    """Within the block, runs started by this thread are on ``leash``."""
    token = _leash.set(leash)
    try:
        yield
    finally:
        _leash.reset(token)


def run_deck(
    text: str, *, engine: EngineInfo, timeout: float, most_points: int | None = None
) -> Answer:
    """Run a deck in batch mode; nothing is left behind, whatever happens.

    It is ended after ``timeout`` s, and beyond ``most_points`` points. ``-n`` keeps the user's
    own ``.spiceinit`` out of it.
    """
    leash = _leash.get() or _everyone
    with tempfile.TemporaryDirectory(prefix="surgesim-") as name:
        folder = Path(name)
        (folder / "deck.cir").write_text(text, encoding="ascii")
        began = time.monotonic()
        command = [engine.path, "-n", "-b", "-r", "out.raw", "deck.cir"]
        process, raw = leash.start(command, folder), folder / "out.raw"
        try:
            output = _output(process, raw, timeout=timeout, most_points=most_points)
        except _Beyond as beyond:
            leash.release(process)
            raise EngineTimeout(
                f"ngspice was {beyond} and was ended",
                hint="give it more time, or lengthen the shortest line of the network",
                log=beyond.output.decode("utf-8", "replace"),
                deck=text,
                raw=raw.read_bytes() if raw.exists() else b"",
                limit=str(beyond),
            ) from None
        finally:
            leash.release(process)
        if leash.stopped:
            raise EngineStopped("stopped during the run")
        return Answer(
            code=process.returncode,
            log=output.decode("utf-8", "replace"),
            raw=raw.read_bytes() if raw.exists() else b"",
            elapsed=time.monotonic() - began,
        )


class _Beyond(Exception):
    """What a run went beyond, in words, and what it had printed by then."""

    def __init__(self, limit: str, output: bytes) -> None:
        super().__init__(limit)
        self.output = output


def _output(
    process: subprocess.Popen[bytes], raw: Path, *, timeout: float, most_points: int | None
) -> bytes:
    """All that a process prints until it ends. Raises _Beyond where it does not in time."""
    until = time.monotonic() + timeout
    pause = timeout if most_points is None else _GLANCE
    while True:
        try:
            output, _ = process.communicate(timeout=min(pause, until - time.monotonic()))
        except subprocess.TimeoutExpired as expired:
            output = expired.output or b""
            if time.monotonic() >= until:
                raise _Beyond(f"still running after {timeout:g} s", output) from None
        # one that has just ended too: what is accepted must not hang on how fast the machine is
        if most_points is not None and _points(raw) > most_points:
            raise _Beyond(f"still running after {most_points} points", output)
        if process.returncode is not None:
            return bytes(output)


_GLANCE = 0.2
"""Seconds between two looks at how much a run has written."""


def _points(raw: Path) -> int:
    """How many points a run has written so far, by the size of its file."""
    if not raw.exists():
        return 0
    with raw.open("rb") as file:
        head = file.read(_HEAD)
    width = _WIDTH.search(head)
    return 0 if width is None else raw.stat().st_size // (8 * int(width[1]))


_HEAD, _WIDTH = 400, re.compile(rb"No\. Variables:\s*(\d+)")


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    """Each process leads its own session, so its group's number is its own."""
    if process.poll() is None:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
