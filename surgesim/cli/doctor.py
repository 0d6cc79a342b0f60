"""``surgesim doctor``: is everything here that a run needs, and does it answer rightly."""

from __future__ import annotations

import sys
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import click

from surgesim.cli.ending import Command, echo_json
from surgesim.cli.options import json_option
from surgesim.errors import EngineError

PACKAGES = ("PySpice", "numpy", "matplotlib", "pydantic", "ruamel.yaml", "rich", "click")


@click.command("doctor", cls=Command)
@json_option
def command(*, as_json: bool) -> None:
    """Check the engine: found, its version, and a circuit with a known answer."""
    from surgesim import __version__
    from surgesim.engine import check_engine

    check = check_engine()
    found = {name: _version(name) for name in PACKAGES}
    if as_json:
        echo_json(_record(check, __version__, found))
    else:
        _print(check, __version__, found)
    if not check.passed:
        raise EngineError(
            f"ngspice {check.engine.version} does not give the known answer",
            hint="install Debian's ngspice, or set SURGESIM_NGSPICE to another one",
        )


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "missing"


def _record(check: Any, own: str, found: dict[str, str]) -> dict[str, Any]:
    return {
        "schema": "surgesim.doctor/1",
        "surgesim": own,
        "python": sys.version.split()[0],
        "engine": {"path": check.engine.path, "version": check.engine.version},
        "packages": found,
        "check": {
            "source": check.source,
            "expected_v": check.expected,
            "measured_v": check.measured,
            "passed": check.passed,
        },
    }


def _print(check: Any, own: str, found: dict[str, str]) -> None:
    click.echo(f"surgesim  {own}, Python {sys.version.split()[0]}")
    click.echo(f"engine    ngspice {check.engine.version} at {check.engine.path}")
    click.echo("packages  " + ", ".join(f"{name} {number}" for name, number in found.items()))
    click.echo(f"circuit   {check.source}")
    for expected, measured in zip(check.expected, check.measured, strict=True):
        click.echo(f"          expected {expected:7.1f} V, measured {measured:7.1f} V")
    click.echo("answer    " + ("as expected" if check.passed else "NOT as expected"))
