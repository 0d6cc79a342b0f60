"""Deck elements to text through PySpice, the only place that knows PySpice.

PySpice is used to print and for nothing else: it checks neither values nor names, so both
arrive here as finished text (see :mod:`surgesim.engine.numbers`, ``names``).
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterable
from typing import Any

from surgesim.engine.parts import Part

with warnings.catch_warnings():
    # PySpice 1.5 has "\s" in plain strings, which newer Pythons warn about when compiling.
    warnings.simplefilter("ignore", DeprecationWarning)
    warnings.simplefilter("ignore", SyntaxWarning)
    from PySpice.Spice.Netlist import Circuit  # type: ignore[import-untyped]

_METHODS = {"R": "R", "L": "L", "C": "C", "V": "V", "B": "B", "E": "VCVS", "F": "F", "K": "K"}
_LINE = re.compile(r"Z0=(?P<impedance>\S+) TD=(?P<time_delay>\S+) (?P<rest>.*)")


class Printer:
    """Prints the elements of one circuit, in the order they are given."""

    def __init__(self) -> None:
        self._circuit: Any = Circuit("deck")

    def lines(self, parts: Iterable[Part]) -> list[str]:
        """One deck line an element. An element's name may be used once a circuit."""
        return [self._line(part) for part in parts]

    def _line(self, part: Part) -> str:
        text = str(self._add(part))
        if not text.isascii() or len(text.splitlines()) != 1:
            raise ValueError(f"element {part.full_name} does not print as one line of ASCII")
        return text

    def _add(self, part: Part) -> Any:
        if part.kind == "T":
            return self._add_line(part)
        method: Callable[..., Any] = getattr(self._circuit, _METHODS[part.kind])
        return method(part.name, *part.nodes, raw_spice=part.value)

    def _add_line(self, part: Part) -> Any:
        """PySpice knows Z0 and TD of a line and insists on them, but not ``rel`` and ``abs``."""
        found = _LINE.fullmatch(part.value)
        if found is None:
            raise ValueError(f"not the value of a line: {part.value!r}")
        return self._circuit.TransmissionLine(
            part.name,
            *part.nodes,
            impedance=found["impedance"],
            time_delay=found["time_delay"],
            raw_spice=found["rest"],
        )
