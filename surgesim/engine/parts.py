"""What lowering an element produces: deck elements as plain records, and what to read back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Kind = Literal["R", "L", "C", "V", "B", "E", "F", "K", "T"]

Sum = tuple[tuple[float, str], ...]
"""A result as what it is of some of the engine's vectors: so many times each, added up."""


@dataclass(frozen=True, slots=True)
class Part:
    """One deck element. ``name`` comes without its letter; ``value`` is what follows the nodes.

    For a ``K`` the ``nodes`` are the names of its two inductors, letters included.
    """

    kind: Kind
    name: str
    nodes: tuple[str, ...]
    value: str

    @property
    def full_name(self) -> str:
        """The name as ngspice has it: the letter of its kind in front."""
        return f"{self.kind}{self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lowered:
    """An element as it stands in a deck.

    ``voltages`` maps a result's name to the deck node that carries it, ``currents`` to the
    deck element whose branch current it is: only what goes beyond the network's own nodes.
    ``added_voltages`` and ``added_currents`` are results that no vector carries by itself.
    ``corners`` are moments (s) of a course it is given, on which the engine lands.
    """

    parts: tuple[Part, ...]
    voltages: Mapping[str, str] = field(default_factory=dict)
    currents: Mapping[str, str] = field(default_factory=dict)
    added_voltages: Mapping[str, Sum] = field(default_factory=dict)
    added_currents: Mapping[str, Sum] = field(default_factory=dict)
    corners: tuple[float, ...] = ()


def added(result: Sum, vectors: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """A result from the engine's vectors; what is one of them by itself is not copied."""
    (share, first), *others = result
    values = vectors[first] if share == 1.0 else share * vectors[first]
    for share, vector in others:
        values = values + share * vectors[vector]
    return values
