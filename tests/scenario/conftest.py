"""What the tests of the scenario share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from surgesim.reading.tree import Listing, Mapping, Scalar, Spot, Tree


def _tree_of(data: Any) -> Tree:
    spot = Spot(1, 1)
    if isinstance(data, dict):
        entries = {key: _tree_of(value) for key, value in data.items()}
        return Mapping(entries, dict.fromkeys(data, spot), spot)
    if isinstance(data, (list, tuple)):
        return Listing(tuple(_tree_of(item) for item in data), spot)
    return Scalar(data, spot)


@pytest.fixture(scope="session")
def tree_of() -> Callable[[dict[str, Any]], Mapping]:
    """Plain data, every value a text, as the tree that reading them from YAML gives."""

    def mapping_of(data: dict[str, Any]) -> Mapping:
        tree = _tree_of(data)
        assert isinstance(tree, Mapping)
        return tree

    return mapping_of
