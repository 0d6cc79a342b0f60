"""``python -m tests.mutants`` writes ``docs/mutants.md``: every mutant and what notices it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from tests.mutants.listing import ROOT, Mutant, mutants

PAGE = ROOT / "docs" / "mutants.md"

HEAD = """# What the tests would notice

Written by `make checks`; `make verify` holds every row. Each row is a *mutant*: one line of the
program made wrong on purpose, in a copy, as it could have been written by mistake. Most would
give a plausible number and no error. The tests in the last column pass on the program as it is;
on that copy at least one of them must fail, by a wrong value or a refusal and not by a crash.

There are {count} of them, in `tests/mutants/mutants.toml`. That they are all noticed does not
prove that every other mistake would be.
"""


def page() -> str:
    """The whole page."""
    return HEAD.format(count=len(mutants())) + "".join(_sections())


def _sections() -> Iterator[str]:
    for part, members in groupby(mutants(), key=lambda mutant: mutant.part):
        yield f"\n## {part.capitalize()}\n\n"
        yield "| mutant | in | what it would do | noticed by |\n|---|---|---|---|\n"
        yield from map(_row, members)


def _row(mutant: Mutant) -> str:
    tests = ", ".join(f"`{test.removeprefix('tests/')}`" for test in mutant.tests)
    file = mutant.file.removeprefix("surgesim/")
    return f"| {mutant.name} | `{file}` | {mutant.why} | {tests} |\n"


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
