"""What is imported is declared, what is declared is locked, and little is loaded early."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Where the import has another name, or comes with another distribution.
DISTRIBUTION_OF = {"ruamel": "ruamel.yaml", "pydantic_core": "pydantic"}

# A command line that answers at once loads none of these before it needs them; pydantic
# is loaded by reading a scenario.
HEAVY = ("numpy", "scipy", "matplotlib", "PySpice", "pydantic", "rich")


def normal(name: str) -> str:
    """The one spelling of a distribution's name, as packaging tools compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def project() -> dict[str, Any]:
    table: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return table


def requirement_name(requirement: str) -> str:
    return normal(re.split(r"[\s\[<>=!~;(]", requirement, maxsplit=1)[0])


def imported(path: Path) -> Iterator[str]:
    """First name of every absolute import, wherever in the module it stands."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split(".")[0]


def test_every_import_is_declared_and_every_declaration_used() -> None:
    names = {name for path in (ROOT / "surgesim").rglob("*.py") for name in imported(path)}
    foreign = names - set(sys.stdlib_module_names) - {"surgesim"}
    used = {normal(DISTRIBUTION_OF.get(name, name)) for name in foreign}
    declared = {requirement_name(requirement) for requirement in project()["dependencies"]}
    extra = project()["optional-dependencies"]["notebook"]
    assert used == declared | set(map(requirement_name, extra))


def locked() -> set[str]:
    lines = (ROOT / ".ci" / "constraints.txt").read_text().splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert all(re.fullmatch(r"[\w.-]+==[\w.+!-]+", pin) for pin in pins)
    return {normal(pin.split("==")[0]) for pin in pins}


def required_by(name: str) -> Iterator[str]:
    """Direct requirements of an installed distribution, optional and foreign ones left out."""
    for requirement in metadata.requires(name) or []:
        if ";" not in requirement:
            yield requirement_name(requirement)


def test_lock_pins_everything_down_to_the_last_dependency() -> None:
    table = project()
    extras = table["optional-dependencies"]
    todo = {requirement_name(r) for r in [*table["dependencies"], *extras["test"], *extras["dev"]]}
    todo.discard("surgesim")
    seen: set[str] = set()
    while todo:
        name = todo.pop()
        seen.add(name)
        todo |= set(required_by(name)) - seen
    assert seen - locked() == set()


def loaded_by(*arguments: str, cwd: Path) -> set[str]:
    """Top-level packages a fresh Python imports on the way through these arguments."""
    command = [sys.executable, "-X", "importtime", *arguments]
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=60)
    lines = done.stderr.splitlines()
    said = [line for line in lines if not line.startswith("import time:")]
    assert done.returncode == 0, "\n".join(said)
    modules = {line.rpartition("|")[2].strip() for line in lines if line not in said}
    assert "surgesim" in modules, "the trace shows no import of the package"
    return {module.split(".")[0] for module in modules}


@pytest.mark.parametrize(
    "arguments",
    [
        ("-c", "import surgesim"),
        ("-c", "import surgesim.cli"),
        ("-m", "surgesim", "--help"),
        ("-m", "surgesim", "compare", "--help"),
    ],
    ids=" ".join,
)
def test_help_loads_nothing_heavy(arguments: tuple[str, ...], tmp_path: Path) -> None:
    assert loaded_by(*arguments, cwd=tmp_path).isdisjoint(HEAVY)


def test_import_trace_does_see_heavy_modules(tmp_path: Path) -> None:
    """The budget above would be worthless if the trace could not show what it forbids."""
    assert "numpy" in loaded_by("-c", "import surgesim, numpy", cwd=tmp_path)
