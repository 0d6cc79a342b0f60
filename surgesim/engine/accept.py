"""Whether an answer of the engine may be believed.

ngspice writes its file and often says 0 after runs that broke off, so nothing is taken on
trust: see the checks in :func:`accept`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.names import without_deck_names
from surgesim.engine.rawfile import read_raw
from surgesim.engine.run import Answer
from surgesim.engine.writer import Deck, made_of
from surgesim.network.circuit import Network
from surgesim.network.standing import standing
from surgesim.network.waveforms import Waveforms

TELLTALES = (
    "positive definite",
    "aborted",
    "Error",
    "Fatal",
    "too small",
    "singular matrix",
)
"""Words of ngspice's log after which its numbers are not to be used."""

SHRUNK = 1e-6
"""Share of the longest step below which a step is no answer to steepness any more.

Of the first such length of time it says nothing: a surge that is steep from the start, which meets
an inductance at rest, is begun in steps as short as ngspice has, and rightly.

What Newton's iterations leave undecided of a current, a thousandth of it, an inductance turns into
a voltage that grows as the step shrinks. From there on ngspice shortens its steps for noise of its
own making, and writes 1e16 V as a result.

Nor where it lands on the corner of a course it was given: a step that happened to end just before
one is followed by one as short, and steps grow from that again, each twice as long as the last.
Those shorter than this share are over within twice their length; noise goes on.
"""

_STEPPED = "stepping"
"""What ngspice speaks of where it does not find the state at rest at once."""

_WHERE_IT_IS = re.compile(r"Reference value :\s*\d[\d.]*(?:e[+-]?\d+)?")

_COMPLAINTS = (*TELLTALES, "Warning", "error", "fatal", "failed")


class Refused(Exception):
    """Why an answer is not taken; a plain sentence."""


class NotAtRest(Refused):
    """An answer that does not begin where the network stands before the surge."""


def accept(answer: Answer, deck: Deck) -> Mapping[str, NDArray[np.float64]]:
    """The vectors of a complete, finite and unremarkable run; else :class:`Refused`."""
    log = without_deck_names(answer.log)
    told = next((word for word in TELLTALES if word in log), None)
    if told is not None:
        raise Refused(f"ngspice reported {told!r}")
    if answer.code != 0:
        raise Refused(f"ngspice ended with exit code {answer.code}")
    try:
        vectors = read_raw(answer.raw)
    except (ValueError, KeyError) as error:
        raise Refused(str(error)) from error
    _require_complete(vectors, deck)
    return vectors


def require_rest(network: Network, waves: Waveforms, answer: Answer) -> None:
    """Raise :class:`NotAtRest` for a state at rest that is none.

    Asked of what took ngspice more than a first try: on its other ways to a state at rest it has
    come out a kilovolt from it, and said that it had succeeded. Every result is held to the same
    once more when it is measured.
    """
    if _STEPPED not in answer.log:
        return
    try:
        found = standing(network, waves)
    except np.linalg.LinAlgError:
        return  # said of the whole result, with what to do about it
    if found.apart > found.limit:
        raise NotAtRest(f"{found.node!r} did not begin at rest but {found.apart:.2g} V from it")


def complaints(answer: Answer, deck: Deck) -> str:
    """What ngspice said that matters, in its own words but with the user's names."""
    # the running count of where it is comes without a line's end before what matters
    log = _WHERE_IT_IS.sub("\n", answer.log)
    lines = (line.strip() for line in log.splitlines())
    kept = dict.fromkeys(line for line in lines if any(word in line for word in _COMPLAINTS))
    # of its many tries to find a state at rest only those that came to an end are worth a line
    kept = {line: None for line in kept if "gmin increment" not in line} or kept
    return deck.names.in_user_words("\n".join(list(kept)[:8]))


def _require_complete(vectors: Mapping[str, NDArray[np.float64]], deck: Deck) -> None:
    wanted = ("time", *made_of(deck.voltages), *made_of(deck.currents))
    missing = [name for name in wanted if name not in vectors]
    if missing:
        raise Refused(f"the answer lacks {deck.names.in_user_words(', '.join(missing))}")
    time = vectors["time"]
    if len(time) < 2 or not np.all(np.diff(time) > 0):
        raise Refused("the answer's time does not run forward")
    if time[0] != 0.0 or time[-1] < deck.plan.stop * (1 - 1e-6):
        raise Refused(f"the answer runs from {time[0]:g} s to {time[-1]:g} s only")
    least = SHRUNK * deck.plan.step
    counted = (time[1:] > deck.plan.step) & ~_about(time[1:], deck.corners, within=2 * least)
    shortest = float(np.min(np.diff(time)[counted], initial=deck.plan.step))
    if shortest < least:
        raise Refused(f"its steps shrank to {shortest:.1g} s")
    for name in wanted:
        if not np.all(np.isfinite(vectors[name])):
            raise Refused(f"{deck.names.in_user_words(name)} is not finite throughout")


def _about(
    time: NDArray[np.float64], corners: tuple[float, ...], *, within: float
) -> NDArray[np.bool_]:
    """Which points lie about a corner, s."""
    marks = np.array([-np.inf, *sorted(corners), np.inf])
    after = np.searchsorted(marks, time)
    apart = np.minimum(time - marks[after - 1], marks[after] - time)
    return np.asarray(apart <= within)
