"""Running tests on a copy of the project, with or without a mutant in it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.listing import Mutant

COPIED = ("surgesim", "tests", "models", "scenarios", "pyproject.toml")

TIMEOUT = 600.0
"""Seconds one trial may take. One that takes longer has shown nothing."""

START = """
import sys
import pytest
import surgesim
print(surgesim.__file__, flush=True)
sys.exit(pytest.main(sys.argv[1:]))
"""
"""The package under test is told first: an editable install would win over a copy unnoticed."""

NOTICED = ("assert ", "AssertionError", "Failed: ", "surgesim.errors.", "ExceptionGroup: ")
"""How the reason of a failure begins where a test saw a wrong answer, or the program refused to
give one. The group is hypothesis's, which found more than one way to fail."""

FAILED = re.compile(r"^FAILED (\S+?)(?:\[.*\])? - (.*)$", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What pytest made of a copy: its exit code, each failed test with its reason, all it said."""

    code: int
    failed: tuple[tuple[str, str], ...]
    said: str

    @property
    def noticed(self) -> bool:
        """Whether a test that ran to its end found the answer wrong, or had none from a refusal."""
        reasons = [reason for _, reason in self.failed]
        return self.code == 1 and any(reason.startswith(NOTICED) for reason in reasons)


def copied(project: Path, root: Path, *, mutant: Mutant | None = None) -> Path:
    """A copy of ``project`` as the new folder ``root``, with ``mutant`` in it."""
    root.mkdir()
    for name in COPIED:
        source = project / name
        # with what is compiled, which stays valid where its source keeps its time and size
        (shutil.copytree if source.is_dir() else shutil.copy2)(source, root / name)
    if mutant is not None:
        path = root / mutant.file
        text = mutant.applied(path.read_text(encoding="utf-8"))
        for stale in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
            stale.unlink()
        path.write_text(text, encoding="utf-8")
    return root


def tried(root: Path, tests: Sequence[str], *, first_failure_only: bool = True) -> Trial:
    """Run tests of a copy on that copy. RuntimeError if they ran on another package."""
    arguments = ["-q", "--tb=short", "-rf", "-p", "no:cacheprovider", *tests]
    if first_failure_only:
        arguments.append("-x")
    done = subprocess.run(
        [sys.executable, "-c", START, *arguments],
        cwd=root,
        # wide enough that no reason is cut
        env={**os.environ, "PYTHONPATH": str(root), "COLUMNS": "400"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=TIMEOUT,
        check=False,
    )
    package, _, said = done.stdout.partition("\n")
    if Path(package) != root / "surgesim" / "__init__.py":
        raise RuntimeError(f"the tests ran on another package than the copy's:\n{done.stdout}")
    failed = tuple((match[1], match[2]) for match in FAILED.finditer(said))
    return Trial(code=done.returncode, failed=failed, said=said)
