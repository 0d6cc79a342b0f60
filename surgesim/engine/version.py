"""Finding ngspice and asking its version."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from functools import lru_cache

from surgesim.errors import EngineMissing

VARIABLE = "SURGESIM_NGSPICE"
"""Environment variable with the path of ngspice, for one that is not on PATH."""

OLDEST = 36
"""Oldest major version taken."""

_INSTALL = f"install it with `apt-get install ngspice`, or set {VARIABLE} to its path"


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineInfo:
    """Where ngspice is and which version it says it is, ``39``."""

    path: str
    version: str


def engine_version() -> EngineInfo:
    """The ngspice that runs would use; :class:`EngineMissing` when there is none fit."""
    wanted = os.environ.get(VARIABLE) or "ngspice"
    path = shutil.which(wanted)
    if path is None:
        raise EngineMissing(f"ngspice was not found: no program {wanted!r}", hint=_INSTALL)
    return _asked(path)


@lru_cache(maxsize=8)
def _asked(path: str) -> EngineInfo:
    try:
        answer = subprocess.run(
            [path, "--version"],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=20,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise EngineMissing(f"{path} does not start: {error}", hint=_INSTALL) from error
    found = re.search(r"ngspice-(\d+)(?:\.\d+)*", answer.stdout + answer.stderr)
    if found is None:
        raise EngineMissing(f"{path} does not say that it is ngspice", hint=_INSTALL)
    if int(found[1]) < OLDEST:
        raise EngineMissing(
            f"{path} is ngspice {found[1]}; version {OLDEST} or newer is needed", hint=_INSTALL
        )
    return EngineInfo(path=path, version=found[0].removeprefix("ngspice-"))
