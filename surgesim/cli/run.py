"""``surgesim run``: every wiring of a file, in detail."""

from __future__ import annotations

from typing import Any

import click

from surgesim.cli.ending import Command
from surgesim.cli.options import study_options
from surgesim.cli.studying import Request, carry_out


@click.command("run", cls=Command)
@study_options
@click.pass_context
def command(ctx: click.Context, /, **asked: Any) -> None:
    """Run FILE and print each wiring's terminals, arresters and earths in detail.

    With alternatives in the file every one is run; --choose picks one:

    \b
        surgesim run FILE --choose fitted=both --choose 'card=class II'

    Ends with 0 when every terminal of every wiring holds, with 1 when one does not.
    """
    from surgesim.report.tables import render

    ctx.exit(carry_out(Request(**asked), command="run", render=render))
