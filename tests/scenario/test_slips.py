"""One slip of the pen is one message: every key and every word of a file, one at a time."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from surgesim.errors import InputError
from surgesim.reading.tree import Mapping, plain, read_tree
from surgesim.scenario.file import read

TreeOf = Callable[[dict[str, Any]], Mapping]
Path_ = tuple[Any, ...]

ROOT = Path(__file__).resolve().parents[2]
VALID = ROOT / "tests" / "scenarios" / "valid"
FILES = {
    path.stem: plain(read_tree(path))
    for path in (
        VALID / "arresters.yaml",
        VALID / "cables.yaml",
        VALID / "cards.yaml",
        ROOT / "scenarios" / "brackenmoss-dairy.yaml",
    )
}
# For speed; another file varies more.
del FILES["brackenmoss-dairy"]["worst of"]


def paths(node: Any, above: Path_ = ()) -> Iterator[Path_]:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(
        node, list) else ()  # fmt: skip
    for key, value in items:
        yield (*above, key)
        yield from paths(value, (*above, key))


def at(data: Any, path: Path_) -> Any:
    for step in path:
        data = data[step]
    return data


def misspelt(word: str) -> str:
    """Without its second letter."""
    return word[:1] + word[2:]


def leave_out(data: dict[str, Any], path: Path_) -> bool:
    """A key or value of a thing; without a whole thing two others may lack what it brought."""
    if len(path) < 3:
        return False
    del at(data, path[:-1])[path[-1]]
    return True


def misspell_key(data: dict[str, Any], path: Path_) -> bool:
    parent, key = at(data, path[:-1]), path[-1]
    if not isinstance(parent, dict) or len(key) < 3:
        return False
    renamed = {misspelt(k) if k == key else k: value for k, value in parent.items()}
    parent.clear()
    parent.update(renamed)
    return True


def misspell_value(data: dict[str, Any], path: Path_) -> bool:
    value = at(data, path)
    if not isinstance(value, str) or len(value) < 3:
        return False
    at(data, path[:-1])[path[-1]] = misspelt(value)
    return True


def problems(tree: Mapping) -> list[str]:
    try:
        read(tree, "f")
    except InputError as error:
        return [str(problem) for problem in error.problems]
    return []


@pytest.mark.parametrize("slip", [leave_out, misspell_key, misspell_value])
@pytest.mark.parametrize("name", list(FILES))
def test_a_slip_is_one_message(
    name: str, slip: Callable[[dict[str, Any], Path_], bool], tree_of: TreeOf
) -> None:
    manifold = {}
    for path in paths(FILES[name]):
        data = copy.deepcopy(FILES[name])
        found = problems(tree_of(data)) if slip(data, path) else []
        if len(found) > 1:
            manifold[path] = found
    assert manifold == {}
