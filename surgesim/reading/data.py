"""Where the data that ship with the package lie: model cards and demo installations."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from surgesim.errors import SurgesimError

DataKind = Literal["models", "scenarios"]


def data_folder(kind: DataKind) -> Path:
    """Return the folder of the shipped model cards or demo scenarios.

    An installed wheel carries them inside the package; an editable installation reads
    them at the top level of its checkout, where they are edited.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_data" / kind, package.parent / kind):
        if folder.is_dir():
            return folder
    raise SurgesimError(
        f"the {kind} that ship with surgesim are missing: looked in "
        f"{package / '_data' / kind} and {package.parent / kind}; install the package again"
    )
