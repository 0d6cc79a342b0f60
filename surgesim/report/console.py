"""Where text goes: a console that is 80 columns wide when piped and keeps quiet with NO_COLOR."""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO

from rich.box import Box
from rich.console import Console, RenderableType

PIPED_WIDTH = 80
WIDEST = 100  # longer lines of prose are hard to read, however wide the window

# A rule under the head and nothing else, in ASCII, so that it looks the same everywhere.
HEAD_RULE = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)

VERDICT_STYLES = {
    "holds": "green",
    "thin": "yellow",
    "void": "magenta",
    "exceeded": "bold red",
    "not assessed": "dim",
}


def console(stream: TextIO | None, *, width: int | None = None) -> Console:
    """A console on ``stream`` (standard output when None).

    Plain, 80 columns wide text unless the stream is a terminal. NO_COLOR set to anything means
    no escape code at all, bold included. Characters the stream's encoding lacks print as ``?``.
    """
    out = sys.stdout if stream is None else stream
    if isinstance(out, io.TextIOWrapper) and not _is_unicode(out.encoding):
        out.reconfigure(errors="replace")
    live = out.isatty()
    made = Console(
        file=out,
        width=width if width is not None else (None if live else PIPED_WIDTH),
        color_system="auto" if live and not os.environ.get("NO_COLOR") else None,
        highlight=False,
        markup=False,
        emoji=False,
    )
    if width is None and made.width > WIDEST:
        made.width = WIDEST
    return made


def show(renderable: RenderableType) -> None:
    """Print on standard output: as a terminal shows it, or piped as plain lines."""
    if sys.stdout.isatty():
        console(None).print(renderable)
        return
    encoding = sys.stdout.encoding or "ascii"
    sys.stdout.write(text(renderable, encoding=encoding))


def text(renderable: RenderableType, *, width: int = PIPED_WIDTH, encoding: str = "utf-8") -> str:
    """A renderable as plain text, lines at most ``width`` wide and without trailing blanks."""
    buffer = io.StringIO()
    console(buffer, width=width).print(renderable)
    lines = [line.rstrip() for line in buffer.getvalue().splitlines()]
    return ("\n".join(lines) + "\n").encode(encoding, "replace").decode(encoding)


def _is_unicode(encoding: str | None) -> bool:
    return (encoding or "").lower().replace("-", "").startswith("utf")
