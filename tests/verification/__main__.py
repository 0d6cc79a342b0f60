"""``python -m tests.verification`` writes ``docs/checks.md``: published against computed."""

from __future__ import annotations

from pathlib import Path

from tests.verification.circuits import Claim, claims
from tests.verification.solvers import SOLVERS

PAGE = Path(__file__).parents[2] / "docs" / "checks.md"

HEAD = """# What it was checked against

Written by `make checks`; `make test` holds both solvers to every row. *ngspice* is
the engine that every result comes from; the *oracle* is a second solver that shares no code with
the way there, only the circuit. The deviation is that of ngspice.

| claim | source | published | ngspice | oracle | deviation | allowed |
|---|---|---|---|---|---|---|
"""

TAIL = """
The closed forms behind the circuits have their checks, each with its source beside it, in
`tests/physics`: wave shapes (IEC 62305-1, IEC 60060-1, IEEE C62.41.2), line constants (Rosa,
Grover, scikit-rf; Deri against Carson's integral, Saad against Pollaczek's), modes (Tv Z Ti^-1 = Zc
on random bundles), rods (Dwight; MIL-HDBK-419A), varistor laws (published per-unit curves).
"""


def row(claim: Claim) -> str:
    """One line of the table."""
    found = {
        name: claim.read(solver(claim.circuit, claim.stop)) for name, solver in SOLVERS.items()
    }
    deviation = found["ngspice"] / claim.published - 1.0
    numbers = [f"{value:.5g} {claim.unit}" for value in (claim.published, *found.values())]
    limits = f"{100 * deviation:+.2f} % | {100 * claim.tolerance:g} %, {claim.reason}"
    return f"| {claim.name} | {claim.source} | {' | '.join(numbers)} | {limits} |\n"


def main() -> None:
    """Write the page."""
    PAGE.write_text(HEAD + "".join(map(row, claims())) + TAIL, encoding="utf-8")


if __name__ == "__main__":
    main()
