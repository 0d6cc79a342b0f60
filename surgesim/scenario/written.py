"""A scenario as text: the resolved form, which reads back to an equal object."""

from __future__ import annotations

import io
from typing import Any

from surgesim.scenario.schema import Scenario


def written(scenario: Scenario) -> str:
    """The scenario as YAML with every default, assumption and card in it."""
    return as_yaml(scenario.written())


def as_yaml(data: dict[str, Any]) -> str:
    """Plain data as YAML text in block style, one key a line."""
    from ruamel.yaml import YAML

    writer = YAML(typ="safe", pure=True)
    writer.default_flow_style = False
    writer.allow_unicode = True
    writer.width = 4096
    writer.representer.sort_base_mapping_type_on_output = False
    stream = io.StringIO()
    writer.dump(data, stream)
    return stream.getvalue()
