"""``surgesim deck``: the circuit of a case as ngspice reads it."""

from __future__ import annotations

from pathlib import Path

import click

from surgesim.cli.ending import Command
from surgesim.cli.options import file_argument, pick_case, set_option


@click.command("deck", cls=Command)
@file_argument
@click.option("--case", "case_id", metavar="ID", help="Which case, such as c0007 [the first].")
@click.option(
    "--tail", is_flag=True, help="The coarse run over the whole surge instead of the fine front."
)
@set_option
def command(
    file: Path, case_id: str | None, settings: list[tuple[str, str]], *, tail: bool
) -> None:
    """Print the deck of a case of FILE; `ngspice -b` on it prints the peaks.

    \b
        surgesim deck FILE --case c0007 > a.cir && ngspice -b a.cir
    """
    from surgesim.build import build
    from surgesim.engine import deck
    from surgesim.scenario.file import load

    case = pick_case(load(file, settings=dict(settings)), case_id)
    click.echo(deck(build(case.scenario), window="tail" if tail else "front"), nl=False)
