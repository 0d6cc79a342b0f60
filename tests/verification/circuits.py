"""Small circuits whose answers are published, written once for every solver.

Each claim is a circuit, the number to be read off its waveforms, the published value, its
source, and a tolerance with its reason. Tests hold every solver to them; ``python -m
tests.verification`` writes them into ``docs/checks.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    GROUND,
    Ammeter,
    AnyElement,
    Capacitor,
    Clamp,
    CurrentSource,
    Inductor,
    Line,
    Resistor,
    Varistor,
    VoltageSource,
)
from surgesim.network.waveforms import Waveforms
from surgesim.physics.common_soil import as_resistors, mutual_resistance
from surgesim.physics.constants import EPSILON_0, MU_0
from surgesim.physics.cross_section import Conductor, Surface, potential_coefficients
from surgesim.physics.electrodes import rod_resistance
from surgesim.physics.induced import Induced
from surgesim.physics.induction import Channel, Point, induced, rectangle_inductance
from surgesim.physics.modes import decompose
from surgesim.physics.shields import enclosed
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import CubicExponential, Heidler, Ramp, Step, Waveform

US = 1e-6
NAIDU = "Naidu and Kamaraju, High Voltage Engineering (title from memory)"
GONEN = "Gönen, Electric Power Transmission System Engineering, 2nd ed."
CHAKRABARTI = "Chakrabarti, Soni, Gupta, Bhatnagar, Power System Engineering"


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A published number and the circuit that must give it."""

    name: str
    source: str
    published: float
    unit: str
    tolerance: float
    reason: str
    circuit: Network
    stop: float
    read: Callable[[Waveforms], float]


def _line(near: str, far: str, impedance: float, delay: float, name: str = "line") -> Line:
    return Line(
        name=name, near=(near,), far=(far,), voltage_modes=((1.0,),), impedance=(impedance,),
        delay=(delay,), resistance=(0.0,),
    )  # fmt: skip


def _driven(waveform: Waveform, *elements: AnyElement, behind: float = 0.0) -> Network:
    """``elements`` behind an ideal source, or one with ``behind`` ohm, at the node ``start``."""
    node = "source" if behind else "start"
    drive: list[AnyElement] = [VoltageSource(name="E", a=node, b=GROUND, waveform=waveform)]
    if behind:
        drive.append(Resistor(name="Zs", a="source", b="start", resistance=behind))
    return Network(title="check", elements=(*drive, *elements), waveform=waveform)


def _injected(waveform: Waveform, *elements: AnyElement) -> Network:
    source = CurrentSource(name="J", a=GROUND, b="top", waveform=waveform)
    return Network(title="check", elements=(source, *elements), waveform=waveform)


def _at(node: str, time: float) -> Callable[[Waveforms], float]:
    return lambda waves: float(np.interp(time, waves.time, waves.at(node)))


def _peak(node: str) -> Callable[[Waveforms], float]:
    return lambda waves: float(np.max(waves.at(node)))


def _peak_until(node: str, end: float) -> Callable[[Waveforms], float]:
    return lambda waves: float(np.max(waves.at(node)[waves.time <= end]))


def _lattice() -> list[Claim]:
    delay = 1 * US
    circuit = _driven(
        Step(peak=1000.0, rise=0.1 * US),
        _line("start", "end", 40.0, delay),
        Resistor(name="R", a="end", b=GROUND, resistance=60.0),
    )
    return [
        Claim(
            name=f"Lattice of a mismatched line, at {k} travel times", published=volts, unit="V",
            source=f"{GONEN}, Example 7.6", tolerance=0.002, circuit=circuit, stop=9.5 * delay,
            reason="plateaus read away from the source's 0.1 us front", read=_at("end", k * delay),
        )
        for k, volts in ((2, 1200.0), (4, 960.0), (6, 1008.0), (8, 998.4))
    ]  # fmt: skip


def _junctions() -> list[Claim]:
    shape = Step(peak=1.0, rise=0.1 * US)
    end = _driven(
        Step(peak=10e3, rise=0.1 * US), _line("start", "end", 400.0, 5 * US),
        Resistor(name="R", a="end", b=GROUND, resistance=500.0), behind=400.0,
    )  # fmt: skip
    joint = _driven(
        Step(peak=400e3, rise=0.1 * US), _line("start", "joint", 400.0, 5 * US),
        _line("joint", "far", 40.0, 5 * US, "cable"),
        Resistor(name="R", a="far", b=GROUND, resistance=40.0), behind=400.0,
    )  # fmt: skip
    opened = _driven(
        shape, _line("start", "end", 300.0, 1 * US),
        Resistor(name="open", a="end", b=GROUND, resistance=1e9),
    )  # fmt: skip
    why = "plateaus; the solver's own rounding"
    return [
        Claim(
            name="5 kV wave on 400 ohm meets 500 ohm", source=f"{GONEN}, Example 7.4",
            published=5555.6, unit="V", tolerance=0.002, reason=why, circuit=end, stop=12 * US,
            read=_at("end", 8 * US),
        ),
        Claim(
            name="200 kV wave from 400 ohm line into 40 ohm cable", tolerance=0.002, reason=why,
            source=f"{GONEN}, Example 7.5", published=36364.0, unit="V", circuit=joint,
            stop=13 * US, read=_at("joint", 8 * US),
        ),
        Claim(
            name="Step into an open line doubles", source="closed form", published=2.0, unit="V",
            tolerance=0.005, reason="as asked of any solver", circuit=opened, stop=4 * US,
            read=_at("end", 2 * US),
        ),
    ]  # fmt: skip


def _wave_of(volts: float, impedance: float, *beyond: AnyElement) -> Network:
    """A wave of ``volts`` on a line of ``impedance`` that ends at ``joint``."""
    return _driven(
        Step(peak=2 * volts, rise=0.1 * US), _line("start", "joint", impedance, 5 * US), *beyond,
        behind=impedance,
    )  # fmt: skip


def _leaving(impedance: float, name: str) -> list[AnyElement]:
    """A line on from ``joint``, matched at its far end."""
    return [
        _line("joint", name, impedance, 5 * US, name),
        Resistor(name=f"{name} end", a=name, b=GROUND, resistance=impedance),
    ]


def _branches() -> list[Claim]:
    """Two impedances that meet, and a third line between them; read at the joint."""
    example = f"{NAIDU}, Example 8.5"
    why = "impedances printed to four digits"
    cable, line = 25.10, 374.17
    return [
        Claim(
            name="200 kV wave from cable into line", source=example, published=374.85e3, unit="V",
            tolerance=0.002, reason=why, stop=13 * US, read=_at("joint", 8 * US),
            circuit=_wave_of(200e3, cable, *_leaving(line, "line on")),
        ),
        Claim(
            name="200 kV wave from line into cable", source=example, published=25.15e3, unit="V",
            tolerance=0.002, reason=why, stop=13 * US, read=_at("joint", 8 * US),
            circuit=_wave_of(200e3, line, *_leaving(cable, "cable on")),
        ),
        Claim(
            name="100 kV wave on 400 ohm at a branch of 400 and 40 ohm", tolerance=0.002,
            source="closed form 2 Zp/(Z + Zp), Zp the two in parallel", published=16666.7,
            unit="V", reason="plateaus; the solver's own rounding", stop=13 * US,
            circuit=_wave_of(
                100e3, 400.0, *_leaving(400.0, "first"), *_leaving(40.0, "second")
            ), read=_at("joint", 8 * US),
        ),
        Claim(
            name="the same: at the end of the 40 ohm branch, open", source="closed form, doubled",
            published=33333.3, unit="V", tolerance=0.002, stop=14 * US,
            reason="plateaus; the solver's own rounding", read=_at("open", 11 * US),
            circuit=_wave_of(
                100e3, 400.0, *_leaving(400.0, "first"),
                _line("joint", "open", 40.0, 5 * US, "second"),
                Resistor(name="open end", a="open", b=GROUND, resistance=1e9),
            ),
        ),
    ]  # fmt: skip


def _tube(transfer: float) -> Network:
    """30 m of a tube of 1 mohm/m over a plane, a core in it tied to it at the near end and open at
    the far one, where the tube is earthed. A current of 1 kA, 10 us to the top, runs on the tube.
    """
    tube = Conductor(x=0.0, y=1.0, radius=25e-3, outer_radius=25e-3, permittivity=1.0)
    core = Conductor(x=0.0, y=0.0, radius=1.4e-3, outer_radius=3.2e-3, permittivity=2.5)
    field = enclosed(
        potential_coefficients((tube,), Surface("plane")), 0,
        potential_coefficients((core,), Surface("cylinder", 25e-3)), [transfer],
    )  # fmt: skip
    modes = decompose(
        MU_0 / (2 * np.pi) * field.bare, 2 * np.pi * EPSILON_0 * np.linalg.inv(field.insulated)
    )
    line = Line(
        name="tube", near=("tube", "tied"), far=("tube end", "core end"),
        voltage_modes=tuple(tuple(map(float, row)) for row in modes.voltage_modes),
        impedance=tuple(map(float, modes.impedance)),
        delay=tuple(float(30.0 / v) for v in modes.velocity), resistance=(0.0, 0.0),
    )  # fmt: skip
    return _injected(
        Ramp(peak=1e3, rise=10 * US), line,
        Resistor(name="near half", a="top", b="tube", resistance=15e-3),
        Resistor(name="far half", a="tube end", b="bar", resistance=15e-3),
        Resistor(name="earth", a="bar", b=GROUND, resistance=10.0),
        Resistor(name="tie", a="top", b="tied", resistance=1e-3),
        # what is inside rings: the far end is damped with about its own impedance
        Resistor(name="core open", a="core end", b="damped", resistance=200.0),
        Capacitor(name="core damping", a="damped", b="bar", capacitance=1e-9),
    )  # fmt: skip


def _screens() -> list[Claim]:
    """What a screen's current drives inside it, by its transfer impedance R + j omega L."""
    source = "closed form (R I + L dI/dt) l, E. F. Vance, Coupling to Shielded Cables, from memory"
    return [
        Claim(
            name="Inside 30 m of a closed tube of 1 mohm/m under 1 kA", source=source,
            published=30.0, unit="V", tolerance=0.005, stop=40 * US, circuit=_tube(0.0),
            reason="past the ramp, what rings is over",
            read=lambda w: float(w.across("core end", "bar")[-1]),
        ),
        Claim(
            name="the same with 1 nH/m of transfer inductance, at 0.8 kA, 100 A/us", source=source,
            published=27.0, unit="V", tolerance=0.01, stop=9 * US, circuit=_tube(1e-9),
            reason="it settles within the ramp", read=lambda w: float(
                np.interp(8 * US, w.time, w.across("core end", "bar"))
            ),
        ),
    ]  # fmt: skip


def _ramps() -> list[Claim]:
    """A linear front on an open line from a stiff source, in travel times."""
    delay = 1 * US
    rows = ((2.0, 2.0), (3.0, 4 / 3), (5.0, 1.2), (6.0, 4 / 3))
    return [
        Claim(
            name=f"Ramp of {fronts:g} travel times on an open line", source="closed form",
            published=value, unit="V", tolerance=0.005, reason="corners fall between steps",
            circuit=_driven(
                Ramp(peak=1.0, rise=fronts * delay), _line("start", "end", 300.0, delay),
                Resistor(name="open", a="end", b=GROUND, resistance=1e9),
            ),
            stop=20 * delay, read=_peak("end"),
        )
        for fronts, value in rows
    ]  # fmt: skip


def _arrester_distance() -> list[Claim]:
    rows = (
        (10.0, 466.67e3, "U = min(Up + 2 S T, 2 Up), IEC 60099-5, from memory"),
        (30.0, 600e3, f"{CHAKRABARTI}, Example 15.1"),
        (60.0, 800e3, "U = min(Up + 2 S T, 2 Up), IEC 60099-5, from memory"),
    )
    return [
        Claim(
            name=f"Arrester of 400 kV {length:g} m from an open end", source=source,
            published=volts, unit="V", tolerance=0.01, reason="2000 kV/us between steps",
            circuit=_driven(
                Ramp(peak=4e6, rise=2 * US), _line("start", "end", 400.0, length / 300e6),
                Clamp(name="A", a="start", b=GROUND, voltage=400e3, resistance=1e-3),
                Resistor(name="open", a="end", b=GROUND, resistance=1e9), behind=400.0,
            ),
            stop=2 * US, read=_peak("end"),
        )
        for length, volts, source in rows
    ]  # fmt: skip


def _line_into_capacitor(share: float, *, rise: float = 2e-9) -> Network:
    """A stiff step on a line of 1 us and 100 ohm, Z C at its end a ``share`` of its delay."""
    delay, impedance = 1 * US, 100.0
    return _driven(
        Step(peak=1.0, rise=rise), _line("start", "end", impedance, delay),
        Capacitor(name="C", a="end", b=GROUND, capacitance=share * delay / impedance),
    )  # fmt: skip


def _capacitive_curve() -> list[Claim]:
    """Nothing is lost, so that no swing is the last: the largest of the first 12 delays."""
    return [
        Claim(
            name=f"Stiff step on a line into a capacitor, Z C {share:g} of its delay: largest",
            published=volts, unit="V", source="the reflections' series, closed form",
            tolerance=0.005, reason="a front of 20 ns; crests between steps", stop=12 * US,
            circuit=_line_into_capacitor(share, rise=20e-9), read=_peak("end"),
        )
        for share, volts in ((0.2, 2.495), (0.5, 2.404), (1.0, 2.327), (2.0, 2.060))
    ]  # fmt: skip


def _clamped_ramps() -> list[Claim]:
    return [
        Claim(
            name=f"Clamped ramp of {rise:g} us through {henry:g} uH into {farad:g} nF",
            published=volts, unit="V", source="closed form 1 + |sin x|/x, x = pi tr/T0",
            tolerance=0.005, reason="round crest between steps", stop=stop * US,
            read=_peak("end"),
            circuit=_driven(
                Ramp(peak=1.0, rise=rise * US),
                Inductor(name="L", a="start", b="end", inductance=henry * 1e-6),
                Capacitor(name="C", a="end", b=GROUND, capacitance=farad * 1e-9),
            ),
        )
        for rise, henry, farad, volts, stop in (
            (0.1, 10, 1, 1.9588, 2), (0.3, 10, 5, 1.9267, 4), (1.0, 30, 10, 1.8668, 8)
        )
    ]  # fmt: skip


def _capacitive_ends() -> list[Claim]:
    """A clamped ramp through a lead into a capacitor; a stiff step on a line into one."""
    lead = _driven(
        Ramp(peak=1.0, rise=0.3 * US),
        Inductor(name="L", a="start", b="end", inductance=10e-6),
        Capacitor(name="C", a="end", b=GROUND, capacitance=1e-9),
    )
    line = _line_into_capacitor(0.1)
    return [
        Claim(
            name="Clamped ramp through 10 uH into 1 nF", published=1.6650, unit="V",
            source="closed form 1 + |sin x|/x, x = pi tr/T0", tolerance=0.005,
            reason="round crest between steps", circuit=lead, stop=3 * US, read=_peak("end"),
        ),
        Claim(
            name="Stiff step on a line into a capacitor, first re-reflection", published=2.4261,
            unit="V", source="closed form 4 exp(-1/2)", tolerance=0.01,
            reason="a sharp crest after a step of 2 ns", circuit=line, stop=3.5 * US,
            read=_peak_until("end", 3.5 * US),
        ),
    ]  # fmt: skip


def _varistors() -> list[Claim]:
    law = fit_three_numbers(reference_voltage=430.0, nominal_current=20e3, level=1350.0)

    def pulse(peak: float) -> Waveform:
        return CubicExponential(peak=peak, scale=0.01243e18, time_constant=3.911e-6)

    def energy(waveform: Waveform) -> Callable[[Waveforms], float]:
        return lambda w: float(np.trapezoid(w.at("top") * waveform.value(w.time), w.time))

    def circuit(waveform: Waveform) -> Network:
        return _injected(waveform, Varistor(name="V", a="top", b=GROUND, law=law))

    stroke = Heidler(peak=5e3, correction=0.93, front=19e-6, tail=485e-6, exponent=10.0)
    source = "two-term law, integrated independently"
    return [
        Claim(
            name="Varistor 430 V, 1350 V at 20 kA: residual at 5 kA 8/20", source=source,
            published=916.29, unit="V", tolerance=0.005, circuit=circuit(pulse(5e3)),
            reason="IEEE's 8/20 formula peaks at 0.9996", stop=60 * US, read=_peak("top"),
        ),
        Claim(
            name="the same: energy of 5 kA 8/20", source=source, published=73.84, unit="J",
            tolerance=0.005, reason="as published", circuit=circuit(pulse(5e3)), stop=80 * US,
            read=energy(pulse(5e3)),
        ),
        Claim(
            name="the same: energy of 5 kA 10/350", source=source, published=2001.0, unit="J",
            tolerance=0.01, reason="as published; end of tail at 5.2 time constants",
            circuit=circuit(stroke), stop=2500 * US, read=energy(stroke),
        ),
        Claim(
            name="Lead of 1 uH, drop under 1 kA 8/20", source="closed form, IEEE C62.41.2 shape",
            published=149.0, unit="V", tolerance=0.01, reason="as published",
            circuit=_injected(
                pulse(1e3), Inductor(name="lead", a="top", b=GROUND, inductance=1e-6),
                Resistor(name="damping", a="top", b=GROUND, resistance=1e3),
            ),
            stop=40 * US, read=_peak("top"),
        ),
    ]  # fmt: skip


def _loops() -> list[Claim]:
    """10 m by 1 m of 1 mm radius, 1 m from an upright channel that carries 50 kA of 0.25/100."""
    stroke = Heidler(peak=50e3, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0)
    corners: list[Point] = [(1, 0, 10), (2, 0, 10), (2, 0, 0), (1, 0, 0), (1, 0, 10)]
    induces = Induced(current=stroke, mutual=induced(corners, Channel(0.0, 0.0)))
    source = VoltageSource(name="loop", a="open", b=GROUND, waveform=induces)
    opened = Resistor(name="R", a="open", b=GROUND, resistance=1e6)
    wire = rectangle_inductance(10.0, 1.0, 1e-3)
    shorted = (
        Inductor(name="L", a="open", b="end", inductance=wire),
        Resistor(name="damping", a="open", b="end", resistance=1e9 * wire),
        Ammeter(name="short", a="end", b="metal"),
        Resistor(name="metal", a="metal", b=GROUND, resistance=1e-3),
    )
    return [
        Claim(
            name="Open loop 1 m from 50 kA 0.25/100", published=386.8e3, unit="V",
            source="mu0 l/2pi ln((d + w)/d) times the 279 kA/us of IEC 62305-1 Annex B",
            tolerance=0.005, reason="a crest between steps", stop=2 * US, read=_peak("open"),
            circuit=Network(title="check", elements=(source, opened), waveform=stroke),
        ),
        Claim(
            name="the same loop, short-circuited", published=2321.0, unit="A",
            source="I M/L, IEC 62305-4:2010 Annex A (from memory)", tolerance=0.005,
            reason="the voltage's crest between steps", stop=3 * US,
            read=lambda waves: float(np.max(waves.currents["short"])),
            circuit=Network(title="check", elements=(source, *shorted), waveform=stroke),
        ),
    ]  # fmt: skip


def _distant_stroke() -> Claim:
    """An upright loop of 10 m2, 100 m from a channel whose current rises by 100 kA/us at most.

    A subsequent stroke of 50 kA has 279 kA/us (IEC 62305-1 Annex B).
    """
    rise = Heidler(
        peak=50e3 * 100 / 279, correction=0.993, front=0.454e-6, tail=143e-6, exponent=10.0
    )
    corners: list[Point] = [(99, 0, 5), (101, 0, 5), (101, 0, 0), (99, 0, 0), (99, 0, 5)]
    induces = Induced(current=rise, mutual=induced(corners, Channel(0.0, 0.0)))
    source = VoltageSource(name="loop", a="open", b=GROUND, waveform=induces)
    opened = Resistor(name="R", a="open", b=GROUND, resistance=1e6)
    return Claim(
        name="Upright loop of 10 m2 at 100 m from 100 kA/us", published=2000.0, unit="V",
        source="mu0 A/(2 pi s) di/dt, closed form", tolerance=0.005,
        reason="the field is taken as the same all over the loop", stop=2 * US, read=_peak("open"),
        circuit=Network(title="check", elements=(source, opened), waveform=rise),
    )  # fmt: skip


def _rods() -> list[Claim]:
    """Two rods of 3 m by 16 mm, 6 m apart in 100 ohm m, joined above ground."""
    own = rod_resistance(3.0, 0.008, 100.0)
    mutual = mutual_resistance(6.0, 100.0, first=3.0, second=3.0)
    soil = as_resistors(np.array([[own, mutual], [mutual, own]]))
    network = _injected(
        Step(peak=1000.0, rise=1 * US),
        Ammeter(name="bond", a="top", b="second"),
        Resistor(name="between", a="top", b="second", resistance=float(1 / soil.between[0, 1])),
        Resistor(name="first", a="top", b=GROUND, resistance=float(1 / soil.to_earth[0])),
        Resistor(name="other", a="second", b=GROUND, resistance=float(1 / soil.to_earth[1])),
    )
    return [
        Claim(
            name="1 kA into two rods 6 m apart", published=17986.0, unit="V", tolerance=0.001,
            source="average potential, of which IEEE Std 142 prints a series (from memory)",
            reason="five digits published", circuit=network, stop=2 * US, read=_peak("top"),
        )
    ]  # fmt: skip


def claims() -> list[Claim]:
    """Every claim about a circuit."""
    return [
        *_lattice(), *_junctions(), *_branches(), *_screens(), *_ramps(), *_arrester_distance(),
        *_capacitive_ends(), *_capacitive_curve(), *_clamped_ramps(), *_varistors(), *_loops(),
        _distant_stroke(), *_rods(),
    ]  # fmt: skip
