"""All findings on one case, and the checks a result must pass to be one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from surgesim.errors import ResultRefused
from surgesim.findings import arresters as arrester_findings
from surgesim.findings import terminals as terminal_findings
from surgesim.findings.arresters import ArresterFinding, charge_over, measure_arrester
from surgesim.findings.conditions import conditions
from surgesim.findings.discharges import gap_notes
from surgesim.findings.earths import EarthFinding, measure_earth
from surgesim.findings.housed import ModeFinding, measure_mode
from surgesim.findings.insulation import Flashover, flashovers
from surgesim.findings.invariants import of_the_charges, of_the_peaks, of_the_run
from surgesim.findings.knife_edge import SUSPECTED, gap_suspects, suspects
from surgesim.findings.measured import Invariant, Measured
from surgesim.findings.numerical import (
    NumericalError,
    after_collapse,
    estimated,
    estimates,
    with_errors,
)
from surgesim.findings.plain import plain
from surgesim.findings.record import Record
from surgesim.findings.split import Split, measure_split
from surgesim.findings.terminals import TerminalFinding, conditioned, measure_terminal
from surgesim.findings.words import percent
from surgesim.network.circuit import Network
from surgesim.network.elements import SparkGap
from surgesim.network.probes import FAILED
from surgesim.network.waveforms import Waveforms
from surgesim.physics.generators import GeneratorFigures
from surgesim.physics.waveforms import shape_figures


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseInfo:
    """Which case this is: its id, its level on every axis, and its surge's name.

    A level is None where that factor makes no difference to the case.
    """

    id: str
    axes: Mapping[str, str | None]
    surge: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneratorFinding:
    """A generator by its name: what its capacitor is charged to, and the current that it drives
    into a short at the far end of its coupling network. ``short_`` figures as of a current.
    """

    name: str
    charge_v: float
    short_peak_a: float
    short_t1_s: float
    short_t2_s: float | None
    short_charge_c: float | None
    short_specific_energy_j_per_ohm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeFigures:
    """The surge as measured from its own formula; ``unit`` is A or V, times in s.

    Of a ``generator`` that is the voltage of its open output.
    """

    formula: str
    peak: float
    unit: str
    t1_s: float
    t2_s: float | None
    charge_c: float | None
    specific_energy_j_per_ohm: float | None
    steepest_per_s: float
    generator: GeneratorFinding | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowFinding:
    """How one window was run: longest step and end in s, points, lines taken as lumped."""

    step_s: float
    stop_s: float
    points: int
    lumped: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """The case run again in another way, and what came of it.

    ``outcome`` is ``compared``; ``turned`` where other insulation fired, which ``reason`` names;
    or ``no result``, with the error in its own words. ``largest_percent`` is the largest error
    that follows from it, of the value named by ``where``.
    """

    name: str
    outcome: Literal["compared", "turned", "no result"]
    largest_percent: float | None
    where: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseFindings:
    """Everything measured on one case; ``as_json`` gives a case of the findings object.

    ``modes`` are those of arrester devices of several elements. ``split`` is how a current that
    strikes a place divides there; None for any other surge.
    ``certification`` holds the runs that certify the numerical errors; empty when estimated.
    ``crosscheck`` is how the case fared against the second solver, plain data of its own; None
    where that was not run.
    """

    id: str
    axes: Mapping[str, str | None]
    surge: str
    surge_figures: SurgeFigures
    terminals: tuple[TerminalFinding, ...]
    arresters: tuple[ArresterFinding, ...]
    earths: tuple[EarthFinding, ...]
    modes: tuple[ModeFinding, ...]
    split: Split | None
    energy_closure: Mapping[str, float]
    invariants: Mapping[str, Invariant]
    windows: Mapping[str, WindowFinding]
    notes: tuple[str, ...] = ()
    certification: tuple[Variant, ...] = ()
    crosscheck: Mapping[str, Any] | None = None

    @property
    def sections(self) -> Mapping[str, Sequence[Any]]:
        """Everything that has a numerical error, by the name of its part of the case."""
        return {"terminals": self.terminals, "arresters": self.arresters, "earths": self.earths}

    def as_json(self) -> dict[str, Any]:
        """The case as plain data. Raises ResultRefused where a number is not finite."""
        case: dict[str, Any] = plain(self, path=self.id)
        for terminal in case["terminals"]:
            # the limit's value stands beside it already
            del terminal["limit"]["volts"]
        return case


def measure(
    network: Network,
    front: Waveforms,
    tail: Waveforms,
    *,
    info: CaseInfo,
    asked_margin_percent: float,
) -> CaseFindings:
    """Measure one case on the two windows of its network.

    Raises ResultRefused, naming the case, for a result that breaks an invariant (see
    :mod:`surgesim.findings.invariants`) or whose windows disagree about a flashover.
    """
    try:
        return _measure(network, Record(front, tail), info, asked_margin_percent)
    except ResultRefused as refused:
        raise ResultRefused(f"{info.id}: {refused.message}", hint=refused.hint) from refused


def _measure(network: Network, record: Record, info: CaseInfo, asked: float) -> CaseFindings:
    figures = surge_figures(network)
    run = of_the_run(network, record, front=figures.t1_s)
    fired = flashovers(network, record)
    endless = figures.t2_s is None
    gaps = {each.name: each for each in network.elements if isinstance(each, SparkGap)}
    arresters = tuple(
        measure_arrester(probe, record, gap=gaps.get(probe.gap or ""), endless=endless)
        for probe in network.arresters
    )
    to_come = tuple(charge_over(probe, record) for probe in network.arresters)
    held = {
        **run.invariants,
        **of_the_peaks(network, record, fired=fired),
        **of_the_charges(arresters, to_come, endless=endless),
    }
    terminals = tuple(_terminals(network, record, fired, arresters, asked))
    edges = (*suspects(network, terminals), *gap_suspects(network, record))
    at_the_edge = (f"{SUSPECTED}{suspect.words}" for suspect in edges)
    found = CaseFindings(
        id=info.id,
        axes=dict(info.axes),
        surge=info.surge,
        surge_figures=figures,
        terminals=terminals,
        arresters=arresters,
        earths=tuple(measure_earth(probe, record) for probe in network.earths),
        modes=tuple(measure_mode(probe, record) for probe in network.modes),
        split=measure_split(network, record),
        energy_closure=run.energy_closure,
        invariants=held,
        windows={waves.window: _window(waves) for waves in (record.front, record.tail)},
        notes=(*network.notes, *_notes(record, arresters, to_come), *at_the_edge),
    )
    lit = any(each.discharge is not None and each.discharge.fired for each in arresters)
    collapse = after_collapse(record.front) if fired or lit else 0.0
    errors = estimated(found.sections, estimates(network, record), collapse=collapse)
    return with_numerical_errors(found, errors)


def with_numerical_errors(
    found: CaseFindings, errors: Mapping[str, Sequence[NumericalError]]
) -> CaseFindings:
    """The findings with the error of each value, and what verdicts that leaves open."""
    terminals = with_errors(found.terminals, errors["terminals"])
    arresters = with_errors(found.arresters, errors["arresters"])
    return replace(
        found,
        terminals=tuple(map(terminal_findings.within_its_error, terminals)),
        arresters=tuple(map(arrester_findings.within_its_error, arresters)),
        earths=with_errors(found.earths, errors["earths"]),
    )


def _terminals(
    network: Network,
    record: Record,
    fired: Mapping[str, Flashover],
    arresters: tuple[ArresterFinding, ...],
    asked: float,
) -> Iterator[TerminalFinding]:
    for probe in network.terminals:
        own = probe.insulation
        alone = measure_terminal(
            probe, record, flashover=fired.get(own) if own else None, asked_percent=asked
        )
        failed = conditions(fired, arresters, own=own)
        yield conditioned(alone, failed)


def surge_figures(network: Network) -> SurgeFigures:
    """The network's surge in figures: a current's or a voltage's, by what drives it."""
    is_current = network.is_driven_by_current
    figures = shape_figures(network.waveform, kind="current" if is_current else "voltage")
    return SurgeFigures(
        formula=network.waveform.formula,
        peak=figures.peak,
        unit="A" if is_current else "V",
        t1_s=figures.front,
        t2_s=figures.tail,
        charge_c=figures.charge,
        specific_energy_j_per_ohm=figures.specific_energy,
        steepest_per_s=figures.steepest,
        generator=None if network.generator is None else _generator(network.generator),
    )


def _generator(found: GeneratorFigures) -> GeneratorFinding:
    short = found.short_circuit
    return GeneratorFinding(
        name=found.name,
        charge_v=found.charge,
        short_peak_a=short.peak,
        short_t1_s=short.front,
        short_t2_s=short.tail,
        short_charge_c=short.charge,
        short_specific_energy_j_per_ohm=short.specific_energy,
    )


def _window(waves: Waveforms) -> WindowFinding:
    return WindowFinding(
        step_s=waves.step, stop_s=waves.stop, points=len(waves.time), lumped=waves.lumped
    )


def _notes(
    record: Record, arresters: tuple[ArresterFinding, ...], to_come: tuple[Measured, ...]
) -> Iterator[str]:
    for waves in (record.front, record.tail):
        yield from (f"{waves.window}: {note}" for note in waves.notes)
    for finding, charge in zip(arresters, to_come, strict=True):
        name = f"{finding.name}, {finding.element}"
        if finding.verdict == "not assessed" and finding.device_class == FAILED:
            yield f"{name}: has failed, as described; nothing is held against a rating"
        elif finding.verdict == "not assessed":
            yield f"{name}: {finding.card} gives no rating to hold its duty against"
        yield from gap_notes(name, finding.discharge)
        follows = finding.discharge is not None and finding.discharge.follows
        if charge.worst > charge.limit and not follows:
            yield (
                f"{name}: still carries current where the record ends; it takes more charge than "
                f"shown, by some {percent(charge.worst)}"
            )
