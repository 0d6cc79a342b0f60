"""What a run that failed left behind, read as far as it goes: its log and its part of a record.

ngspice writes points as it goes and their number when it ends, so that a run that was ended or
gave up has points and says it has none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surgesim.engine.names import Names
from surgesim.engine.parts import added
from surgesim.engine.rawfile import read_raw
from surgesim.engine.windows import Plan
from surgesim.engine.writer import Deck
from surgesim.network.circuit import Network

Array = NDArray[np.float64]

LAST_POINTS = 40
"""Points before the stop over which a node is looked at for what it did last."""

STALLED = 0.1
"""Mean of the last steps, as a share of the ceiling, below which the engine was shortening them
itself: it was no longer getting on."""

_TROUBLE = re.compile(r"(?:trouble with (?:node |\S+-instance )?|check nodes? )\W*(\w+)")
_WITHOUT = np.empty(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A failed run: its network and plan, the names its log complains of, how far it came.

    ``blamed`` are names of nodes and elements of the network, ``time`` in s and ``voltages``
    (nodes and states of insulation, V) what there is of a record. ``limit`` is the time (s) the
    run was given, where it was ended for taking longer.
    """

    network: Network
    plan: Plan
    blamed: tuple[str, ...]
    singular: bool
    time: Array
    voltages: Mapping[str, Array]
    limit: float | None

    @property
    def reached(self) -> float:
        """Where the record stops, s; zero without one."""
        return float(self.time[-1]) if self.time.size else 0.0

    @property
    def stalled(self) -> bool:
        """Whether the last steps had become so short that no end was in sight."""
        late = self.time[-LAST_POINTS:]
        return late.size > 1 and bool(np.mean(np.diff(late)) < STALLED * self.plan.step)

    def restless(self) -> str | None:
        """The node that moved most over the last points, back and forth before all.

        What all nodes do together, following the surge, is one way; what keeps an engine from
        going on goes up and down.
        """
        nodes = {n: self.voltages[n][-LAST_POINTS:] for n in self._nodes()}
        swung = {n: _there_and_back(values) for n, values in nodes.items()}
        moved = {n: float(np.sum(np.abs(np.diff(values)))) for n, values in nodes.items()}
        for measure in (swung, moved):
            node = max(measure, key=measure.__getitem__, default=None)
            if node is not None and measure[node] > 1e-9 * self._largest(node):
                return node
        return None

    def _nodes(self) -> list[str]:
        return [node for node in self.network.nodes() if len(self.voltages.get(node, ())) > 1]

    def _largest(self, node: str) -> float:
        return float(np.max(np.abs(self.voltages[node]), initial=0.0))


def _there_and_back(values: Array) -> float:
    """How far a series travelled beyond where it got to."""
    steps = np.diff(values)
    return float(np.sum(np.abs(steps)) - abs(np.sum(steps)))


def evidence(
    network: Network, deck: Deck, *, log: str, raw: bytes, limit: float | None = None
) -> Evidence:
    """What a failed run of ``deck`` tells."""
    time, voltages = _partial(raw, deck)
    return Evidence(
        network=network,
        plan=deck.plan,
        blamed=tuple(dict.fromkeys(_blamed(log, deck.names))),
        singular="singular matrix" in log,
        time=time,
        voltages=voltages,
        limit=limit,
    )


def _partial(raw: bytes, deck: Deck) -> tuple[Array, Mapping[str, Array]]:
    """The points there are, up to the first that is not finite; nothing from an unusable file."""
    try:
        vectors = read_raw(raw, broken_off=True)
    except (ValueError, KeyError, IndexError):
        return _WITHOUT, {}
    time = vectors.get("time", _WITHOUT)
    there = {n: s for n, s in deck.voltages.items() if all(v in vectors for _, v in s)}
    kept = {name: added(result, vectors) for name, result in there.items()}
    finite = np.all([np.isfinite(values) for values in (time, *kept.values())], axis=0)
    end = int(np.argmin(finite)) if not np.all(finite) else len(time)
    return time[:end], {name: values[:end] for name, values in kept.items()}


def _blamed(log: str, names: Names) -> list[str]:
    """Names of the network that the engine's complaints are about."""
    known = {deck.lower(): name for name, deck in (*names.nodes.items(), *names.elements.items())}
    found = []
    for word in _TROUBLE.findall(log):
        # ngspice puts a letter of kind before an element's name, and a tag after inner nodes
        for start in (word.lower(), word.lower()[1:]):
            pieces = start.split("_")
            joined = ["_".join(pieces[:count]) for count in range(len(pieces), 0, -1)]
            found += [known[name] for name in joined if name in known][:1]
    return found
