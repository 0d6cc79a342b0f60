"""surgesim: which surge voltage reaches each piece of equipment, and with what margin.

``load`` a scenario file, take its ``cases()``, ``run`` them, ``measure`` each result; or let
``study`` do all of that and hand back the findings. Everything here is loaded when it is first
used, so that importing surgesim costs nothing.

>>> from surgesim import load, run, measure
>>> file = load("scenarios/brackenmoss-dairy.yaml")
>>> for result in run(file.cases(chosen={"fitted": ["both"]})):
...     findings = measure(result)
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from surgesim.build import build
    from surgesim.errors import EngineError, InputError, Problem, SurgesimError
    from surgesim.scenario.file import Case, ScenarioFile, load, loads
    from surgesim.studies.crosscheck import crosscheck, crosschecked
    from surgesim.studies.run import Result, measure, run
    from surgesim.studies.study import study
    from surgesim.studies.sweep_results import sweep

__version__ = "0.1.0"

_HOMES = {
    "build": "surgesim.build",
    "EngineError": "surgesim.errors",
    "InputError": "surgesim.errors",
    "Problem": "surgesim.errors",
    "SurgesimError": "surgesim.errors",
    "Case": "surgesim.scenario.file",
    "ScenarioFile": "surgesim.scenario.file",
    "load": "surgesim.scenario.file",
    "loads": "surgesim.scenario.file",
    "crosscheck": "surgesim.studies.crosscheck",
    "crosschecked": "surgesim.studies.crosscheck",
    "Result": "surgesim.studies.run",
    "measure": "surgesim.studies.run",
    "run": "surgesim.studies.run",
    "study": "surgesim.studies.study",
    "sweep": "surgesim.studies.sweep_results",
}

__all__ = [
    "Case",
    "EngineError",
    "InputError",
    "Problem",
    "Result",
    "ScenarioFile",
    "SurgesimError",
    "build",
    "crosscheck",
    "crosschecked",
    "load",
    "loads",
    "measure",
    "run",
    "study",
    "sweep",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'surgesim' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
