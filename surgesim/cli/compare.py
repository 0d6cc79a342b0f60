"""``surgesim compare``: the alternatives of a file against each other."""

from __future__ import annotations

from typing import Any

import click

from surgesim.cli.ending import Command
from surgesim.cli.options import study_options
from surgesim.cli.studying import Request, carry_out


@click.command("compare", cls=Command)
@study_options
@click.option(
    "--require", metavar="NAME", multiple=True,
    help="This alternative must hold: a level, or several joined by ' + '; may be repeated.",
)  # fmt: skip
@click.pass_context
def command(ctx: click.Context, /, require: tuple[str, ...], **asked: Any) -> None:
    """Compare the alternatives of FILE: which holds, which does not, and why.

    Ends with 0 when at least one alternative holds at every terminal (and each that --require
    names), with 1 when none does.
    """
    from surgesim.report.comparison import render

    request = Request(**asked)
    ctx.exit(carry_out(request, command="compare", render=render, require=require))
