"""Whatever is in a file, reading it ends with scenarios or with problems that can be read."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from surgesim.errors import InputError
from surgesim.reading.tree import MOST_PROBLEMS, Mapping, plain, read_tree
from surgesim.scenario.file import ScenarioFile, loads, read

TreeOf = Callable[[dict[str, Any]], Mapping]

ROOT = Path(__file__).resolve().parents[2]
SMALL = (ROOT / "tests" / "scenarios" / "valid" / "arresters.yaml").read_text(encoding="utf-8")


def check(data: str | bytes) -> None:
    settle(lambda: loads(data, name="f"))


def settle(reading: Callable[[], ScenarioFile]) -> None:
    """Reading gives a file or bounded, printable problems, and nothing else."""
    try:
        file = reading()
    except InputError as error:
        refused = error
    else:
        assert isinstance(file, ScenarioFile)
        assert file.all_cases
        return
    assert 1 <= len(refused.problems) <= MOST_PROBLEMS + 1
    for problem in refused.problems:
        assert len(str(problem)) < 400
        assert str(problem).isprintable()
        assert problem.message


@given(data=st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    check(data)


@given(text=st.text(alphabet="{}[],:-?!&*#|>'\"%@`\n \tab1.~<=\\\x85é", max_size=80))
def test_any_signs_of_yaml(text: str) -> None:
    check(text)


@given(text=st.text(max_size=100))
def test_any_text(text: str) -> None:
    check(text)


@settings(max_examples=60)
@given(data=st.data())
def test_a_scenario_with_scraps_pasted_into_it(data: st.DataObject) -> None:
    text = SMALL
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        length = data.draw(st.sampled_from([0, 1, 5, 40]))
        source = data.draw(st.integers(0, len(SMALL)))
        scrap = data.draw(
            st.one_of(st.text(max_size=5), st.just(SMALL[source : source + 30]), st.just(""))
        )
        text = text[:start] + scrap + text[start + length :]
    check(text)


WORDS = st.one_of(
    st.sampled_from(
        ["", "0", "1", "-1 m", "1e999 V", "1 kV", "5 kA", "plus", "pe", "remote earth", "array",
         "array pe", "plus to pe", "plus to plus", "each pole to pe", "pv pair 6 mm2", "10/350",
         "pv 1000 class II", "copper 16 mm2", "removed", "lit", "V", "guess", "none", "x" * 2000,
         "9" * 10_000, "\x1b[31m", "a\nb", "ｐｅ", "1,5 kV", " ", "air", "0 m to pe"]
    ),
    st.text(max_size=12),
)  # fmt: skip
NODES = st.recursive(
    WORDS,
    lambda below: st.one_of(
        st.lists(below, max_size=3), st.dictionaries(WORDS.filter(bool), below, max_size=3)
    ),
    max_leaves=5,
)


Draw = Callable[[st.SearchStrategy[Any]], Any]
Path_ = tuple[Any, ...]


def spots(node: Any, path: Path_ = ()) -> list[Path_]:
    """Paths of everything below ``node``."""
    items: list[tuple[Any, Any]] = []
    if isinstance(node, dict):
        items = list(node.items())
    elif isinstance(node, list):
        items = list(enumerate(node))
    return [
        deeper for key, value in items for deeper in ((*path, key), *spots(value, (*path, key)))
    ]


def at(data: Any, path: Path_) -> Any:
    for step in path:
        data = data[step]
    return data


def mutate(data: dict[str, Any], draw: Draw) -> None:
    """Delete, rename, replace or copy one node of ``data``."""
    paths = spots(data)
    if not paths:
        return
    path = draw(st.sampled_from(paths))
    parent, key = at(data, path[:-1]), path[-1]
    action = draw(st.sampled_from(["delete", "rename", "replace", "copy"]))
    if action == "delete":
        del parent[key]
    elif action == "rename" and isinstance(parent, dict):
        parent[draw(WORDS)] = parent.pop(key)
    elif action == "copy":
        parent[key] = copy.deepcopy(at(data, draw(st.sampled_from(paths))))
    else:
        parent[key] = draw(NODES)


FILES = {
    path.stem: plain(read_tree(path))
    for path in (
        ROOT / "scenarios" / "brackenmoss-dairy.yaml",
        ROOT / "tests" / "scenarios" / "valid" / "arresters.yaml",
        ROOT / "tests" / "scenarios" / "valid" / "cards.yaml",
        ROOT / "tests" / "scenarios" / "valid" / "factors.yaml",
    )
}


# Of the dairy what varies is left out, for speed; another file has it.
del FILES["brackenmoss-dairy"]["worst of"]


def change_and_read(name: str, draw: Draw, tree_of: TreeOf) -> None:
    changed = copy.deepcopy(FILES[name])
    for _ in range(draw(st.integers(1, 4))):
        mutate(changed, draw)
    settle(lambda: read(tree_of(changed), "f"))


@pytest.mark.parametrize("name", list(FILES))
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_scenario_with_nodes_changed(name: str, data: st.DataObject, tree_of: TreeOf) -> None:
    change_and_read(name, data.draw, tree_of)


@pytest.mark.slow
@pytest.mark.parametrize("name", list(FILES))
@settings(max_examples=1000, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_many_scenarios_with_nodes_changed(name: str, data: st.DataObject, tree_of: TreeOf) -> None:
    change_and_read(name, data.draw, tree_of)
