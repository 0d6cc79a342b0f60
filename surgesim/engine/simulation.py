"""Network in, waveforms out: validated, run, accepted, and tried again when that failed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from pathlib import Path

from surgesim.engine.accept import NotAtRest, Refused, accept, complaints, require_rest
from surgesim.engine.agreement import disagreement
from surgesim.engine.evidence import evidence
from surgesim.engine.flashover import fired, flashovers, step_wanted
from surgesim.engine.numbers import number
from surgesim.engine.parts import added
from surgesim.engine.run import Answer, EngineTimeout, run_deck
from surgesim.engine.suspects import advice, ringing_advice, seconds, sentence
from surgesim.engine.validate import validate
from surgesim.engine.version import engine_version
from surgesim.engine.windows import (
    Plan,
    finer,
    front_plan,
    less_watched_plan,
    tail_plan,
    unwatched_plan,
)
from surgesim.engine.writer import (
    CLOSE,
    LESS_CLOSE,
    OPTIONS,
    OTHER_WAY,
    SETTLING,
    Deck,
    planned_options,
    write_deck,
)
from surgesim.errors import EngineError
from surgesim.network.circuit import Network
from surgesim.network.waveforms import Waveforms, Window

TIMEOUT = 120.0
"""Seconds one run of the engine may take."""

_PATIENCE = {CLOSE: 1 / 4, LESS_CLOSE: 1 / 4, SETTLING: 1 / 4}
"""Share of the time allowed for runs under error control, which can lose itself in noise."""

MOST_POINTS = {CLOSE: 40_000, LESS_CLOSE: 30_000}
"""Points of a front under error control, closer and less close. What asks for more rings for ever,
in modes without loss, where the looser control, or plain steps, have all crests but the sharpest.
"""

AGREEMENT = 0.0075
"""Largest error of a crest, as a share of it, that the hand-over from front to tail can make.

Three quarters of the one percent that the two solvers must agree in: it is what the difference
could do at the worst moment, and comes to a third of that.
"""

REFUSED = 0.05
"""Difference above which there is no result: two answers that far apart are none."""

_MOST_EXTENSIONS = 3

_AS_WANTED = 0.8
"""Share of a front's steps that its spark gaps may want them shorter by: they tell it roughly."""

_SLOW = 4.0
"""Ends of a front after which a crest is a slow swing, which a tail in finer steps has right."""

_FINER_TAIL = 5.0
"""By how much finer: an error of second order falls to a twenty-fifth."""


def simulate(
    network: Network,
    *,
    window: Window,
    front: Waveforms | None = None,
    stop: float | None = None,
    step: float | None = None,
    plan: Plan | None = None,
    options: str | None = None,
    timeout: float = TIMEOUT,
    keep: Path | None = None,
) -> Waveforms:
    """Run one window of a network through ngspice.

    ``front`` is the front's result, for a tail: insulation that fired there is an arc from
    the same moment on. ``stop`` (s) overrides where a front ends, ``step`` (s) asks for
    finer steps than planned; ``plan`` and ``options`` replace what would have been planned.
    ``keep`` is a folder that gets the decks and what ngspice printed. Raises
    :class:`EngineError`.
    """
    validate(network)
    decided = flashovers(network, front if window == "tail" else None)
    failures: list[_Failure] = []
    plan = plan or _plan(network, window, front, stop)
    if step is not None:
        plan = finer(plan, network, step=step)
    options = options or planned_options(network, window, decided)
    attempts, way = _ladder(plan, network, options), ""
    while (rung := next(attempts, None)) is not None:
        attempt, words = rung
        deck = write_deck(network, attempt, flashovers=decided, options=words + way)
        stem = _stem(deck.plan.window, attempt=len(failures) + 1)
        _keep(keep, f"{stem}.cir", deck.text)
        limit = timeout * _PATIENCE.get(words, 1.0)
        most = max(MOST_POINTS[words], 4 * attempt.points) if words in MOST_POINTS else None
        try:
            answer = run_deck(deck.text, engine=engine_version(), timeout=limit, most_points=most)
        except EngineTimeout as ended:
            _keep(keep, f"{stem}.log", ended.log)
            if limit == timeout:
                raise _timed_out(network, deck, ended, timeout, failures) from None
            late = Answer(code=-1, log=ended.log, raw=ended.raw, elapsed=limit)
            failures.append(_Failure(deck=deck, answer=late, reason=ended.limit))
            continue
        _keep(keep, f"{stem}.log", answer.log)
        try:
            waves = _waveforms(deck, answer, notes=_notes(failures))
            require_rest(network, waves, answer)
        except Refused as refusal:
            failures.append(_Failure(deck=deck, answer=answer, reason=str(refusal)))
            if isinstance(refusal, NotAtRest) and not way:
                attempts, way = chain([rung], attempts), OTHER_WAY
        else:
            return waves
    raise _given_up(network, window, failures)


def run_network(
    network: Network, *, timeout: float = TIMEOUT, keep: Path | None = None
) -> tuple[Waveforms, Waveforms]:
    """Front and tail of a network, telling one story.

    The front must hold everything the tail is too coarse for. Where the tail shows that it
    does not (see ``_cut_short``), the tail is run again in finer steps if what it has wrong is
    slow or the front as long as it gets, and both with a longer front if not. Raises EngineError
    where the two still do not tell one story.
    """
    return _both(network, _Ask(), _MOST_EXTENSIONS, timeout, keep)


def deck(network: Network, *, window: Window, front: Waveforms | None = None) -> str:
    """The deck of a network as text, to read or to run by hand with ``ngspice -b``.

    As planned; with ``front``, a front's result, the very deck that gave it, or that of the
    tail which goes with it.
    """
    validate(network)
    plan = _plan(network, window, front, None)
    if window == "front" and front is not None:
        plan = replace(plan, step=front.step, stop=front.stop)
        return write_deck(network, plan, options=front.options).text
    return write_deck(network, plan, flashovers=flashovers(network, front)).text


@dataclass(frozen=True, slots=True, kw_only=True)
class _Failure:
    deck: Deck
    answer: Answer
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ask:
    """End, steps (s) and the engine's options wanted of a front; as planned where None."""

    stop: float | None = None
    step: float | None = None
    options: str | None = None


def _both(
    network: Network, ask: _Ask, extensions: int, timeout: float, keep: Path | None
) -> tuple[Waveforms, Waveforms]:
    front = _front(network, ask, timeout, keep)
    tail = simulate(network, window="tail", front=front, timeout=timeout, keep=keep)
    cut = _cut_short(network, front, tail)
    last = extensions == 0
    if cut is not None and (cut.slow or last):
        step = tail.step / _FINER_TAIL
        tail = simulate(network, window="tail", front=front, step=step, timeout=timeout, keep=keep)
        cut = _cut_short(network, front, tail)
    if cut is None:
        return front, tail
    if last:
        note = f"the front ends too early, at {number(front.stop)} s: {cut.because}"
        if cut.apart > REFUSED:
            raise EngineError(
                f"{network.title!r}: {note}",
                hint=ringing_advice(network, step=front.step),
            )
        return replace(front, notes=(*front.notes, note)), tail
    longer = _Ask(stop=cut.until, step=front.step, options=front.options)
    return _both(network, longer, extensions - 1, timeout, keep)


def _front(network: Network, ask: _Ask, timeout: float, keep: Path | None) -> Waveforms:
    """A front; where a spark gap fires, once more in steps fine enough for its crest."""
    run = partial(simulate, network, window="front", stop=ask.stop, timeout=timeout, keep=keep)
    front = run(step=ask.step, options=ask.options)
    wanted = step_wanted(network, front)
    if wanted > _AS_WANTED * front.step:
        return front
    return run(step=wanted, options=front.options)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """A front that ends too early: why, how far apart the windows are, until when to go (s).

    ``slow`` where it is the tail that has to be better: what it has wrong comes far too late for
    a front to hold.
    """

    because: str
    apart: float
    until: float
    slow: bool = False


def _cut_short(network: Network, front: Waveforms, tail: Waveforms) -> _Cut | None:
    """Whether a flashover, or anything else fast, was left to the tail's coarse steps."""
    late = {name: at for name, at in fired(network, tail).items() if at > front.stop}
    if late:
        name = min(late, key=late.__getitem__)
        because = f"{name!r} flashes over at {number(late[name])} s"
        return _Cut(because=because, apart=math.inf, until=late[name] + front.stop)
    gap = disagreement(network, front, tail)
    if gap.share > AGREEMENT:
        because = f"it differs from the tail by {gap.share:.1%} of the peak at {gap.where}"
        until, slow = _longer(front.stop, gap.at), gap.at > _SLOW * front.stop
        return _Cut(because=because, apart=gap.share, until=until, slow=slow)
    return None


def _longer(stop: float, crest: float) -> float:
    """Where a front ends that shall hold a crest after ``stop``; twice as late at the most."""
    return min(2 * stop, max(1.5 * stop, 1.2 * crest))


def _plan(network: Network, window: Window, front: Waveforms | None, stop: float | None) -> Plan:
    if window == "front":
        return front_plan(network, stop=stop)
    return tail_plan(network, front_stop=front.stop if front else front_plan(network).stop)


def _ladder(plan: Plan, network: Network, options: str) -> Iterator[tuple[Plan, str]]:
    """As planned, then at half the step, then at a quarter with closer iterations.

    What error control did not bring to its end is tried with less of it, and then without.
    """
    yield plan, options
    if options == CLOSE:
        yield less_watched_plan(plan, network), LESS_CLOSE
    if options in (CLOSE, LESS_CLOSE):
        plan, options = unwatched_plan(plan, network), OPTIONS[plan.window]
        yield plan, options
    if options == SETTLING:
        options = OPTIONS[plan.window]
        yield plan, options
    yield finer(plan, network, step=plan.step / 2), options
    closer = f"{options} reltol=1e-4 itl4=100"
    yield finer(plan, network, step=plan.step / 4), closer


def _waveforms(deck: Deck, answer: Answer, *, notes: tuple[str, ...]) -> Waveforms:
    vectors = accept(answer, deck)
    return Waveforms(
        window=deck.plan.window,
        time=vectors["time"],
        voltages={name: added(result, vectors) for name, result in deck.voltages.items()},
        currents={name: added(result, vectors) for name, result in deck.currents.items()},
        step=deck.plan.step,
        stop=deck.plan.stop,
        lumped=deck.plan.lumped,
        engine=f"ngspice {engine_version().version}",
        options=deck.options,
        elapsed=answer.elapsed,
        notes=notes,
    )


def _notes(failures: list[_Failure]) -> tuple[str, ...]:
    """What a result needed besides a first attempt, without the engine's own terms: those stand
    with each attempt's deck."""
    if not failures:
        return ()
    count = len(failures)
    before = "the one before was" if count == 1 else f"the {count} before were"
    reasons = ", ".join(dict.fromkeys(failure.reason for failure in failures))
    return (f"solved at attempt {count + 1}; {before} not usable: {reasons}",)


def _stem(window: Window, *, attempt: int) -> str:
    return window if attempt == 1 else f"{window}-attempt-{attempt}"


def _keep(folder: Path | None, name: str, text: str) -> None:
    if folder is None:
        return
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")


def _given_up(network: Network, window: Window, failures: list[_Failure]) -> EngineError:
    last = failures[-1]
    found = evidence(network, last.deck, log=last.answer.log, raw=last.answer.raw)
    said = "; ".join(complaints(last.answer, last.deck).splitlines())
    return EngineError(
        f"no usable result for {network.title!r}, {window} window. {sentence(found)}."
        f" Tried: {_tried(failures)}." + (f" ngspice said: {said}" if said else ""),
        hint=advice(found),
        log=last.answer.log,
        deck=last.deck.text,
    )


def _tried(failures: list[_Failure]) -> str:
    """Each attempt by its step, and what came of it."""
    return "; ".join(f"steps of {seconds(f.deck.plan.step)}: {f.reason}" for f in failures)


def _timed_out(
    network: Network, deck: Deck, ended: EngineTimeout, limit: float, failures: list[_Failure]
) -> EngineTimeout:
    found = evidence(network, deck, log=ended.log, raw=ended.raw, limit=limit)
    tried = f" Tried before: {_tried(failures)}." if failures else ""
    return EngineTimeout(
        f"no usable result for {network.title!r}, {deck.plan.window} window: {ended.message}."
        f" {sentence(found)}.{tried}",
        hint=advice(found),
        log=ended.log,
        deck=deck.text,
        raw=ended.raw,
    )
