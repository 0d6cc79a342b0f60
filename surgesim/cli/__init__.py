"""The command line: one module a command, each thin over the library.

Nothing heavy is imported here or at the top of a command's module, so that help is instant.
"""

from __future__ import annotations

import importlib
import io
import signal
import sys
import traceback
from types import FrameType
from typing import NoReturn

import click

from surgesim.cli.ending import INTERRUPTED, NO_RESULT, hush_stdout

COMMANDS = ("run", "compare", "sweep", "limit", "reproduce", "show", "deck", "models", "doctor")


class Commands(click.Group):
    """Finds each command in the module of its name."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The commands in the order a newcomer needs them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """The command of that name, None if there is none."""
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"surgesim.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the words begin with; of a misspelt one, which was meant."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from surgesim.reading.names import did_you_mean

            hint = did_you_mean(args[0], COMMANDS)
            raise click.UsageError(f"no command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)


def _version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:  # noqa: FBT001
    if wanted and not ctx.resilient_parsing:
        from surgesim import __version__

        click.echo(f"surgesim {__version__}")
        ctx.exit()


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version,
    help="Show the version and end.",
)  # fmt: skip
def cli() -> None:
    """Which surge voltage reaches each piece of equipment, and with what margin.

    A FILE describes one installation: surges, cables with lengths, earths, arresters, equipment,
    and what varies. Begin with

    \b
        surgesim compare scenarios/brackenmoss-dairy.yaml

    Exit codes: 0 margins met, 1 a margin or claim not met, 2 input that cannot be used,
    3 the engine failed or a result was refused.

    A simulation, not a design approval: local codes and a licensed person decide.
    """


def main() -> NoReturn:
    """Entry point of the ``surgesim`` command.

    Ends with 1 for a margin that is not met and for nothing else: what Python and click end
    with 1 by themselves (an exception, an interrupt) ends otherwise here.
    """
    _clean_up_when_told_to_end()
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a name the locale cannot print
    try:
        code = cli.main(standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("interrupted", err=True)
        sys.exit(INTERRUPTED)
    except OSError as error:
        hush_stdout()
        where = error.filename or "the output"
        click.echo(f"surgesim: {where}: {error.strerror or error}", err=True)
        sys.exit(NO_RESULT)
    except Exception as error:
        traceback.print_exc()
        click.echo("surgesim: an error of the program itself; please report it", err=True)
        raise SystemExit(NO_RESULT) from error
    sys.exit(code if isinstance(code, int) else 0)


def _clean_up_when_told_to_end() -> None:
    """Unwind on SIGTERM and SIGHUP as on an interrupt, unless they are ignored (nohup)."""

    def end(number: int, _: FrameType | None) -> None:
        raise SystemExit(128 + number)

    for name in ("SIGTERM", "SIGHUP"):  # Windows has no SIGHUP
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, end)
