"""A surge generator and its coupling network as elements of the network."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from surgesim.build.parts import inductance
from surgesim.network.elements import AnyElement, Capacitor, Resistor, VoltageSource
from surgesim.physics.generators import Generator, charge_for
from surgesim.physics.waveforms import Step, Waveform, shape_figures

SWITCHING = 1.0 / 25.0
"""How long a generator's switch takes to close, as a share of its open-circuit front. No time at
all has no meaning to a solver that marches in steps; so much moves T1 by 0.2 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Where a generator stands: the nodes it drives, what its own parts are called."""

    label: str
    into: str
    returns: str
    group: str


def generator_elements(
    ends: Ends, generator: Generator, waveform: Waveform, *, blocking: float | None
) -> Iterator[AnyElement]:
    """The generator between ``returns`` and ``into``; ``waveform`` is its open voltage.

    A capacitor charged to U is one without charge in series with a step of U. ``blocking`` is a
    capacitance in F that stands in for the coupling capacitor where there is none and direct
    current must not pass.
    """
    label, group, back = ends.label, ends.group, ends.returns
    figures = shape_figures(waveform, kind="voltage")
    step = Step(peak=charge_for(generator, peak=waveform.peak), rise=SWITCHING * figures.front)
    way_out = _way_out(ends, f"{label}/output", generator, blocking)
    switch, stored = f"{label}/switch", f"{label}/stored"
    output = f"{label}/output" if way_out else ends.into
    yield VoltageSource(name=label, a=switch, b=back, waveform=step, group=group)
    yield Capacitor(name=stored, a=switch, b=stored, capacitance=generator.capacitance, group=group)
    yield Resistor(
        name=f"{label}/discharge", a=stored, b=back, group=group,
        resistance=generator.discharge_resistance,
    )  # fmt: skip
    yield from _series(ends, stored, output, generator)
    if generator.load_capacitance > 0.0:
        yield Capacitor(
            name=f"{label}/load", a=output, b=back, group=group,
            capacitance=generator.load_capacitance,
        )  # fmt: skip
    else:
        yield Resistor(
            name=f"{label}/load", a=output, b=back, group=group,
            resistance=generator.load_resistance,
        )  # fmt: skip
    yield from way_out


def _series(ends: Ends, a: str, b: str, generator: Generator) -> Iterator[AnyElement]:
    """What stands between the charged capacitor and the output."""
    name, henry = f"{ends.label}/series", generator.series_inductance
    middle = f"{name}/middle" if henry > 0.0 else b
    yield Resistor(
        name=name, a=a, b=middle, resistance=generator.series_resistance, group=ends.group
    )
    if henry > 0.0:
        yield from inductance(f"{name}/inductance", middle, b, henry, ends.group)


def _way_out(
    ends: Ends, output: str, generator: Generator, blocking: float | None
) -> list[AnyElement]:
    """What stands between the output and the installation; nothing where it drives it directly."""
    ohm = generator.output_resistance + generator.coupling_resistance
    farad = generator.coupling_capacitance or blocking or 0.0
    middle = f"{ends.label}/coupled" if ohm > 0.0 else ends.into
    found: list[AnyElement] = []
    if farad > 0.0:
        name = f"{ends.label}/coupling"
        found.append(Capacitor(name=name, a=output, b=middle, capacitance=farad, group=ends.group))
        output = middle
    if ohm > 0.0:
        name = f"{ends.label}/out"
        found.append(Resistor(name=name, a=output, b=ends.into, resistance=ohm, group=ends.group))
    return found
