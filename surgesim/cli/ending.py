"""How a command ends: its exit codes, an error as text or JSON, a pipe that was closed."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import click

from surgesim.errors import EngineError, InputError, SurgesimError

BAD_INPUT, NO_RESULT, INTERRUPTED = 2, 3, 130


class Command(click.Command):
    """A command that turns every deliberate error into one message and its exit code."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the command's words; with --json among them, what is wrong is told as JSON."""
        as_json = "--json" in args
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            if as_json:
                echo_json(_record(error, BAD_INPUT, message=error.format_message()))
            raise

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; errors go to stderr, and with --json to stdout as JSON."""
        try:
            return super().invoke(ctx)
        except SurgesimError as raised:
            error = _with_file(raised, ctx.params.get("file"))
            if ctx.params.get("as_json"):
                echo_json(_error_record(error))
            for line in _error_lines(error):
                click.echo(line, err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            hush_stdout()
            return None
        except KeyboardInterrupt:
            click.echo("interrupted; every engine process was stopped", err=True)
            ctx.exit(INTERRUPTED)


@contextmanager
def closed_pipe_is_fine() -> Iterator[None]:
    """Print within the block; whoever reads may stop reading (``| head``)."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        hush_stdout()


def hush_stdout() -> None:
    """Let what is still unprinted vanish, instead of failing once more at the very end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _with_file(error: SurgesimError, file: Any) -> SurgesimError:
    """Problems found in a scenario after it was read do not know its file; say it."""
    if not isinstance(error, InputError) or file is None:
        return error
    return InputError(
        [replace(p, file=str(file)) if p.path and not p.file else p for p in error.problems]
    )


def _error_lines(error: SurgesimError) -> list[str]:
    if isinstance(error, InputError):
        lines = [str(problem) for problem in error.problems]
        return [*lines, f"{len(lines)} problems"] if len(lines) > 1 else lines
    if isinstance(error, EngineError):
        return [f"surgesim: {error.message}", *([f"  try: {error.hint}"] if error.hint else [])]
    return [f"surgesim: {error}"]


def _error_record(error: SurgesimError) -> dict[str, Any]:
    if isinstance(error, InputError):
        keys = ("file", "line", "column", "path", "message", "hint")
        problems = [{key: getattr(problem, key) for key in keys} for problem in error.problems]
        return _record(error, error.exit_code, problems=problems)
    if isinstance(error, EngineError):
        return _record(error, error.exit_code, message=error.message, **{"try": error.hint})
    return _record(error, error.exit_code, message=str(error))


def _record(error: Exception, exit_code: int, **rest: Any) -> dict[str, Any]:
    """An error as the object that --json prints."""
    name = type(error).__name__
    return {"schema": "surgesim.error/1", "exit_code": exit_code, "error": name, **rest}


def echo_json(record: object) -> None:
    """Print plain data as JSON."""
    echo_data(json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def echo_data(text: str) -> None:
    """Print what another program will read: in UTF-8, whatever the locale."""
    click.echo(text.encode(), nl=False)
