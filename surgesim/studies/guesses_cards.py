"""Numbers of cards that have no source, or one only from memory, and their ranges."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from surgesim.build import build
from surgesim.catalogue.cards import AnyCard
from surgesim.catalogue.described import card_fields
from surgesim.scenario.schema import Scenario
from surgesim.studies.guess import PRACTICE, End, Fixed, Guess, assumed

RANGES: dict[str, tuple[float, float, str]] = {
    "reference voltage": (0.95, 1.05, "5 % either way, as discs are sorted"),
    "Up": (0.9, 1.1, "10 % either way"),
    "second level": (0.95, 1.05, "5 % either way"),
    "Imax": (0.75, 1.25, "a quarter either way"),
    "Iimp": (0.75, 1.25, "a quarter either way"),
    "sparkover": (0.9, 1.1, "10 % either way, beside its tolerance"),
    "impulse sparkover": (0.8, 1.0, "it is the largest, most fire earlier"),
    "glow voltage": (0.8, 1.25, "60 to 100 V, by gas and cathode"),
    "arc voltage": (0.5, 1.75, "10 to 35 V, by the gap"),
    "follow current": (0.5, 2.0, "half to twice, by the gap"),
    "capacitance": (0.5, 2.0, "half to twice, by the disc"),
    "inductance": (0.5, 2.0, "half to twice, by the base"),
    "permittivity": (0.92, 1.2, "2.3 to 3, by the insulation"),
    "core diameter": (0.9, 1.1, "10 % either way, by the maker"),
    "resistance": (0.95, 1.25, "5 % less to 25 % more, a warm conductor"),
    "screen resistance": (0.67, 1.33, "a third either way, by the braid"),
    "screen transfer inductance": (0.3, 2.0, "a third to twice, by the braid"),
    "sheath permittivity": (0.75, 1.5, "3 to 6, by the compound"),
    "transfer inductance": (0.3, 3.0, "a third to three times, by its slots"),
}
"""Field of a card -> factors of its two ends, and why."""

STANDARDS = {
    "surge shape": "a constant of a standard's formula: another would be another surge",
    "arrester device": "what is printed on a device, no quantity of its elements",
    "surge generator": "a part of a standard's generator: another would be another generator",
}
THRESHOLD = "a threshold that margins are held against, no quantity of the circuit"
NO_RANGE = "no range is known for it"


def kind_of(source: str) -> str | None:
    """What a source says that is none: guess, no source, from memory; None for a real one."""
    return next((kind for kind in ("guess", "no source", "from memory") if kind in source), None)


def guesses_of_cards(scenario: Scenario) -> Iterator[Guess | Fixed]:
    """Every number of the cards in use that nothing but memory or practice vouches for."""
    for name, card in scenario.cards.items():
        for entry in card_fields(card):
            kind = kind_of(entry["source"])
            if kind is None:
                continue
            what = f"{entry['field']} of card {name}"
            if card.kind in STANDARDS:
                yield Fixed(what=what, kind=kind, reason=STANDARDS[card.kind])
            elif entry["field"] not in RANGES:
                yield Fixed(what=what, kind=kind, reason=NO_RANGE)
            else:
                yield _guess(scenario, name, entry, what=what, kind=kind)


def fixed_assumptions(scenario: Scenario) -> Iterator[Fixed]:
    """Assumptions without a source that have no number of the circuit to vary."""
    asked = assumed(scenario, "asked margin")
    if asked:
        yield Fixed(what=asked, kind="from memory", reason=THRESHOLD)


def _guess(scenario: Scenario, name: str, entry: dict[str, str], *, what: str, kind: str) -> Guess:
    low, high, reason = RANGES[entry["field"]]
    cards = [_changed(scenario.cards[name], entry["field"], factor) for factor in (low, high)]
    return Guess(
        what=what,
        kind=kind,
        used=entry["value"],
        ends=tuple(
            End(
                value=next(e["value"] for e in card_fields(card) if e["field"] == entry["field"]),
                network=partial(build, _with_card(scenario, name, card)),
            )
            for card in cards
        ),
        reason=f"{reason} ({PRACTICE})",
    )


def _changed(card: AnyCard, field: str, factor: float) -> AnyCard:
    attribute = field.replace(" ", "_")
    number: Any = getattr(card, attribute)
    value = float(f"{factor * number.value:.4g}")
    return card.model_copy(update={attribute: number.model_copy(update={"value": value})})


def _with_card(scenario: Scenario, name: str, card: AnyCard) -> Scenario:
    return scenario.model_copy(update={"cards": {**scenario.cards, name: card}})
