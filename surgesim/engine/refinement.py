"""A network that has a result, run once more with finer or other means over the same times.

What is refined is the accepted result's own plan, not a new one: its steps, its ends, the lines
it lumped. So nothing changes between the two but what was asked to change.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from surgesim.engine.numbers import number
from surgesim.engine.simulation import TIMEOUT, simulate
from surgesim.engine.windows import Plan, finer
from surgesim.network.circuit import Network
from surgesim.network.halves import half_names
from surgesim.network.waveforms import Waveforms

_TRAPEZOIDAL, _GEAR = "method=trap", "method=gear"
_LEANING = "xmu="
"""A trapezoidal rule may lean towards the backward one; Gear's knows nothing of it."""

_TOLERANCE, _OFF = "trtol=", 1000.0
"""Of error control, and from which on it is as good as off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refinement:
    """How a network is run again: steps as a share of those taken, and the other method.

    The methods are the trapezoidal rule, leaning or not, and Gear's of second order; each window
    changes from the one it was run with to the other.
    """

    step: float = 1.0
    other_method: bool = False


def run_again(
    network: Network,
    before: tuple[Waveforms, Waveforms],
    refinement: Refinement,
    *,
    timeout: float = TIMEOUT,
    keep: Path | None = None,
) -> tuple[Waveforms, Waveforms]:
    """Front and tail of a network on the plans of an accepted result, refined.

    ``network`` is the one that gave ``before``, or the same with its lines halved; halves of a
    line that was lumped are lumped, the others travel, at steps of half their delay at most.
    Insulation fires in the new tail as it did in the new front. Raises EngineError.
    """
    front_before, tail_before = before
    front = _again(network, front_before, refinement, None, timeout, keep)
    return front, _again(network, tail_before, refinement, front, timeout, keep)


def _again(
    network: Network,
    before: Waveforms,
    refinement: Refinement,
    front: Waveforms | None,
    timeout: float,
    keep: Path | None,
) -> Waveforms:
    return simulate(
        network,
        window=before.window,
        front=front,
        plan=_plan(network, before, refinement),
        options=_options(before.options, refinement),
        timeout=timeout,
        keep=keep,
    )


def _plan(network: Network, before: Waveforms, refinement: Refinement) -> Plan:
    here = {line.name for line in network.lines}
    lumped = tuple(name for line in before.lumped for name in _here(line, here))
    travelling = (line for line in network.lines if line.name not in lumped)
    ceilings = (min(line.delay) / 2 for line in travelling)
    plan = Plan(window=before.window, step=before.step, stop=before.stop, lumped=lumped)
    return finer(plan, network, step=min(refinement.step * before.step, *ceilings, before.step))


def _here(line: str, names: set[str]) -> Iterator[str]:
    """A line as this network calls it: itself, or its two halves."""
    yield from (name for name in (line, *half_names(line)) if name in names)


def _options(options: str, refinement: Refinement) -> str:
    words = [_closer(word, refinement.step) for word in options.split()]
    if refinement.other_method:
        other = {_TRAPEZOIDAL: _GEAR, _GEAR: _TRAPEZOIDAL}
        words = [other.get(word, word) for word in words if not word.startswith(_LEANING)]
    return " ".join(words)


def _closer(word: str, share: float) -> str:
    """Of error control that is on, a tolerance of a quarter: its error being of second order,
    that halves the steps."""
    if not word.startswith(_TOLERANCE) or share == 1.0:
        return word
    tolerance = float(word.removeprefix(_TOLERANCE))
    return word if tolerance >= _OFF else f"{_TOLERANCE}{number(tolerance * share**2)}"
