"""A small shed whose insulation can be set to the edge of firing."""

from __future__ import annotations

from functools import cache

from surgesim.scenario.file import Case, loads
from surgesim.studies.run import Result, measure, run

SHED = """
surgesim: 1
title: Shed at the edge
asked margin: 0 %
site: {{soil: 100 ohm m}}
places: {{array: {{}}, shed: {{}}}}
cables:
  run: {{from: array, to: shed, length: 40 m, type: pv pair 6 mm2, laying: in air 0.5 m high}}
  earth wire: {{from: array, to: shed, length: 40 m, type: copper 16 mm2, laid with: run}}
earths:
  shed rod: {{at: shed, bar: pe, measured: 20 ohm, inductance: 1 uH}}
supply:
  string: {{at: array, voltage: 600 V, Isc at STC: 10 A, reference: {{to: pe, each pole: 1 Mohm}}}}
equipment:
  inverter:
    at: shed
    plus to pe:
      {{withstand: {withstand:.9g} V, from: guess, capacitance: 20 nF, flashover: {plus:.9g} V}}
    minus to pe:
      {{withstand: {withstand:.9g} V, from: guess, capacitance: 20 nF, flashover: {minus:.9g} V}}
surges:
  induced: {{shape: 8/20, peak: 100 A, channel: 200 ohm, into: array plus, returns: remote earth}}
"""

FAR = 1e6
"""A level in V that nothing here comes near."""


def shed_text(*, plus: float = FAR, minus: float = FAR, withstand: float = 1e3) -> str:
    return SHED.format(plus=plus, minus=minus, withstand=withstand)


def shed_case(*, plus: float = FAR, minus: float = FAR) -> Case:
    (case,) = loads(shed_text(plus=plus, minus=minus), name="shed").all_cases
    return case


def ran(case: Case) -> Result:
    (result,) = run([case])
    return result


@cache
def open_peaks() -> dict[str, float]:
    """What each pair sees where nothing fires, V."""
    return {
        terminal.pair: abs(terminal.peak_v or 0.0)
        for terminal in measure(ran(shed_case())).terminals
    }
