"""What a study will compare, told from its file before anything is run."""

from __future__ import annotations

from collections.abc import Sequence

from surgesim.findings.plain import plain
from surgesim.scenario.factors import ALTERNATIVES
from surgesim.scenario.file import Case, ScenarioFile
from surgesim.studies.alternatives import alternatives, group
from surgesim.studies.info import AxisInfo
from surgesim.studies.verdict import named


def axes_of(file: ScenarioFile) -> dict[str, AxisInfo]:
    """The factors of a file with their roles and levels."""
    return {
        factor.name: AxisInfo(
            role="alternative" if factor.role == ALTERNATIVES else "worst of",
            levels=tuple(level.name for level in factor.levels),
        )
        for factor in file.factors
    }


def check_required(file: ScenarioFile, cases: Sequence[Case], require: Sequence[str]) -> None:
    """Raise InputError for a name in ``require`` that stands for none of the alternatives.

    The same names are looked up in the findings once they are there; a wrong one had better be
    told before an hour of running than after it.
    """
    axes = axes_of(file)
    choices = group(axes, [case.axes for case in cases])
    entries = [{"axes": dict(zip(alternatives(axes), c, strict=True))} for c in choices]
    for name in require:
        named({"axes": plain(axes), "summary": entries}, name)
