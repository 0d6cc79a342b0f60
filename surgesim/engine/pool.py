"""Many jobs at once: threads, each waiting on one ngspice process."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from itertools import islice
from typing import Generic, TypeVar

from surgesim.engine.run import Leash, on
from surgesim.errors import SurgesimError

Job = TypeVar("Job")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(Generic[Job, Result]):
    """One job and either its ``result`` or the ``error`` that took its place."""

    job: Job
    result: Result | None = None
    error: SurgesimError | None = None


def map_networks(
    jobs: Iterable[Job],
    worker: Callable[[Job], Result],
    *,
    workers: int | None = None,
) -> Iterator[Outcome[Job, Result]]:
    """Apply ``worker`` to every job, yielding each outcome as it finishes.

    A deliberate error of one job is its outcome; any other exception ends all. When the
    iteration ends early (an interrupt, an exception, ``close()``), every ngspice process
    the workers started is ended and its files are gone before this returns.
    ``workers`` is by default the number of processors.
    """
    leash = Leash()
    count = workers or os.cpu_count() or 1
    waiting = iter(jobs)

    def outcome(job: Job) -> Outcome[Job, Result]:
        with on(leash):
            try:
                return Outcome(job=job, result=worker(job))
            except SurgesimError as error:
                return Outcome(job=job, error=error)

    with ThreadPoolExecutor(count, thread_name_prefix="surgesim") as threads:
        running: set[Future[Outcome[Job, Result]]] = set()
        try:
            while True:
                free = 2 * count - len(running)
                running |= {threads.submit(outcome, job) for job in islice(waiting, free)}
                if not running:
                    return
                done, running = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    yield future.result()
        finally:
            # nothing to end when all went well; otherwise no queued job may begin either
            leash.stop()
            for future in running:
                future.cancel()
