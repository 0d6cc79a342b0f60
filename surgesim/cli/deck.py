"""``surgesim deck``: the circuit of a case as ngspice reads it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from surgesim.cli.ending import Command, echo_data
from surgesim.cli.options import file_argument, pick_case, say, set_option
from surgesim.errors import EngineError

if TYPE_CHECKING:
    from surgesim.network.waveforms import Window


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

    The case is run first, for its deck depends on what comes out: steps are finer where
    insulation flashes over, and the tail continues what happened in the front.
    """
    from surgesim.engine import deck
    from surgesim.scenario.file import load
    from surgesim.studies.run import built, deck_as_run

    case = pick_case(load(file, settings=dict(settings)), case_id)
    ((_, network),) = built([case])
    window: Window = "tail" if tail else "front"
    try:
        text = deck_as_run(network, window=window)
    except EngineError as error:
        say(f"surgesim: {error}; this is the deck as planned, which gave no result")
        text = deck(network, window=window)
    echo_data(text)
