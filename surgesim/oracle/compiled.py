"""Compiling to machine code, typed.

Compiled functions run without the interpreter's lock, so that cases run on threads. What was
compiled is kept beside the module, or in the user's cache, for the next process.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """The same function as machine code."""
    try:
        machine_code = numba.njit(nogil=True, cache=True)(function)
    except RuntimeError:  # nowhere to keep it: compiled anew by each process
        machine_code = numba.njit(nogil=True)(function)
    return cast(Callable[P, R], machine_code)
