"""One window cut into pieces of time, with integrals over each of them.

What must balance at every instant balances over every stretch of time. Held only over the
whole window, a fault around the crest would drown in what flows on the tail, and a fault that
reverses would undo itself; held at single instants, capacitors could be checked only by
differentiating. So a window is cut into pieces, each twice as long as all before it.

A window is held to account for the part of it that the record shows: the front from t = 0, the
tail from the front's end.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from surgesim.findings.record import Array
from surgesim.findings.words import moment
from surgesim.network.waveforms import Waveforms

FRONT_PIECES = 12
"""The front's first piece is 1/2048 of it: some ten nanoseconds, before the first arrival."""


class Pieces:
    """The pieces of one window; everything it hands back has one value a piece.

    ``since`` (s) is where the part to be looked at begins. There may be no piece at all, where
    nothing of the window is shown.
    """

    def __init__(self, waves: Waveforms, *, since: float = 0.0) -> None:
        self.waves = waves
        self.cuts = _cuts(waves.time, since)
        ends = waves.time[self.cuts]
        self.elapsed: Array = ends[1:] - ends[0]
        self._half = np.diff(waves.time, prepend=0.0) / 2
        self._weights = self._half + np.append(self._half[1:], 0.0)
        self._known: dict[tuple[str, str], Array] = {}

    def integral(self, values: Array) -> Array:
        """Integral over each piece by the trapezoidal rule, as the engine itself marches."""
        first, last = self.cuts[0], self.cuts[-1] + 1
        weighed = self._weights[first:last] * values[first:last]
        sums = np.add.reduceat(weighed, self.cuts - first)[:-1]
        # a point where two pieces meet was given whole to the later one
        shared = self._half[self.cuts] * values[self.cuts]
        parts: Array = sums + shared[1:] - shared[:-1]
        return parts

    def earlier(self, values: Array, delay: float) -> Array:
        """Integral over each piece moved back by ``delay`` (s); what was before t = 0 stood."""
        time, stop = self.waves.time, self.cuts[-1] + 1
        moved = time[self.cuts] - delay
        at = np.maximum(moved, 0.0)
        k = np.minimum(np.searchsorted(time[:stop], at, side="right"), stop - 1)
        steps = (values[1:stop] + values[: stop - 1]) * self._half[1:stop]
        running = np.concatenate(([0.0], np.cumsum(steps)))[k - 1]
        begun = at - time[k - 1]
        slopes = (values[k] - values[k - 1]) / (time[k] - time[k - 1])
        running += begun * (values[k - 1] + slopes * begun / 2) + (moved - at) * values[0]
        parts: Array = running[1:] - running[:-1]
        return parts

    def change(self, values: Array) -> Array:
        """What was gained from each piece's beginning to its end."""
        ends = values[self.cuts]
        gained: Array = ends[1:] - ends[:-1]
        return gained

    def blur(self, values: Array) -> Array:
        """What one step leaves open of each piece's change: the bends where it begins and ends.

        A method of second order books the change of a store a bend early or late. Of what the
        steps resolve a bend is next to nothing; of what swings within a few steps it is not,
        except where the swing passes through zero, so the largest around is taken.
        """
        last = len(values) - 1
        middle = np.clip(self.cuts, 2, max(last - 2, 2))
        around = np.minimum(middle[:, np.newaxis] + np.arange(-2, 3), last)
        bends = abs(np.diff(values[around], n=2, axis=1)).max(axis=1)
        both: Array = bends[1:] + bends[:-1]
        return both

    def flux(self, node: str) -> Array:
        """Integral of a voltage to remote earth, V s; of a node or of a line's port."""
        if ("flux", node) not in self._known:
            self._known["flux", node] = self.integral(self.waves.at(node))
        return self._known["flux", node]

    def charge(self, branch: str) -> Array:
        """Integral of a recorded current, C."""
        if ("charge", branch) not in self._known:
            self._known["charge", branch] = self.integral(self.waves.currents[branch])
        return self._known["charge", branch]

    def arriving(self, port: str, impedance: float, delay: float) -> tuple[Array, Array]:
        """Integral of what set out at a line's port one delay before, ``v + Z i``, V s, and
        what of it is not known that well.

        A delay is no whole number of steps. The engine, and :meth:`earlier`, must look between
        two points, and may both be wrong by what the wave bends there.
        """
        if ("arriving", port) not in self._known:
            sent = self.waves.voltages[port] + impedance * self.waves.currents[port]
            self._known["arriving", port] = self.earlier(sent, delay)
            bends = np.zeros_like(sent)
            bends[1:-1] = abs(sent[2:] - 2 * sent[1:-1] + sent[:-2])
            self._known["bent", port] = np.cumsum(self.integral(bends))
        return self._known["arriving", port], self._known["bent", port]

    def words(self, piece: int) -> str:
        """When a piece is, for a message."""
        start, end = self.waves.time[self.cuts[piece : piece + 2]]
        return f"{moment(start)} to {moment(end)} in the {self.waves.window}"


def _cuts(time: Array, since: float) -> NDArray[np.intp]:
    """Indices at which pieces begin and end, increasing; at least one."""
    end = float(time[-1])
    if since < time[min(1, len(time) - 1)]:
        wanted = np.concatenate(([0.0], end * 2.0 ** np.arange(1 - FRONT_PIECES, 1.0)))
    else:
        count = max(math.ceil(math.log2(end / since)), 1) if end > since else 0
        wanted = np.geomspace(since, end, count + 1) if count else np.array([end])
    # the last point not after it, so that a window begins where the one before it has ended
    found = np.searchsorted(time, wanted * (1 + 1e-9), side="right") - 1
    return np.unique(found)
