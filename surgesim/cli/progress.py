"""Progress that counts finished cases: a bar for a person, a line a minute for a log."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from surgesim.cli.options import interactive, say

SECONDS_BETWEEN_LINES = 60.0


class Advance(Protocol):
    """Called with the number of cases that have finished."""

    def __call__(self, finished: int) -> None: ...


@contextmanager
def progress(total: int, *, quiet: bool) -> Iterator[Advance]:
    """Shows how many of ``total`` cases have finished."""
    if quiet:
        yield _no_one_watches
    elif interactive():
        yield from _bar(total)
    else:
        yield _lines(total)


def _no_one_watches(finished: int) -> None:
    pass


def _bar(total: int) -> Iterator[Advance]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), "cases,", TimeRemainingColumn(), "left")
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=total)
        yield lambda finished: bar.update(task, completed=finished)


def _lines(total: int) -> Advance:
    started = last = time.monotonic()

    def advance(finished: int) -> None:
        nonlocal last
        now = time.monotonic()
        if finished < total and now - last < SECONDS_BETWEEN_LINES:
            return
        last = now
        left = (now - started) / finished * (total - finished) if finished else 0.0
        tail = f", about {left:.0f} s left" if finished < total else f" in {now - started:.0f} s"
        say(f"{finished} of {total} cases{tail}")

    return advance
