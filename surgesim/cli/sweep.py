"""``surgesim sweep``: a file's cases over ranges of lengths, resistances, cards."""

from __future__ import annotations

from dataclasses import dataclass
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
from surgesim.cli.progress import progress
from surgesim.errors import InputError

if TYPE_CHECKING:
    from surgesim.studies.curves import Curve
    from surgesim.studies.points import Plan
    from surgesim.studies.sweep import Sweep

MOST_UNASKED = 20_000
"""Cases above which a sweep asks for --yes."""

SECONDS_A_CASE = 1.0
"""What a case takes, roughly, on one processor."""


@dataclass(frozen=True, kw_only=True)
class Request:
    """What was asked on the command line."""

    file: Path
    vary: list[tuple[str, str]]
    choose: list[tuple[str, str]]
    settings: list[tuple[str, str]]
    out: Path
    sample: int | None
    method: str
    seed: int
    yes: bool
    retry_failed: bool
    workers: int | None
    timeout: float
    as_json: bool
    quiet: bool


@click.command("sweep", cls=Command)
@file_argument
@click.option(
    "--vary", metavar="PATH=VALUES", multiple=True, callback=assignments,
    help="What varies, such as 'cables.field run.length=10 m to 200 m in 20 values'; may be"
    " repeated. Instead of what stands under 'sweep' in the file.",
)  # fmt: skip
@choose_option
@set_option
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), required=True,
    help="Folder of the results. A sweep that was cut off goes on in its folder.",
)  # fmt: skip
@click.option(
    "--sample", metavar="N", type=click.IntRange(min=1),
    help="Draw so many points from the ranges instead of running every combination.",
)  # fmt: skip
@click.option(
    "--method", type=click.Choice(["latin hypercube", "sobol"]), default="latin hypercube",
    show_default=True, help="How points are drawn.",
)  # fmt: skip
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True,
              help="Of the draw; the same seed draws the same points.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Run however many cases there are.")
@click.option("--retry-failed", is_flag=True, help="Run again the cases that had no result.")
@json_option
@workers_option
@timeout_option
@quiet_option
@click.pass_context
def command(ctx: click.Context, /, **asked: Any) -> None:
    """Run FILE over ranges of its values: margins against length, lead, earth, card.

    \b
        surgesim sweep FILE --out lengths \\
            --vary 'cables.field run.length=10 m to 200 m in 20 values' \\
            --vary 'arresters.inverter.leads.line=0.1 m, 0.3 m, 0.8 m'

    Every finished case is on the disk at once: call it again after an interrupt, and it goes on.
    Ends with 0 when every case has a result, with 3 when one has none.
    """
    ctx.exit(_carry_out(Request(**asked)))


def _carry_out(request: Request) -> int:
    from surgesim.report.figures.sweep import sweep_figures
    from surgesim.studies.curves import curves, main_axis
    from surgesim.studies.points import first_cases, tried
    from surgesim.studies.sweep import Sweep
    from surgesim.studies.sweep_tables import records, write_tables

    plan = _plan(request)
    cases = plan.number_of_points * len(first_cases(plan))
    _ask(cases, request)
    tried(plan)
    sweep = Sweep(plan=plan, folder=request.out)
    with progress(cases, quiet=request.quiet) as advance:
        sweep.run(
            workers=request.workers, timeout=request.timeout, retry_failed=request.retry_failed,
            watch=lambda finished: advance(min(finished, cases)),
        )  # fmt: skip
    if sweep.dropped:
        say(f"{sweep.dropped} lines of the journal were not whole; their cases were run again")
    for path in write_tables(plan, request.out):
        say(f"wrote {path}")
    along = main_axis(plan)
    found = [] if along is None else curves(plan, records(request.out), along=along)
    finished, failed = _counted(request.out)
    for path in sweep_figures(plan, found, request.out / "figures"):
        say(f"wrote {path}")
    if failed:
        say(
            f"{failed} without a result: reasons in failures.csv, decks in {request.out / 'failed'}"
        )
    with closed_pipe_is_fine():
        _print(request, sweep, finished, failed, found)
    return NO_RESULT if failed else 0


def _plan(request: Request) -> Plan:
    from surgesim.reading.tree import read_tree
    from surgesim.scenario.axes import asked, axes_of
    from surgesim.scenario.file import with_settings
    from surgesim.studies.points import Plan

    tree = with_settings(read_tree(request.file), dict(request.settings))
    return Plan(
        tree=tree,
        file=str(request.file),
        axes=asked(request.vary) or axes_of(tree, str(request.file)),
        chosen=chosen_levels(request.choose),
        method="grid" if request.sample is None else request.method,  # type: ignore[arg-type]
        samples=request.sample or 0,
        seed=request.seed if request.sample else 0,
    )


def _ask(cases: int, request: Request) -> None:
    """Refuse what was hardly meant. Raises InputError."""
    import os

    if cases <= MOST_UNASKED or request.yes:
        return
    workers = request.workers or os.cpu_count() or 1
    hours = cases * SECONDS_A_CASE / workers / 3600.0
    days = f"{hours / 24:,.0f} days" if hours > 48 else f"{hours:.0f} hours"
    raise InputError.of(
        f"stands for about {cases:,} cases, some {days} at a second a case on {workers} processors",
        file=str(request.file),
        hint="vary less, --choose levels, draw with --sample N, or say --yes",
    )  # fmt: skip


def _counted(folder: Path) -> tuple[int, int]:
    from surgesim.studies.sweep_tables import records

    failed = [("error" in record["case_found"]) for record in records(folder)]
    return len(failed), sum(failed)


def _print(request: Request, sweep: Sweep, finished: int, failed: int, found: list[Curve]) -> None:
    from surgesim.studies.curves import main_axis

    if request.as_json:
        echo_json(
            {
                "schema": "surgesim.sweep/1", **sweep.plan.identity, "cases": finished,
                "computed": sweep.computed, "shared": sweep.shared, "failed": failed,
                "folder": str(request.out),
            }
        )  # fmt: skip
        return
    from surgesim.report.console import show
    from surgesim.report.sweep import render

    along = main_axis(sweep.plan)
    show(render(sweep, cases=finished, failed=failed, along=along, curves=found))
