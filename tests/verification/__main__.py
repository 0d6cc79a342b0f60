"""``python -m tests.verification`` writes ``docs/checks.md``, and its summary into the README."""

from __future__ import annotations

import re
from pathlib import Path

from tests.verification.circuits import Claim
from tests.verification.every import claims
from tests.verification.solvers import SOLVERS

ROOT = Path(__file__).parents[2]
PAGE, README = ROOT / "docs" / "checks.md", ROOT / "README.md"

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
Grover, scikit-rf; bundles, ducts and the soil around one by finite elements, scikit-fem; Deri
against Carson's integral, Saad against Pollaczek's), modes (Tv Z Ti^-1 = Zc on random bundles),
rods (Dwight; MIL-HDBK-419A), varistor laws (published per-unit curves). A line in time is held
against scikit-rf in the frequency domain in `tests/engine/test_frequency_domain.py`, routes over
lossy soil against a frequency-domain solution in `tests/build/test_soil.py`, a gap's follow current
on the mains against scipy in `tests/verification/test_follow_current.py`.
"""

BEGIN, END = "<!-- written by make checks -->", "<!-- end of what make checks writes -->"

SUMMARY_HEAD = """
| claim | source | published | ngspice | second solver | deviation |
|---|---|---|---|---|---|
"""

IN_README = (
    "Lattice of a mismatched line, at 2 travel times",
    "Lattice of a mismatched line, at 8 travel times",
    "200 kV wave from 400 ohm line into 40 ohm cable",
    "Ramp of 3 travel times on an open line",
    "Arrester of 400 kV 30 m from an open end",
    "Stiff step on a line into a capacitor, first re-reflection",
    "Varistor 430 V, 1350 V at 20 kA: residual at 5 kA 8/20",
    "the same: energy of 5 kA 8/20",
    "Lead of 1 uH, drop under 1 kA 8/20",
)

Row = tuple[Claim, dict[str, float]]


def found(claim: Claim) -> Row:
    """A claim with what each solver makes of it."""
    return claim, {
        name: claim.read(solver(claim.circuit, claim.stop)) for name, solver in SOLVERS.items()
    }


def numbers(row: Row) -> list[str]:
    """Published, then each solver's, then the engine's deviation."""
    claim, values = row
    deviation = 100.0 * (values["ngspice"] / claim.published - 1.0)
    shown = [f"{value:.5g} {claim.unit}" for value in (claim.published, *values.values())]
    # no sign on what is zero in the digits shown
    return [*shown, f"{deviation:+.2f} %".replace("-0.00", "0.00").replace("+0.00", "0.00")]


def line(row: Row) -> str:
    """One line of the page."""
    claim, _ = row
    allowed = f"{100 * claim.tolerance:g} %, {claim.reason}"
    return f"| {claim.name} | {claim.source} | {' | '.join(numbers(row))} | {allowed} |\n"


def summary(rows: list[Row]) -> str:
    """The README's section: the claims marked for it."""
    shown = {row[0].name: row for row in rows}
    lines = [
        f"| {name} | {shown[name][0].source} | {' | '.join(numbers(shown[name]))} |\n"
        for name in IN_README
    ]
    return f"{BEGIN}\n{SUMMARY_HEAD}{''.join(lines)}\n{END}"


def main() -> None:
    """Write both."""
    rows = [found(claim) for claim in claims()]
    PAGE.write_text(HEAD + "".join(map(line, rows)) + TAIL, encoding="utf-8")
    section = re.compile(f"{re.escape(BEGIN)}.*{re.escape(END)}", re.DOTALL)
    text = README.read_text(encoding="utf-8")
    README.write_text(section.sub(lambda _: summary(rows), text), encoding="utf-8")


if __name__ == "__main__":
    main()
