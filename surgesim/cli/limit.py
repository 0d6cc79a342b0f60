"""``surgesim limit``: how far a length, a lead, a resistance may go."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from surgesim.cli.ending import NO_RESULT, Command, closed_pipe_is_fine, echo_json
from surgesim.cli.options import (
    assignments,
    choose_option,
    chosen_levels,
    file_argument,
    json_option,
    quiet_option,
    say,
    set_option,
    timeout_option,
    workers_option,
)
from surgesim.errors import InputError

if TYPE_CHECKING:
    from surgesim.studies.limit import Limit, Search

NOT_KEPT = 1


@click.command("limit", cls=Command)
@file_argument
@click.option(
    "--vary", metavar="PATH=RANGE", multiple=True, required=True, callback=assignments,
    help="What varies and how far, such as 'arresters.inverter.leads.line=0.1 m to 5 m log'.",
)  # fmt: skip
@click.option(
    "--keep", metavar="CONDITION", default="holds", show_default=True,
    help="What has to be kept: 'holds', or such as 'margin >= 25 %'.",
)  # fmt: skip
@click.option(
    "--at", metavar="TERMINAL", help="Only there, such as 'inverter DC input, plus to pe'."
)
@click.option("--scan", type=click.IntRange(2, 200), default=9, show_default=True,
              help="Values that are run before closing in.")  # fmt: skip
@click.option("--within", type=click.FloatRange(0.1, 50.0), default=2.0, show_default=True,
              metavar="PERCENT", help="How close to close in on a limit.")  # fmt: skip
@choose_option
@set_option
@json_option
@workers_option
@timeout_option
@quiet_option
@click.pass_context
def command(ctx: click.Context, /, **asked: Any) -> None:
    """How far a value of FILE may go while every terminal holds, for each alternative.

    \b
        surgesim limit FILE --choose fitted=both \\
            --vary 'arresters.inverter.leads.line=0.1 m to 5 m log'

    The range is scanned and every change closed in on: margins do not fall steadily where lines
    ring. Ends with 0 when some alternative keeps it somewhere, with 1 when none does anywhere,
    with 3 when a case had no result.
    """
    ctx.exit(_carry_out(**asked))


def _carry_out(*, as_json: bool, quiet: bool, workers: int | None, timeout: float,
               **asked: Any) -> int:  # fmt: skip
    from surgesim.report.console import show
    from surgesim.report.limit import render

    search = _search(**asked)
    limits = search.limits(
        workers=workers, timeout=timeout, watch=None if quiet else lambda text: say(f"at {text}")
    )
    with closed_pipe_is_fine():
        if as_json:
            echo_json(_plain(search, limits))
        else:
            show(render(search, limits))
    if any(limit.unknown for limit in limits):
        return NO_RESULT
    return 0 if any(limit.stretches for limit in limits) else NOT_KEPT


def _search(
    *, file: Path, vary: list[tuple[str, str]], keep: str, at: str | None, scan: int,
    within: float, choose: list[tuple[str, str]], settings: list[tuple[str, str]],
) -> Search:  # fmt: skip
    from surgesim.reading.tree import read_tree
    from surgesim.scenario.axes import asked, laid
    from surgesim.scenario.file import read, with_settings
    from surgesim.studies.conditions import Condition
    from surgesim.studies.limit import Search

    axes = asked(vary)
    if len(axes) != 1 or axes[0].spread is None:
        raise InputError.of(
            "expected one range", file="--vary",
            hint="such as 'cables.field run.length=62 m to 300 m', without a number of values",
        )  # fmt: skip
    tree = with_settings(read_tree(file), dict(settings))
    for end in axes[0].levels:
        read(laid(tree, axes, {axes[0].name: end}), str(file))
    return Search(
        tree=tree, file=str(file), along=axes[0], condition=Condition.of(keep, at),
        chosen=chosen_levels(choose), scan=scan, within=within / 100.0,
    )  # fmt: skip


def _plain(search: Search, limits: list[Limit]) -> dict[str, Any]:
    return {
        "schema": "surgesim.limit/1",
        "path": search.along.name,
        "unit": search.along.unit,
        "range": list(search.along.numbers),
        "kept": search.condition.words,
        "limits": [
            {
                "axes": dict(limit.choice),
                "stretches": [
                    {
                        "from": one.first.value,
                        "to": one.last.value,
                        "not_at": [p.value for p in (one.below, one.above) if p is not None],
                    }
                    for one in limit.stretches
                ],
                "probes": [
                    {"value": p.value, "kept": p.kept, "worst": p.worst} for p in limit.ordered
                ],
            }
            for limit in limits
        ],
    }
