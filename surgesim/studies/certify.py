"""Certifying numerical errors: a case run three times more, each time in another way.

Half the step in both windows; the other integration method in both; and every line as two
halves, with the soil under a route at twice as many joints. Each run is accepted, measured and held
to the invariants like any other. What the changes mean is said in
:mod:`surgesim.findings.certified`.
"""

from __future__ import annotations

from surgesim.engine import TIMEOUT, Refinement, run_again
from surgesim.errors import SurgesimError
from surgesim.findings.case import CaseInfo, measure
from surgesim.findings.certified import HALF_STEP, LINE_DETAIL, OTHER_METHOD, Again
from surgesim.findings.insulation import flashovers
from surgesim.findings.record import Record
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms

Windows = tuple[Waveforms, Waveforms]


def run_variants(
    network: Network,
    windows: Windows,
    *,
    doubled: Network,
    info: CaseInfo,
    asked_margin_percent: float,
    timeout: float = TIMEOUT,
) -> tuple[Again, ...]:
    """The variants of a network whose accepted front and tail are ``windows``.

    ``doubled`` is the same network with twice the detail along its lines. One that fails is
    among them with its reason. ``timeout`` in s bounds one engine process.
    """
    plans = (
        (HALF_STEP, network, Refinement(step=0.5)),
        (OTHER_METHOD, network, Refinement(other_method=True)),
        *(((LINE_DETAIL, doubled, Refinement()),) if network.lines else ()),
    )
    found = []
    for name, variant, refinement in plans:
        try:
            front, tail = run_again(variant, windows, refinement, timeout=timeout)
            findings = measure(
                variant, front, tail, info=info, asked_margin_percent=asked_margin_percent
            )
            fired = fired_in(variant, front, tail)
            found.append(Again(name=name, findings=findings, fired=fired))
        except SurgesimError as error:
            words = getattr(error, "message", None) or str(error)
            found.append(Again(name=name, reason=words))
    return tuple(found)


def fired_in(network: Network, front: Waveforms, tail: Waveforms) -> frozenset[str]:
    """The labels of all insulation that flashed over in a result."""
    fired = flashovers(network, Record(front, tail))
    return frozenset(flashover.label for flashover in fired.values())
