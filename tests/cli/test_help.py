"""Help: there for everything, narrow, and instant."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest
from click.testing import Result

from surgesim import __version__
from surgesim.cli import COMMANDS, cli

ROOT = Path(__file__).resolve().parents[2]

Invoke = Callable[..., Result]
Spawn = Callable[..., "subprocess.CompletedProcess[str]"]


def commands() -> Iterator[tuple[str, click.Command]]:
    """Every command by its words, such as ``models show``."""
    context = click.Context(cli)
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        yield name, command
        if isinstance(command, click.Group):
            for inner, sub in command.commands.items():
                yield f"{name} {inner}", sub


ALL = dict(commands())


def test_the_group_lists_every_command(invoke: Invoke) -> None:
    answer = invoke("--help")
    assert answer.exit_code == 0
    assert all(f"\n  {name} " in answer.stdout for name in COMMANDS)
    assert "Exit codes: 0" in answer.stdout


@pytest.mark.parametrize("words", ALL)
def test_every_command_has_help(words: str, invoke: Invoke) -> None:
    answer = invoke(*words.split(), "--help")
    assert answer.exit_code == 0
    assert ALL[words].help
    assert max(map(len, answer.stdout.splitlines())) <= 80


@pytest.mark.parametrize("words", ALL)
def test_every_option_has_help(words: str) -> None:
    options = [p for p in ALL[words].params if isinstance(p, click.Option)]
    assert [option.name for option in options if not option.help] == []


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_is_in_the_documentation(words: str) -> None:
    pages = [ROOT / "README.md", *(ROOT / "docs").glob("*.md")]
    assert any(f"surgesim {words}" in page.read_text(encoding="utf-8") for page in pages)


def test_short_help_option(invoke: Invoke) -> None:
    assert invoke("compare", "-h").stdout == invoke("compare", "--help").stdout


def test_version(invoke: Invoke) -> None:
    assert invoke("--version").stdout == f"surgesim {__version__}\n"


@pytest.mark.parametrize("words", [["--help"], ["compare", "--help"], ["models", "--help"]])
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    """The time it takes is the time Python and click take."""
    heavy = "numpy", "scipy", "matplotlib", "PySpice", "pydantic", "ruamel", "rich"
    script = (
        "import sys\n"
        "from surgesim.cli import cli\n"
        f"cli.main({words!r}, standalone_mode=False)\n"
        f"print([name for name in {heavy!r} if name in sys.modules], file=sys.stderr)\n"
    )
    answer = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert answer.stderr == "[]\n"


def test_unknown_command_names_the_known_ones(spawn: Spawn) -> None:
    answer = spawn("comprae")
    assert answer.returncode == 2
    assert "no command 'comprae'; did you mean 'compare'?" in answer.stderr
    assert answer.stdout == ""
