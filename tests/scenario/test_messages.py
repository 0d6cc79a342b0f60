"""Every message the reader can give is expected word for word by some test.

The messages are the texts in its source that are raised, yielded, returned or named as words
or hint; what varies in them matches anything. They are looked for in the first lines of the
invalid files and in the texts of the tests of the reader.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = [
    *sorted((ROOT / "surgesim" / "reading").glob("*.py")),
    *sorted((ROOT / "surgesim" / "scenario").glob("*.py")),
    *sorted((ROOT / "surgesim" / "catalogue").glob("*.py")),
]
# What these modules yield is filled into a scenario, not told as wrong with it.
for name in ("assumptions", "modules"):
    SOURCES.remove(ROOT / "surgesim" / "scenario" / f"{name}.py")
TESTS = [
    path
    for folder in ("reading", "scenario", "catalogue")
    for path in sorted((ROOT / "tests" / folder).glob("test_*.py"))
]

CALLS = {"refused", "of", "_refuse", "_note", "UnknownTerminal", "ValueError", "Slip", "Fault"}
NAMES = {"words", "hint", "message", "advice", "expected", "_EXAMPLE", "_PLAIN", "MISSING"}


def called(node: ast.Call) -> str:
    function = node.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def telling(tree: ast.AST) -> Iterator[ast.AST]:
    """Expressions whose texts a person gets to read."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and called(node) in CALLS:
            # the first argument of a slip is a pattern for the YAML reader's words
            yield from node.args[called(node) == "Slip" :]
            yield from (keyword.value for keyword in node.keywords)
        elif isinstance(node, ast.Yield) and isinstance(node.value, ast.Tuple):
            yield from node.value.elts[1:]
        elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") in NAMES:
            yield node.value
        elif isinstance(node, ast.FunctionDef) and getattr(node.returns, "id", "") == "str":
            yield from (r.value for r in ast.walk(node) if isinstance(r, ast.Return) and r.value)


def texts(node: ast.AST) -> Iterator[str]:
    """The texts in an expression as patterns, each hole in them matching anything."""
    if isinstance(node, ast.JoinedStr):
        yield "".join(
            re.escape(part.value)
            if isinstance(part, ast.Constant) and isinstance(part.value, str)
            else ".*"
            for part in node.values
        )
    elif isinstance(node, ast.Constant):
        if isinstance(node.value, str):
            yield re.escape(node.value)
    else:
        for child in ast.iter_child_nodes(node):
            yield from texts(child)


def messages(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = {text for node in telling(tree) for text in texts(node)}
    return {text for text in found if re.search(r"[a-z]{2,}\\ [a-z']|\.\*\\ [a-z]", text)}


def expectations() -> str:
    """All that tests expect, one text a line."""
    heads = [p.read_text(encoding="utf-8").splitlines()[0] for p in INVALID]
    constants = [
        node.value
        for path in TESTS
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]
    return "\n".join(heads + constants)


INVALID = sorted((ROOT / "tests" / "scenarios" / "invalid").glob("*.yaml"))
EXPECTED = expectations()
MESSAGES = [(path.stem, text) for path in SOURCES for text in sorted(messages(path))]


@pytest.mark.parametrize(("module", "message"), MESSAGES)
def test_message_is_expected_by_a_test(module: str, message: str) -> None:
    assert re.search(message, EXPECTED), f"no test expects this message of {module}"


def test_messages_are_found() -> None:
    assert len(MESSAGES) > 100
