"""What a surge shape, a cable, an earth or a bond works out to, for a person to check by hand.

Records in SI units, with the keys that ``surgesim models show --json`` prints.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, Literal

import numpy as np

from surgesim.build.cables import Band, Core, Stretch, cables, stretches
from surgesim.build.chains import chain_of
from surgesim.build.earths import bonds, earths
from surgesim.build.electrodes import worked_out as electrode
from surgesim.build.parts import label_of, node
from surgesim.build.surges import surge_waveform
from surgesim.build.whole import band_of
from surgesim.catalogue.cards import Cable as CableCard
from surgesim.catalogue.cards import SurgeGenerator, SurgeShape, TextbookLine
from surgesim.errors import InputError
from surgesim.network.elements import GROUND, Inductor, Line, Resistor
from surgesim.network.impedance import impedance
from surgesim.physics.foster import Chain
from surgesim.physics.generators import charge_for, open_circuit, short_circuit
from surgesim.physics.modes import decompose
from surgesim.physics.waveforms import shape_figures
from surgesim.reading.names import did_you_mean
from surgesim.scenario.file import Case
from surgesim.scenario.laying import laying_text
from surgesim.scenario.schema import Cable, Scenario
from surgesim.scenario.terminals import Terminals

Record = dict[str, Any]

PEAK = 1000.0
"""A or V of the surge that a shape is shown at; charge goes with it, W/R with its square."""

SHORT = 1e-9
"""Ohm that closes a bond to look at it from its other end."""

FREQUENCIES = np.geomspace(1e2, 1e7, 101)


def shape(name: str, card: SurgeShape) -> Record:
    """The figures of a surge shape at a peak of 1 kA or 1 kV, or at its own where it has one."""
    waveform = card.waveform(PEAK if card.peak is None else card.peak.value)
    figures = shape_figures(waveform, kind=card.measured_as)
    return {
        "kind": "surge shape",
        "name": name,
        "unit": "A" if card.measured_as == "current" else "V",
        "peak": figures.peak,
        "time_to_peak_s": figures.time_to_peak,
        "front_s": figures.front,
        "tail_s": figures.tail,
        "steepest_per_s": figures.steepest,
        "charge_c": figures.charge,
        "specific_energy_j_per_ohm": figures.specific_energy,
    }


def generator(name: str, card: SurgeGenerator) -> Record:
    """The figures of a generator set to 1 kV: of its open output, and into a short behind its
    coupling network.
    """
    figures = shape_figures(open_circuit(card.generator, peak=PEAK), kind="voltage")
    short = short_circuit(card.generator, peak=PEAK)
    return {
        "kind": "surge generator",
        "name": name,
        "peak": PEAK,
        "charge_v": charge_for(card.generator, peak=PEAK),
        "front_s": figures.front,
        "tail_s": figures.tail,
        "steepest_per_s": figures.steepest,
        "impedance_ohm": PEAK / short.peak,
        "short_peak_a": short.peak,
        "short_front_s": short.front,
        "short_tail_s": short.tail,
        "short_charge_c": short.charge,
        "short_specific_energy_j_per_ohm": short.specific_energy,
    }


def of_scenario(cases: Iterable[Case], name: str) -> Record:
    """A cable, an earth or a bond in the first of the cases that has it; InputError if none has."""
    known: dict[str, None] = {}
    for case in cases:
        scenario = case.scenario
        where = {"case": case.id, "surge": scenario.surge_name}
        with case.locating():
            if name in scenario.cables:
                return {**cable(scenario, name), **where}
            if name in scenario.earths:
                return {**earth(scenario, name), **where}
            if name in scenario.bonds:
                return {**bond(scenario, name), **where}
        known.update(dict.fromkeys((*scenario.cables, *scenario.earths, *scenario.bonds)))
    hint = did_you_mean(name, known) or f"it has {', '.join(sorted(known))}"
    raise InputError.of(f"no cable, earth or bond {name!r} in any case", hint=hint)


def cable(scenario: Scenario, name: str) -> Record:
    """Matrices, modes and soil of the route that a cable lies on, of each of its stretches: under
    ``further`` those after the first.
    """
    chosen = scenario.cables[name]
    host = chosen.laid_with or name
    card = scenario.cards[chosen.type]
    if isinstance(card, TextbookLine):
        return {
            "kind": "textbook line",
            "name": name,
            "length_m": chosen.length,
            "impedance_ohm": card.surge_impedance.value,
            "velocity_m_per_s": card.velocity.value,
            "delay_s": chosen.length / card.velocity.value,
        }
    route = {n: c for n, c in scenario.cables.items() if host in (n, c.laid_with)}
    route = {host: route.pop(host), **route}
    band = _band(scenario)
    lines = _lines(scenario, band, route)
    parts = list(stretches(route, scenario, band))
    records = [
        _stretch(name, route, part, band, sum(line.startswith(part.name) for line in lines))
        for part in parts
    ]
    for number, (record, part) in enumerate(zip(records, parts, strict=True), start=1):
        if len(parts) > 1:
            (laying,) = part.host.laying or ()
            words = f"stretch {number} of {len(parts)}: {laying_text(laying)}"
            record["route"] = [*record["route"], words]
    return {**records[0], "further": records[1:]}


def _stretch(
    name: str, route: dict[str, Cable], stretch: Stretch, band: Band, pieces: int
) -> Record:
    """One way that a route is laid."""
    constants, kept = stretch.constants, stretch.cores
    modes = decompose(constants.inductance, constants.capacitance)
    length = stretch.length
    return {
        "kind": "cable",
        "name": name,
        "route": [*route],
        "length_m": length,
        "conductors": [_conductor(core, route) for core in kept],
        "inductance_h_per_m": constants.inductance.tolist(),
        "capacitance_f_per_m": constants.capacitance.tolist(),
        "resistance_ohm_per_m": constants.resistance.tolist(),
        "modes": [
            {
                "voltages": modes.voltage_modes[:, k].tolist(),
                "impedance_ohm": float(modes.impedance[k]),
                "velocity_m_per_s": float(modes.velocity[k]),
                "delay_s": float(length / modes.velocity[k]),
            }
            for k in range(len(kept))
        ],
        "curve": _curve(constants.earth, band),
        "soil": [_soil(constants.earth.impedance(hertz), hertz) for hertz in _shown(band)],
        "pieces": pieces,
    }


def earth(scenario: Scenario, name: str) -> Record:
    """An earth's resistance, by its shape and as measured, and its impedance over frequency."""
    described = scenario.earths[name]
    found = electrode(described, scenario.site.soil)
    label = label_of("earth", name)
    front = _band(scenario).front
    (part,) = (p for p in earths(scenario, front) if any(e.name == name for e in p.earths))
    start = part.earths[0].node
    chain = chain_of(described, found.resistance, front)
    values = impedance(part.elements, start, FREQUENCIES)
    return {
        "kind": "earth",
        "name": name,
        "label": label,
        "resistance_ohm": found.resistance,
        "obtained": found.obtained,
        "from_shape_ohm": found.from_shape,
        "shape": found.shape,
        "inductance_h": described.lumped,
        "along": "" if chain is None else chain.words,
        "frequency_hz": FREQUENCIES.tolist(),
        "impedance_ohm": np.abs(values).tolist(),
        "front_hz": front,
    }


def bond(scenario: Scenario, name: str) -> Record:
    """A bond's inductance and resistance, and its impedance over frequency: between its ends, or
    of one bare in the soil, to remote earth from its first end, with nothing at the other.
    """
    described, front = scenario.bonds[name], _band(scenario).front
    card = scenario.cards[described.type]
    assert isinstance(card, CableCard)
    record = {
        "kind": "bond",
        "name": name,
        "length_m": described.length,
        "resistance_ohm": card.resistance.value * described.length,
        "joint_ohm": described.joint,
        "bare_in_soil_m": described.bare_in_soil,
        "laid_with": described.laid_with,
        "front_hz": front,
    }
    alone = described.model_copy(update={"laid_with": None, "spacing": None})
    only = scenario.model_copy(update={"bonds": {name: alone}})
    (part,) = bonds(only, front)
    coils = [e.inductance for e in part.elements if isinstance(e, Inductor)]
    record["inductance_h"] = sum(coils)
    elements, start = list(part.elements), node(Terminals.of(scenario).find(described.from_))
    if described.bare_in_soil is None:
        end = node(Terminals.of(scenario).find(described.to))
        elements.append(Resistor(name="closed", a=end, b=GROUND, resistance=SHORT))
    else:
        record["to_remote_earth_ohm"] = part.earths[0].resistance
        record["pieces"] = sum(e.name.endswith("/leak") for e in part.elements)
    values = np.abs(impedance(elements, start, FREQUENCIES))
    return {**record, "frequency_hz": FREQUENCIES.tolist(), "impedance_ohm": values.tolist()}


def _band(scenario: Scenario) -> Band:
    kind: Literal["current", "voltage"] = (
        "current" if scenario.surge.peak.unit == "A" else "voltage"
    )
    return band_of(surge_waveform(scenario), kind)


def _conductor(core: Core, route: dict[str, Any]) -> str:
    runs = 1 if core.metal or core.bare else route[core.cable].count
    alone = len(route) == 1 or core.bare
    words = core.name if alone else f"{core.name} of {core.cable}"
    return words if runs == 1 else f"{words}, {runs} runs as one"


def _shown(band: Band) -> list[float]:
    """The tail's frequency, the front's, and the middle between them by ratio; Hz."""
    return [band.tail, math.sqrt(band.tail * band.front), band.front]


def _curve(earth: Chain, band: Band) -> Record:
    frequencies = np.geomspace(band.tail, 10 * band.front, 61)
    ohm = [earth.impedance(float(hertz)).real for hertz in frequencies]
    return {"frequency_hz": frequencies.tolist(), "resistance_ohm_per_m": ohm}


def _soil(value: complex, hertz: float) -> Record:
    return {
        "frequency_hz": hertz,
        "resistance_ohm_per_m": value.real,
        "inductance_h_per_m": value.imag / (2.0 * math.pi * hertz),
    }


def _lines(scenario: Scenario, band: Band, route: dict[str, Any]) -> list[str]:
    """Names of the lines of a route."""
    group = "cable " + ", ".join(route)
    every = (e for part in cables(scenario, band, {}) for e in part.elements)
    return [e.name for e in every if isinstance(e, Line) and e.group == group]
