"""What a second engine process at once brings."""

from __future__ import annotations

from machine import DAIRY, Clock, heading, table

from surgesim.scenario.file import load
from surgesim.studies.study import study

CHOSEN = {"fitted": ["both"], "card": ["class I"], "bond": ["in the duct"]}


def main() -> None:
    """Time a study with one worker and with two."""
    heading("Workers")
    file = load(DAIRY)
    cases = len(file.cases(chosen=CHOSEN))
    warm = {"array earth": ["dry"], "arrester tolerance": ["low"]}
    study(file, chosen={**CHOSEN, **warm})  # imports and caches
    clock = Clock()
    for workers in (1, 2):
        with clock(str(workers)):
            study(file, chosen=CHOSEN, workers=workers)
    table(
        [
            ("cases", f"{cases:6d}"),
            ("1 worker", f"{clock.seconds['1']:6.1f} s"),
            ("2 workers", f"{clock.seconds['2']:6.1f} s"),
            ("faster by", f"{clock.seconds['1'] / clock.seconds['2']:6.2f}"),
        ]
    )


if __name__ == "__main__":
    main()
