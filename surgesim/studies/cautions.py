"""What a reader must know before using a number, as far as the findings themselves tell it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from surgesim.studies.info import ClaimInfo
from surgesim.studies.worst import Record

ALWAYS = (
    "A simulation, not a design approval: computed margins under the listed assumptions.",
    "Withstand values are those of new, dry equipment under a 1.2/50 impulse; a shorter or "
    "ringing voltage is held against the same number.",
    "PV conductors are live whenever there is light. Do not work at arrays, boards, rods or "
    "bonds during thunderstorms.",
)


def cautions(
    cases: Sequence[Record], *, unchecked: Iterable[ClaimInfo], own: Iterable[str]
) -> list[str]:
    """The cautions of a study: those that always stand, those of its numbers, its own."""
    return [
        *ALWAYS,
        *_guesses(cases),
        *_duty_rule(cases),
        *(f"Claim {claim.name!r} was not checked: its case was not run." for claim in unchecked),
        *own,
    ]


def _guesses(cases: Sequence[Record]) -> Iterator[str]:
    guessed = dict.fromkeys(
        f"{terminal['equipment']} ({terminal['pair']})"
        for case in cases
        for terminal in case["terminals"]
        if terminal["limit"]["origin"] == "guess"
    )
    if guessed:
        yield f"Limits that are guesses: {', '.join(guessed)}."


def _duty_rule(cases: Sequence[Record]) -> Iterator[str]:
    if any(arrester["class"] == "II" for case in cases for arrester in case["arresters"]):
        yield (
            "Charge and specific energy of any wave are held against those of one 8/20 impulse "
            "at the largest rated current of a class II arrester: a rule of this program, not "
            "of a standard."
        )
