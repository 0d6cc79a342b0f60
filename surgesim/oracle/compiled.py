"""Compiling to machine code, typed.

Compiled functions run without the interpreter's lock, so that cases run on threads. What was
compiled is kept beside the module, or in the user's cache, for the next process.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

import numba

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """The same function as machine code."""
    try:
        machine_code = numba.njit(nogil=True, cache=True)(function)
    except RuntimeError:  # nowhere to keep it: compiled anew by each process
        machine_code = numba.njit(nogil=True)(function)
    else:
        renew_with(machine_code, Path(__file__).parent)
        forget_unreadable(machine_code)
    return cast(Callable[P, R], machine_code)


def renew_with(machine_code: Any, folder: Path) -> None:
    """Let what is kept of a function be of all the sources in a folder, not of its own alone.

    Machine code holds the code of every function it calls, also of those in other files.
    """
    kept = machine_code._cache._cache_file
    kept._source_stamp = tuple(
        (path.name, path.stat().st_mtime_ns, path.stat().st_size)
        for path in sorted(folder.glob("*.py"))
    )


def forget_unreadable(machine_code: Any) -> None:
    """Drop what is kept of a function where it names a record that another version had.

    Numba reads what it keeps before it looks whether it is of this source, and then fails.
    """
    kept = machine_code._cache._cache_file
    try:
        kept.load(None)
    except (AttributeError, ImportError):
        kept.flush()
