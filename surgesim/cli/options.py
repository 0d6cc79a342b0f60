"""Options that several commands share."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from surgesim.scenario.file import Case, ScenarioFile

Function = TypeVar("Function", bound=Callable[..., Any])


def assignments(_: click.Context, parameter: click.Parameter, words: tuple[str, ...]) -> Any:
    """``NAME=VALUE`` options as a list of pairs."""
    form = parameter.metavar
    pairs = []
    for word in words:
        name, separator, value = word.partition("=")
        if not separator or not name.strip() or not value.strip():
            raise click.BadParameter(f"expected {form} but got {word!r}", param=parameter)
        pairs.append((name.strip(), value.strip()))
    return pairs


file_argument = click.argument("file", type=click.Path(path_type=Path))
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print the result (or the error) as JSON."
)
choose_option = click.option(
    "--choose", metavar="FACTOR=LEVEL", multiple=True, callback=assignments,
    help="Only this level of a factor, such as fitted=both; may be repeated.",
)  # fmt: skip
set_option = click.option(
    "--set", "settings", metavar="PATH=VALUE", multiple=True, callback=assignments,
    help="Lay a value over the file first, such as 'cables.barn feed.length=30 m'.",
)  # fmt: skip

workers_option = click.option(
    "--workers", type=click.IntRange(1, 256), help="Engine runs at once [all cores]."
)
timeout_option = click.option(
    "--timeout", type=click.FloatRange(min=0.1), default=120.0, show_default=True,
    metavar="SECONDS", help="Longest time for one engine process.",
)  # fmt: skip
quiet_option = click.option("--quiet", is_flag=True, help="No progress.")


def study_options(function: Function) -> Function:
    """The options of every command that runs cases."""
    for option in reversed(
        (
            file_argument,
            choose_option,
            set_option,
            json_option,
            click.option(
                "--out", metavar="DIR", type=click.Path(path_type=Path),
                help="Also write findings, waveforms and figures into this folder.",
            ),
            click.option(
                "--record", metavar="FILE", type=click.Path(path_type=Path),
                help="Also write one file from which 'surgesim reproduce' repeats everything.",
            ),
            click.option(
                "--crosscheck", is_flag=True,
                help="Run every case by the second solver too; one on which they differ by more"
                " than 1 % has no result.",
            ),
            click.option(
                "--overwrite", is_flag=True,
                help="Replace the results that the folder, or the file, holds.",
            ),
            click.option(
                "--certify", is_flag=True,
                help="Run each case three times more and tell its numerical error from that.",
            ),
            click.option(
                "--influence/--no-influence", default=None,
                help="Vary each guess and rank them by how far the deciding margin moves;"
                " --record does so too, unless told not to.",
            ),
            click.option(
                "--breakdown", is_flag=True,
                help="Take each terminal's peak apart, from the level printed on its arrester on;"
                " of the deciding alternative with compare.",
            ),
            click.option(
                "--failed-arresters", is_flag=True,
                help="Run each alternative's deciding case again with one arrester element open,"
                " and with one shorted.",
            ),
            workers_option,
            timeout_option,
            quiet_option,
        )
    ):  # fmt: skip
        function = option(function)
    return function


def chosen_levels(pairs: list[tuple[str, str]]) -> dict[str, list[str]]:
    """Pairs of --choose as levels by factor."""
    chosen: dict[str, list[str]] = {}
    for factor, level in pairs:
        chosen.setdefault(factor, []).append(level)
    return chosen


def pick_case(file: ScenarioFile, case_id: str | None) -> Case:
    """The case asked for, or the first, saying that there are others."""
    if case_id is not None:
        return file.case(case_id)
    case, number = file.all_cases[0], len(file.all_cases)
    if number > 1:
        say(f"case {case.id} of {number}; 'surgesim show FILE --list' lists them, --case ID picks")
    return case


def say(text: str) -> None:
    """Talk, on stderr: stdout is for data."""
    click.echo(text, err=True)


def interactive() -> bool:
    """Whether a person watches stderr."""
    return sys.stderr.isatty()
