"""What is to be read off a network once it has run, with the limits it is held against."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What a terminal pair stands.

    ``kind`` is ``"withstand"`` (rated impulse withstand voltage, 1.2/50) or ``"highest
    voltage"``; ``origin`` is ``certificate``, ``table`` or ``guess``; ``where`` names the
    document.
    """

    kind: str
    volts: float
    origin: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalProbe:
    """The voltage v(a) - v(b) at one terminal pair of a piece of equipment.

    ``bar`` is the local earth bar's node, ``insulation`` the name of the Insulation element
    across the pair (its level in ``flashover`` volt), None where there is none.
    """

    equipment: str
    pair: str
    place: str
    a: str
    b: str
    limit: Limit
    bar: str | None = None
    insulation: str | None = None
    flashover: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """What an arrester element may bear; None where its card does not say.

    ``continuous`` is Uc or Ucpv in volt; currents in ampere; ``charge`` in coulomb and
    ``specific_energy`` (W/R) in joule per ohm are those of one pulse at the largest rated
    current: Iimp 10/350 for class I, Imax 8/20 for class II. ``basis`` says which, in words.
    """

    device_class: str
    continuous: float | None
    nominal_current: float | None
    peak: float | None
    charge: float | None
    specific_energy: float | None
    basis: str


FAILED = "failed"
"""Device class of an element that is described as failed: it has no rating any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesProbe:
    """A fuse or breaker in one line lead of an arrester, ``what`` in words.

    It may open once the integral of its current squared is ``opens_from`` A2s, and has opened by
    ``opens_by``.
    """

    conductor: str
    what: str
    ammeter: str
    opens_from: float
    opens_by: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ArresterProbe:
    """One element of a fitted arrester: v(a) - v(b) across it and the current through it.

    ``series`` holds the fuses or breakers between it and the conductors, ``gap`` names the
    SparkGap that it is, None for what is none.
    """

    slot: str
    element: str
    card: str
    place: str
    a: str
    b: str
    ammeter: str
    rating: Rating
    series: tuple[SeriesProbe, ...] = ()
    gap: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeProbe:
    """Two terminals of an arrester device of several elements, and its printed ``level`` (V)."""

    slot: str
    mode: str
    card: str
    place: str
    a: str
    b: str
    level: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthProbe:
    """One electrode: its bar's rise over remote earth and the current it carries.

    ``resistance`` in ohm is what was computed with; ``from_shape`` what the electrode's shape
    and its soil give, None where no shape is known.
    """

    name: str
    place: str
    node: str
    ammeter: str
    resistance: float
    from_shape: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorProbe:
    """Where one conductor of a cable ends at the struck place.

    Its current is that into the line of ``group`` that ends at ``node`` as its conductor number
    ``index``; ``runs`` equal runs share it.
    """

    cable: str
    conductor: str
    runs: int
    group: str
    node: str
    index: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StruckProbe:
    """The place that a current is injected into, to leave by its earths and its cables."""

    place: str
    into: str
    conductors: tuple[ConductorProbe, ...]
