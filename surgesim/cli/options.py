"""Options that several commands share, and how a command ends when something is wrong."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from surgesim.errors import EngineError, InputError, SurgesimError

Function = TypeVar("Function", bound=Callable[..., Any])


class Command(click.Command):
    """A command that turns every deliberate error into one message and its exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; errors go to stderr, and with --json to stdout as JSON."""
        try:
            return super().invoke(ctx)
        except SurgesimError as error:
            if ctx.params.get("as_json"):
                click.echo(json.dumps(_error_record(error), indent=1, ensure_ascii=False))
            for line in _error_lines(error):
                click.echo(line, err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("interrupted; every engine process was stopped", err=True)
            ctx.exit(130)


def _error_lines(error: SurgesimError) -> list[str]:
    if isinstance(error, InputError):
        lines = [str(problem) for problem in error.problems]
        return [*lines, f"{len(lines)} problems"] if len(lines) > 1 else lines
    if isinstance(error, EngineError):
        return [f"surgesim: {error.message}", *([f"  try: {error.hint}"] if error.hint else [])]
    return [f"surgesim: {error}"]


def _error_record(error: SurgesimError) -> dict[str, Any]:
    """An error as the object that --json prints."""
    record: dict[str, Any] = {
        "schema": "surgesim.error/1", "exit_code": error.exit_code, "error": type(error).__name__,
    }  # fmt: skip
    if isinstance(error, InputError):
        keys = ("file", "line", "column", "path", "message", "hint")
        record["problems"] = [{k: getattr(p, k) for k in keys} for p in error.problems]
    elif isinstance(error, EngineError):
        record |= {"message": error.message, "try": error.hint}
    else:
        record["message"] = str(error)
    return record


def assignments(_: click.Context, parameter: click.Parameter, words: tuple[str, ...]) -> Any:
    """``NAME=VALUE`` options as a list of pairs."""
    pairs = []
    for word in words:
        name, separator, value = word.partition("=")
        if not separator or not name.strip() or not value.strip():
            raise click.BadParameter(f"{word!r} is not NAME=VALUE", param=parameter)
        pairs.append((name.strip(), value.strip()))
    return pairs


file_argument = click.argument("file", type=click.Path(path_type=Path))
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print the findings (or the error) as JSON."
)
choose_option = click.option(
    "--choose", metavar="FACTOR=LEVEL", multiple=True, callback=assignments,
    help="Only this level of a factor, such as fitted=both; may be repeated.",
)  # fmt: skip
set_option = click.option(
    "--set", "settings", metavar="PATH=VALUE", multiple=True, callback=assignments,
    help="Lay a value over the file first, such as 'cables.field run.length=80 m'.",
)  # fmt: skip


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
                "--overwrite", is_flag=True, help="Replace the results that the folder holds."
            ),
            click.option(
                "--workers", type=click.IntRange(1, 256), help="Engine processes at once [all cores]."
            ),
            click.option(
                "--timeout", type=click.FloatRange(min=0.1), default=120.0, show_default=True,
                metavar="SECONDS", help="Longest time for one engine process.",
            ),
            click.option("--quiet", is_flag=True, help="No progress."),
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


def say(text: str) -> None:
    """Talk, on stderr: stdout is for data."""
    click.echo(text, err=True)


def interactive() -> bool:
    """Whether a person watches stderr."""
    return sys.stderr.isatty()
