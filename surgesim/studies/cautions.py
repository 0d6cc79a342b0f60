"""What a reader must know before using a number, as far as the findings themselves tell it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from surgesim.findings.knife_edge import SUSPECTED
from surgesim.studies.crosscheck_tally import is_knife_edge
from surgesim.studies.info import ClaimInfo
from surgesim.studies.worst import Record

ALWAYS = (
    "A simulation, not a design approval: computed margins under the listed assumptions.",
    "Withstand values are those of new, dry equipment under a 1.2/50 impulse; a shorter or "
    "ringing voltage is held against the same number.",
    "PV conductors are live whenever there is light. Do not work at arrays, boards, rods or "
    "bonds during thunderstorms.",
)

FASTEST_FRONT = 100e-9
"""Shortest front, s, that leads, bonds and electrodes may be lumped for: 3 m of lead are crossed
in a tenth of it, and a lumped inductance's damping (L/R of 1 ns) takes a percent of its current."""

MOST_LISTED = 8
"""Cases named one by one."""


def cautions(
    cases: Sequence[Record], *, unchecked: Iterable[ClaimInfo], own: Iterable[str]
) -> list[str]:
    """The cautions of a study: those that always stand, those of its numbers, its own."""
    return [
        *ALWAYS,
        *_guesses(cases),
        *_standing(cases),
        *_duty_rule(cases),
        *_knife_edges(cases),
        *_too_fast(cases),
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


def _standing(cases: Sequence[Record]) -> Iterator[str]:
    """Pairs that the operating voltage alone puts beyond their limit."""
    highest: dict[str, tuple[float, str, float]] = {}
    for case in cases:
        for terminal in case["terminals"]:
            volts, limit = abs(terminal["bias_v"]), terminal["withstand_v"]
            name = f"{terminal['equipment']}, {terminal['pair']}"
            if volts > max(limit, highest.get(name, (0.0, "", 0.0))[0]):
                highest[name] = volts, terminal["limit"]["kind"], limit
    for name, (volts, kind, limit) in highest.items():
        yield (
            f"Before any surge {name} stands at {volts:.4g} V, above its {kind} of {limit:.4g} V: "
            "that is a fault of the layout, not of its surge protection."
        )


def _knife_edges(cases: Sequence[Record]) -> Iterator[str]:
    """Cases whose answer may as well be another, found or only suspected."""
    found = [case["id"] for case in cases if is_knife_edge(case)]
    if found:
        yield (
            f"Knife-edge: in {_listed(found)} insulation is at the edge of firing. Two outcomes are"
            " legitimate, and the worse of them counts at each terminal."
        )
    suspected = [
        case["id"]
        for case in cases
        if not case.get("crosscheck")
        and any(str(note).startswith(SUSPECTED) for note in case["notes"])
    ]
    if suspected:
        yield (
            f"Knife-edge suspected: in {_listed(suspected)} insulation may be at the edge of"
            " firing, and another outcome be as legitimate; --crosscheck examines it."
        )


def _listed(ids: Sequence[str]) -> str:
    more = f" and {len(ids) - MOST_LISTED} more" if len(ids) > MOST_LISTED else ""
    return f"{', '.join(ids[:MOST_LISTED])}{more}"


def _too_fast(cases: Sequence[Record]) -> Iterator[str]:
    """Surges that the model does not resolve."""
    fronts = {str(case["surge"]): case["surge_figures"]["t1_s"] for case in cases}
    for name, front in fronts.items():
        if front < FASTEST_FRONT:
            yield (
                f"Surge {name!r} is faster than the model resolves: its front is"
                f" {1e9 * front:.3g} ns; leads, bonds and electrodes count as lumped, which holds"
                f" from {1e9 * FASTEST_FRONT:g} ns on. Do not rely on the peaks it makes there."
            )


def _duty_rule(cases: Sequence[Record]) -> Iterator[str]:
    if any(arrester["class"] == "II" for case in cases for arrester in case["arresters"]):
        yield (
            "Charge and specific energy of any wave are held against those of one 8/20 impulse "
            "at the largest rated current of a class II arrester: a rule of this program, not "
            "of a standard."
        )
