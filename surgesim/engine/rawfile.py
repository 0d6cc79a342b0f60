"""The binary file ngspice leaves its vectors in."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray


def read_raw(content: bytes, *, broken_off: bool = False) -> Mapping[str, NDArray[np.float64]]:
    """Vectors of a transient run by name in lower case, each of shape (points,).

    The file is a text header, a line ``Binary:`` and doubles, all vectors of a point together.
    Raises ``ValueError`` for any other file and for one cut short. Of a run that was
    ``broken_off`` the header does not know the number of points: then as many as there are.
    """
    header, found, body = content.partition(b"\nBinary:\n")
    if not found:
        raise ValueError("the engine's file has no binary part")
    lines = header.decode("latin-1").splitlines()
    facts = dict(line.split(":", 1) for line in lines if ":" in line and line[0] != "\t")
    if facts.get("Plotname", "").strip() != "Transient Analysis":
        raise ValueError(f"the engine's file holds {facts.get('Plotname', 'nothing').strip()!r}")
    if facts.get("Flags", "").strip() != "real":
        raise ValueError("the engine's file does not hold real numbers")
    width, points = int(facts["No. Variables"]), int(facts["No. Points"])
    if broken_off:
        points = len(body) // (8 * max(width, 1))
    names = [line.split("\t")[2].lower() for line in lines if line.startswith("\t")]
    if len(names) != width or len(body) < 8 * width * points:
        raise ValueError("the engine's file is cut short")
    table = np.frombuffer(body, dtype="<f8", count=width * points).reshape(points, width)
    return dict(zip(names, np.ascontiguousarray(table.T), strict=True))
