"""Arrester devices in their slots: which elements stand between which of their terminals."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from surgesim.catalogue.cards import AnyCard, ArresterDevice
from surgesim.scenario.schema import Arrester

STAR = "star"
"""What a device's own middle point is called."""

ACROSS: dict[str, str] = {
    "2+0": "[plus to pe, minus to pe]",
    "star": "[plus to pe, minus to pe]",
    "delta": "[plus to pe, minus to pe]",
    "1+1": "[l1 to n, n to pe]",
    "3+0": "[l1 to pe, l2 to pe, l3 to pe]",
    "3+1": "[l1 to n, l2 to n, l3 to n, n to pe]",
    "4+0": "[l1 to pe, l2 to pe, l3 to pe, n to pe]",
}
"""For each connection an example of what a slot's ``across`` has to be."""

_COUNT = {"2+0": 2, "star": 2, "delta": 2, "1+1": 1, "3+0": 3, "3+1": 3, "4+0": 4}
_OVER_NEUTRAL = ("1+1", "3+1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One element of a slot, from a terminal or inner point to another, with its card.

    ``alone`` where no other element stands in series with it between the same two terminals.
    """

    words: str
    first: str
    second: str
    card: str
    alone: bool = True


def legs(slot: Arrester, cards: Mapping[str, AnyCard]) -> tuple[Leg, ...]:
    """Every element of a slot, in order. What stands ``across`` must fit its device."""
    card = cards[slot.card]
    if not isinstance(card, ArresterDevice):
        pairs = [words.split(" to ", 1) for words in slot.across]
        return tuple(
            Leg(words=words, first=first, second=second, card=slot.card)
            for words, (first, second) in zip(slot.across, pairs, strict=True)
        )
    return tuple(leg for pair, names in _pairs(slot, card) for leg in _in_series(pair, names))


def modes(slot: Arrester, cards: Mapping[str, AnyCard]) -> tuple[tuple[str, str], ...]:
    """The pairs of terminals of a device between which it limits; none for single elements."""
    card = cards[slot.card]
    if not isinstance(card, ArresterDevice):
        return ()
    across = [_ends(words) for words in slot.across]
    live = [first for first, _ in across]
    bar = across[-1][1]
    if card.connection in _OVER_NEUTRAL:
        return (*across, *((line, bar) for line in live[:-1]))
    if len(live) == 2:
        return (*across, (live[0], live[1]))
    return tuple(across)


def misfit(slot: Arrester, device: ArresterDevice) -> str:
    """What ``across`` would have to be for a device; empty where it fits."""
    pairs = [_ends(words) for words in slot.across]
    count, wanted = _COUNT[device.connection], ACROSS[device.connection]
    if device.connection in _OVER_NEUTRAL:
        *lines, last = pairs
        fits = len(lines) == count and {second for _, second in lines} == {last[0]}
    else:
        fits = len(pairs) == count and len({second for _, second in pairs}) == 1
    own = any(STAR in pair for pair in pairs)  # would be taken for the device's own point
    return "" if fits and not own else wanted


def _ends(words: str) -> tuple[str, str]:
    first, _, second = words.partition(" to ")
    return first, second


def _pairs(
    slot: Arrester, device: ArresterDevice
) -> Iterator[tuple[tuple[str, str], tuple[str, ...]]]:
    """Between which points the device's legs stand, and of which cards."""
    across, earth = [_ends(words) for words in slot.across], device.earth or ()
    if device.connection == "star":
        yield from (((first, STAR), device.pole) for first, _ in across)
        yield (STAR, across[-1][1]), earth
    elif device.connection in _OVER_NEUTRAL:
        yield from ((pair, device.pole) for pair in across[:-1])
        yield across[-1], earth
    else:
        yield from ((pair, device.pole) for pair in across)
        if device.connection == "delta":
            yield (across[0][0], across[1][0]), device.pole


def _in_series(pair: tuple[str, str], names: tuple[str, ...]) -> Iterator[Leg]:
    whole = f"{pair[0]} to {pair[1]}"
    if len(names) == 1:
        yield Leg(words=whole, first=pair[0], second=pair[1], card=names[0])
        return
    points = [pair[0], *(f"{whole}/{k}" for k in range(1, len(names))), pair[1]]
    for k, name in enumerate(names):
        yield Leg(
            words=f"{whole}, {k + 1}: {name}", first=points[k], second=points[k + 1], card=name,
            alone=False,
        )  # fmt: skip
