"""``surgesim show``: the resolved form of a case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from surgesim.cli.ending import Command, echo_data, echo_json
from surgesim.cli.options import file_argument, json_option, pick_case, set_option

if TYPE_CHECKING:
    from surgesim.scenario.file import Case


@click.command("show", cls=Command)
@file_argument
@click.option("--case", "case_id", metavar="ID", help="Which case, such as c0007 [the first].")
@click.option("--list", "as_list", is_flag=True, help="List the cases instead.")
@set_option
@json_option
def command(
    file: Path,
    case_id: str | None,
    settings: list[tuple[str, str]],
    *,
    as_list: bool,
    as_json: bool,
) -> None:
    """Print a case of FILE with every default, assumption and card filled in.

    What is printed is a scenario file itself: reading it gives the same case. Remarks at its
    end say what earths work out to whose shape is given.
    """
    from surgesim.build.electrodes import as_remarks
    from surgesim.scenario.file import load
    from surgesim.scenario.written import as_yaml

    scenario_file = load(file, settings=dict(settings))
    if as_list:
        _list(scenario_file.all_cases, as_json=as_json)
        return
    case = pick_case(scenario_file, case_id)
    if as_json:
        echo_json(case.scenario.written())
        return
    remarks = as_remarks(case.scenario.earths, case.scenario.site.soil)
    echo_data(as_yaml(case.scenario.written()) + remarks)


def _list(cases: tuple[Case, ...], *, as_json: bool) -> None:
    if as_json:
        records = [{"id": c.id, "axes": c.axes, "surge": c.surge} for c in cases]
        echo_json(records)
        return
    for case in cases:
        levels = ", ".join(f"{name} {level}" for name, level in case.axes.items() if level)
        click.echo(f"{case.id}  {levels + '; ' if levels else ''}{case.surge}")
