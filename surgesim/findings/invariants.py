"""What holds of every result, or there is none: checked on every run, never skipped.

Each invariant is a module of its own that measures how far a result is from it. A broken one
refuses the result by name; the others leave their worst figure and its limit in the findings.
First the answer itself, then its beginning, then what must balance in it, place by place and at
last over the whole circuit: whatever is wrong is named where it is nearest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from surgesim.findings import arresters as duty
from surgesim.findings import terminals
from surgesim.findings.arresters import ArresterFinding
from surgesim.findings.charge import charge_balance
from surgesim.findings.complete import completeness
from surgesim.findings.devices import Currents
from surgesim.findings.energy import energy_balance
from surgesim.findings.insulation import Flashover
from surgesim.findings.measured import Invariant, Measured, worse
from surgesim.findings.pieces import Pieces
from surgesim.findings.record import Record
from surgesim.findings.standing import standing_state
from surgesim.findings.steps import step_rule
from surgesim.findings.voltage import voltage_balance
from surgesim.network.circuit import Network

Figures = dict[str, Invariant]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The invariants of a run as measured, and what each window left of its energy."""

    invariants: Figures
    energy_closure: Mapping[str, float]


def of_the_run(network: Network, record: Record, *, front: float) -> Run:
    """What must hold before anything is read off; ``front`` is the surge's T1, s.

    Raises ResultRefused at the first that does not.
    """
    windows = (record.front, record.tail)
    held = {
        "complete": _held([completeness(network, waves) for waves in windows]),
        "steps": _held([step_rule(network, waves, front=front) for waves in windows]),
        "standing": _held([standing_state(network, waves) for waves in windows]),
    }
    # each window is held to account for what the record shows of it
    since = (0.0, float(record.front.time[-1]))
    pieces = [Pieces(waves, since=start) for waves, start in zip(windows, since, strict=True)]
    currents = [Currents(waves) for waves in windows]
    nodes, earths = zip(*map(charge_balance, (network, network), pieces, currents), strict=True)
    held["charge_balance"] = _held(nodes)
    held["remote_earth"] = _held(earths)
    held["voltage_balance"] = _held([voltage_balance(network, part) for part in pieces])
    front_energy = energy_balance(network, record.front, currents=currents[0])
    tail_energy = energy_balance(
        network,
        record.tail,
        since=since[1],
        before=front_energy.turned_over,
        currents=currents[1],
    )
    balances = (front_energy, tail_energy)
    held["energy"] = _held([balance.measured() for balance in balances])
    return Run(
        invariants=held, energy_closure={balance.window: balance.closure for balance in balances}
    )


def of_the_peaks(network: Network, record: Record, *, fired: Mapping[str, Flashover]) -> Figures:
    """That what is read off as a peak is one; ``fired`` is the insulation that flashed over.

    Raises ResultRefused at the first that is not.
    """
    pairs = [probe for probe in network.terminals if probe.insulation not in fired]
    volts = [terminals.reached(probe, record) for probe in pairs]
    amps = [duty.reached(probe, record) for probe in network.arresters]
    return {"peaks": _held([*volts, *amps])}


def of_the_charges(
    arresters: Sequence[ArresterFinding], to_come: Sequence[Measured], *, endless: bool
) -> Figures:
    """That no verdict on an arrester hangs on the charge ``to_come`` after the record.

    Otherwise it is a matter of a note: the voltages do not rest on it, and the verdict stands.
    Of an ``endless`` surge no charge is ever complete, and it is always a matter of a note.
    """
    for finding, measured in zip(arresters, to_come, strict=True):
        if not endless and duty.undecided(finding, measured.worst):
            measured.check()
    return {"charge_to_come": _worst(to_come)}


def _held(measured: Sequence[Measured]) -> Invariant:
    for each in measured:
        each.check()
    return _worst(measured)


def _worst(measured: Sequence[Measured]) -> Invariant:
    if not measured:
        return Invariant(worst=0.0, limit=0.0, unit="share", where="")
    return worse(*measured).invariant
