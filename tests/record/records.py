"""Records taken apart, changed and put together again, and the command line to run them by."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from surgesim.cli import cli
from surgesim.studies.record import MANIFEST, sealed
from surgesim.studies.record_file import write_zip

SMALL = Path(__file__).parent / "data" / "small.yaml"
Parts = dict[str, bytes]


def run_command(*words: str | Path) -> Result:
    """The command line in this process; never a traceback."""
    result = CliRunner().invoke(cli, [str(word) for word in words], catch_exceptions=False)
    assert result.exit_code in (0, 1, 2, 3)
    return result


def parts_of(path: Path) -> Parts:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def manifest_of(parts: Mapping[str, bytes]) -> dict[str, Any]:
    manifest: dict[str, Any] = json.loads(parts[MANIFEST])
    return manifest


def resealed(parts: Parts, **changes: Any) -> Parts:
    """The parts with a manifest whose checksums are right again, as a forger would have them."""
    manifest = {**manifest_of(parts), **changes}
    if "parts" not in changes:
        manifest["parts"] = {
            name: {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
            for name, data in sorted(parts.items())
            if name != MANIFEST
        }
    return {**parts, MANIFEST: json.dumps(sealed(manifest)).encode()}


@dataclass(frozen=True)
class Made:
    """The record's file, and a maker of changed copies of it."""

    path: Path
    folder: Path

    @property
    def parts(self) -> Parts:
        return parts_of(self.path)

    def copy(self, parts: Mapping[str, bytes], name: str = "changed.record") -> Path:
        path = self.folder / name
        write_zip(path, parts)
        return path

    def forged(self, change: Callable[[dict[str, Any]], None]) -> Path:
        """A copy whose findings were changed, with right checksums."""
        parts = self.parts
        findings = json.loads(parts["findings.json"])
        change(findings)
        parts["findings.json"] = json.dumps(findings).encode()
        return self.copy(resealed(parts))
