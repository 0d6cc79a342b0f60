"""How a current that strikes a place divides: into its earths, and along each of its cables.

Given at a few moments, counted from the surge's virtual origin (IEC 62475), each as a share of what
is injected at that very moment: at first by surge impedances, at last by resistances. Beside it
stands the rule of thumb by which it is reckoned by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from surgesim.findings.record import Array, Record
from surgesim.network.circuit import Network
from surgesim.network.elements import Line
from surgesim.network.probes import ConductorProbe, EarthProbe, StruckProbe
from surgesim.physics.waveforms import shape_figures

MOMENTS = (1e-6, 10e-6, 100e-6)
"""When the split is told, s after the surge's virtual origin."""

LEAST = 0.01
"""Share of the peak that must be flowing in for shares of it to mean anything."""

TO_EARTH = 0.5
"""The rule of thumb: half of a stroke goes into the earths of what it strikes, the other half in
equal parts along what leaves it (IEC 62305-1:2010 Annex E, from memory)."""

Shares = tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorShare:
    """One conductor of a cable; all its equal runs together."""

    name: str
    share: Shares


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way out of the struck place: an earth, a cable, or all others together.

    ``share`` of what is injected at each moment, signed, None where next to nothing is;
    ``hand_rule`` is what the rule of thumb gives this way, None where it says nothing.
    """

    kind: str
    name: str
    share: Shares
    hand_rule: float | None
    conductors: tuple[ConductorShare, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthShare:
    """What goes into an electrode anywhere in the installation."""

    name: str
    place: str
    share: Shares


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """The division of one surge: by the ways out of the struck place, and by electrodes."""

    place: str
    into: str
    moments_s: tuple[float, ...]
    injected_a: tuple[float, ...]
    ways: tuple[Way, ...]
    earths: tuple[EarthShare, ...]


def measure_split(network: Network, record: Record) -> Split | None:
    """The split of one case; None for a surge that does not strike a place."""
    struck = network.struck
    if struck is None:
        return None
    figures = shape_figures(network.waveform, kind="current")
    moments = np.array(MOMENTS) + figures.origin
    injected = network.waveform.value(moments)
    reader = _Reader(network, record, moments, injected, abs(figures.peak))
    return Split(
        place=struck.place,
        into=struck.into,
        moments_s=MOMENTS,
        injected_a=tuple(map(float, injected)),
        ways=tuple(_ways(struck, network, reader)),
        earths=tuple(
            EarthShare(name=probe.name, place=probe.place, share=reader.shares(reader.earth(probe)))
            for probe in network.earths
        ),
    )


@dataclass(frozen=True, slots=True)
class _Reader:
    """Currents of a record at the moments, A, shape (moments,)."""

    network: Network
    record: Record
    moments: Array
    injected: Array
    peak: float

    def shares(self, amps: Array) -> Shares:
        """Of what is injected at each moment; None where that is next to nothing."""
        told = np.abs(self.injected) >= LEAST * self.peak
        told &= self.moments <= self.record.time[-1]
        return tuple(
            float(a / whole) if known else None
            for a, whole, known in zip(amps, self.injected, told, strict=True)
        )

    def earth(self, probe: EarthProbe) -> Array:
        return self._at(self.record.current(probe.ammeter))

    def conductor(self, probe: ConductorProbe) -> Array:
        """Into the line, from its modes' currents."""
        line, end = self._end(probe)
        modal = np.array(
            [
                self._at(self.record.current(f"{line.name}/{end}/{mode}"))
                for mode in range(len(line.impedance))
            ]
        )
        amps: Array = np.linalg.inv(line.modes).T[probe.index] @ modal
        return amps

    def _end(self, probe: ConductorProbe) -> tuple[Line, str]:
        for line in self.network.lines:
            for end, nodes in (("near", line.near), ("far", line.far)):
                if line.group == probe.group and nodes[probe.index : probe.index + 1] == (
                    probe.node,
                ):
                    return line, end
        raise ValueError(f"no line of {probe.group!r} ends at {probe.node!r}")

    def _at(self, amps: Array) -> Array:
        return np.interp(self.moments, self.record.time, amps)


def _ways(struck: StruckProbe, network: Network, reader: _Reader) -> Iterator[Way]:
    """The earths of the place, its cables, and what is left over."""
    earths = [probe for probe in network.earths if probe.place == struck.place]
    cables: dict[str, list[ConductorProbe]] = {}
    for conductor in struck.conductors:
        cables.setdefault(conductor.cable, []).append(conductor)
    runs = sum(members[0].runs for members in cables.values())
    ruled = bool(earths) and bool(cables)
    left = reader.injected.copy()
    for probe in earths:
        amps = reader.earth(probe)
        left = left - amps
        by_hand = TO_EARTH / len(earths) if ruled else None
        yield Way(kind="earth", name=probe.name, share=reader.shares(amps), hand_rule=by_hand)
    for cable, members in cables.items():
        each = [reader.conductor(member) for member in members]
        amps = np.sum(each, axis=0)
        left = left - amps
        yield Way(
            kind="cable",
            name=cable,
            share=reader.shares(amps),
            hand_rule=(1.0 - TO_EARTH) * members[0].runs / runs if ruled else None,
            conductors=tuple(
                ConductorShare(name=member.conductor, share=reader.shares(own))
                for member, own in zip(members, each, strict=True)
            ),
        )
    yield Way(kind="other", name="other ways", share=reader.shares(left), hand_rule=None)
