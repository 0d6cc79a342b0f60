"""``surgesim reproduce``: a record run again, claimed against reproduced."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from surgesim.cli.ending import Command, closed_pipe_is_fine, echo_data
from surgesim.cli.options import json_option, quiet_option, say, timeout_option, workers_option
from surgesim.cli.progress import progress

if TYPE_CHECKING:
    from surgesim.studies.record_reading import RecordReader


@click.command("reproduce", cls=Command)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--case", "only", metavar="ID", multiple=True,
    help="Only this case, such as c0007; may be repeated.",
)  # fmt: skip
@click.option(
    "--engine", type=click.Choice(("ngspice", "oracle")), default="ngspice", show_default=True,
    help="What to run with; 'oracle' is the second solver, which needs no ngspice.",
)  # fmt: skip
@click.option(
    "--disclosures", is_flag=True, help="Print what its numbers stand on, and run nothing."
)
@json_option
@workers_option
@timeout_option
@quiet_option
@click.pass_context
def command(ctx: click.Context, /, file: Path, *, disclosures: bool, **asked: Any) -> None:
    """Run the record FILE again and compare: claimed against reproduced.

    FILE was written by 'run' or 'compare' with --record, and is all that is needed. Its decks are
    rebuilt from its scenarios and must be the same byte for byte; they are never run.

    Ends with 0 when everything is reproduced and every claim met, with 1 when not, with 2 for a
    file that is damaged or no record, with 3 when a result could not be had.
    """
    from surgesim.studies.record_reading import RecordReader

    with RecordReader(file) as record:
        if disclosures:
            ctx.exit(_print_disclosures(record, as_json=asked["as_json"]))
        ctx.exit(_reproduce(record, **asked))


def _reproduce(
    record: RecordReader,
    *,
    only: tuple[str, ...],
    engine: Literal["ngspice", "oracle"],
    as_json: bool,
    workers: int | None,
    timeout: float,
    quiet: bool,
) -> int:
    from surgesim.report.disclosures import as_text
    from surgesim.studies.reproduce import exit_code, reproduce

    total = len(set(only)) or len(record.cases)
    with progress(total, quiet=quiet) as advance:
        comparison = reproduce(
            record, render=as_text, only=only, engine=engine, workers=workers, timeout=timeout,
            watch=advance,
        )  # fmt: skip
    with closed_pipe_is_fine():
        _print(comparison, as_json=as_json)
    return exit_code(comparison)


def _print(comparison: dict[str, Any], *, as_json: bool) -> None:
    if as_json:
        echo_data(json.dumps(comparison, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
        return
    from surgesim.report.console import show
    from surgesim.report.reproduction import render

    show(render(comparison))


def _print_disclosures(record: RecordReader, *, as_json: bool) -> int:
    """Print the section; 1 where the record contradicts itself, which is said on stderr."""
    from surgesim.report.console import show
    from surgesim.report.disclosures import as_text, render
    from surgesim.studies.record_consistency import inconsistencies

    found = inconsistencies(record, render=as_text)
    with closed_pipe_is_fine():
        if as_json:
            disclosed = record.manifest["disclosures"]
            echo_data(json.dumps(disclosed, indent=1, ensure_ascii=False) + "\n")
        else:
            show(render(record.manifest["disclosures"]))
    for words in found:
        say(f"surgesim: the record contradicts itself: {words}")
    return 1 if found else 0
