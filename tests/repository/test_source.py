"""The source keeps the measures the contributor guide gives."""

from __future__ import annotations

import ast
import statistics
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "surgesim"
MODULES = sorted(PACKAGE.rglob("*.py"))
Function = ast.FunctionDef | ast.AsyncFunctionDef


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def functions(path: Path) -> Iterator[Function]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, Function):
            yield node


def length(function: Function) -> int:
    """Lines of the body, without the docstring."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0  # type: ignore[operator]


def has_positional_default(function: Function) -> bool:
    return bool(function.args.defaults)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_module_is_short_enough(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 600


def test_functions_are_short() -> None:
    lengths = sorted(length(function) for path in MODULES for function in functions(path))
    assert lengths, "no function was found"
    assert statistics.mean(lengths) <= 15
    assert lengths[int(0.9 * len(lengths))] <= 40


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_everything_with_a_default_is_keyword_only(path: Path) -> None:
    """A private helper may do as it likes; what another module calls may not."""
    loose = [
        f"{path.name}:{function.lineno} {function.name}"
        for function in functions(path)
        if not function.name.startswith("_") and has_positional_default(function)
    ]
    assert not loose, ", ".join(loose)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_every_module_says_what_it_is(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_types_are_published() -> None:
    assert (PACKAGE / "py.typed").is_file()
