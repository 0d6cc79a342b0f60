"""What the benchmarks share: a clock, and on what machine and versions they ran."""

from __future__ import annotations

import os
import platform
import sys
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from importlib.metadata import version
from pathlib import Path

from surgesim import __version__
from surgesim.engine import engine_version
from surgesim.reading.data import data_folder

DAIRY = data_folder("scenarios") / "brackenmoss-dairy.yaml"

Row = tuple[str, str]


class Clock:
    """Adds up seconds by name: ``with clock("build"): ...``."""

    def __init__(self) -> None:
        self.seconds: defaultdict[str, float] = defaultdict(float)

    @contextmanager
    def __call__(self, name: str) -> Iterator[None]:
        began = time.perf_counter()
        yield
        self.seconds[name] += time.perf_counter() - began


def heading(title: str) -> None:
    """The benchmark's name, the machine and the versions."""
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"\n{title}")
    print("=" * len(title))
    print(f"{_processor()}, {os.cpu_count()} processors, load {load:.1f}; {platform.platform()}")
    print(
        f"surgesim {__version__}, ngspice {engine_version().version},"
        f" Python {sys.version.split()[0]}, numpy {version('numpy')}\n"
    )


def table(rows: Iterable[Row]) -> None:
    """Two columns, aligned."""
    rows = list(rows)
    width = max(len(name) for name, _ in rows)
    for name, value in rows:
        print(f"  {name:<{width}}  {value}")
    print()


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()
