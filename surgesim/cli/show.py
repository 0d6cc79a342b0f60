"""``surgesim show``: the resolved form of a case."""

from __future__ import annotations

from pathlib import Path

import click

from surgesim.cli.options import Command, file_argument, json_option, say, set_option


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

    What is printed is a scenario file itself: reading it gives the same case.
    """
    from surgesim.scenario.file import load
    from surgesim.scenario.written import as_yaml

    scenario_file = load(file, settings=dict(settings))
    if as_list:
        _list(scenario_file.all_cases, as_json=as_json)
        return
    case = scenario_file.case(case_id) if case_id else scenario_file.all_cases[0]
    if case_id is None and len(scenario_file.all_cases) > 1:
        number = len(scenario_file.all_cases)
        say(f"case {case.id} of {number}; --list shows them, --case ID prints another")
    if as_json:
        import json

        click.echo(json.dumps(case.scenario.written(), indent=1, ensure_ascii=False))
        return
    click.echo(as_yaml(case.scenario.written()), nl=False)


def _list(cases: tuple[object, ...], *, as_json: bool) -> None:
    from surgesim.scenario.file import Case

    known = [case for case in cases if isinstance(case, Case)]
    if as_json:
        import json

        records = [{"id": c.id, "axes": c.axes, "surge": c.surge} for c in known]
        click.echo(json.dumps(records, indent=1, ensure_ascii=False))
        return
    for case in known:
        levels = ", ".join(f"{name} {level}" for name, level in case.axes.items() if level)
        click.echo(f"{case.id}  {levels + '; ' if levels else ''}{case.surge}")
