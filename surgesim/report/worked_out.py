"""What a surge shape, a cable, an earth or a bond works out to, as tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import numbers
from surgesim.report.blocks import Page, heading, indented, paragraph, plain_table

Record = Mapping[str, Any]


def render_worked_out(record: Record) -> RenderableType:
    """The figures of one shape, cable, earth or bond, with four digits for a check by hand."""
    blocks = {
        "surge shape": _shape,
        "surge generator": _generator,
        "cable": _cable,
        "textbook line": _textbook,
        "earth": _earth,
        "bond": _bond,
    }[record["kind"]]
    return Page(blocks(record))


def _shape(record: Record) -> Iterator[RenderableType]:
    unit = record["unit"]
    tail = record["tail_s"]
    yield heading("works out to", aside=f"at a peak of {numbers.stated(record['peak'], unit)}")
    yield _values(
        {
            "time to peak": _us(record["time_to_peak_s"]),
            "front T1": _us(record["front_s"]),
            "tail T2": "none: it never falls" if tail is None else _us(tail),
            "largest rate of change": f"{record['steepest_per_s'] / 1e9:.4g} k{unit}/us",
            **(
                {}
                if record["charge_c"] is None
                else {
                    "charge": numbers.stated(record["charge_c"], "C"),
                    "W/R": numbers.stated(record["specific_energy_j_per_ohm"], "J/ohm"),
                }
            ),
        }
    )
    yield paragraph(
        "T1 and T2 as IEC 62475 (currents) and IEC 60060-1 (voltages) define them, measured on the"
        " waveform itself. Rate of change and charge grow with the peak, W/R with its square.",
        indent=2,
    )


def _generator(record: Record) -> Iterator[RenderableType]:
    yield heading("works out to", aside=f"set to {numbers.stated(record['peak'], 'V')} open")
    yield _values(
        {
            "its capacitor charged to": f"{record['charge_v']:.4g} V",
            "open: front T1": _us(record["front_s"]),
            "open: tail T2": _us(record["tail_s"]),
            "open: largest rate of change": f"{record['steepest_per_s'] / 1e9:.4g} kV/us",
            "short: peak": f"{record['short_peak_a']:.4g} A",
            "short: front T1": _us(record["short_front_s"]),
            "short: tail T2": _us(record["short_tail_s"]),
            "short: charge": numbers.stated(record["short_charge_c"], "C"),
            "short: W/R": numbers.stated(record["short_specific_energy_j_per_ohm"], "J/ohm"),
            "open voltage over short current": f"{record['impedance_ohm']:.4g} ohm",
        }
    )
    yield paragraph(
        "The short is behind the coupling network. Its charge and W/R count the undershoot too.",
        indent=2,
    )


def _cable(record: Record) -> Iterator[RenderableType]:
    yield _title(record)
    yield _values(
        {
            "route": ", ".join(record["route"]),
            "length": f"{record['length_m']:g} m",
            "computed as": "one line"
            if record["pieces"] == 1
            else f"{record['pieces']} equal lines in a row, soil where they meet",
        }
    )
    names = record["conductors"]
    numbered = [f"{k}: {name}" for k, name in enumerate(names, start=1)]
    yield heading("conductors", aside="resistance of the metal at direct current")
    ohms = (_digits(1e3 * ohm) for ohm in record["resistance_ohm_per_m"])
    yield _table(("conductor", "mohm/m"), list(zip(numbered, ohms, strict=True)))
    for title, key, aside, scale in (
        ("inductance", "inductance_h_per_m", "L' in nH/m, remote earth returns, no soil", 1e9),
        ("capacitance", "capacitance_f_per_m", "C' in pF/m", 1e12),
    ):
        yield heading(title, aside=aside)
        yield _matrix(record[key], scale)
    yield heading("modes", aside="voltages of the conductors beside each other")
    yield _table(
        ("mode", "voltages", "ohm", "m/us", "delay ns"),
        [
            (
                str(k),
                "  ".join(f"{v:+.3f}" for v in mode["voltages"]),
                _digits(mode["impedance_ohm"]),
                _digits(mode["velocity_m_per_s"] / 1e6),
                _digits(1e9 * mode["delay_s"]),
            )
            for k, mode in enumerate(record["modes"], start=1)
        ],
    )
    yield heading("soil", aside="what it adds in the way of all currents together")
    yield _table(
        ("at", "mohm/m", "nH/m"),
        [
            (
                _hertz(each["frequency_hz"]),
                _digits(1e3 * each["resistance_ohm_per_m"]),
                _digits(1e9 * each["inductance_h_per_m"]),
            )
            for each in record["soil"]
        ],
    )
    for further in record["further"]:
        yield from _cable({**record, **further, "further": []})


def _bond(record: Record) -> Iterator[RenderableType]:
    yield _title(record)
    rows = {
        "length": f"{record['length_m']:g} m",
        "resistance of the metal": f"{1e3 * record['resistance_ohm']:.4g} mohm at direct current",
        "inductance": f"{1e6 * record['inductance_h']:.4g} uH, of a straight wire without return",
    }
    if record["joint_ohm"]:
        rows["joint"] = f"{record['joint_ohm']:g} ohm"
    if record["bare_in_soil_m"] is not None:
        rows["leaks"] = (
            f"{record['to_remote_earth_ohm']:.4g} ohm to remote earth by its shape, bare"
            f" {record['bare_in_soil_m']:g} m deep, in {record['pieces']} pieces"
        )
    if record["laid_with"] is not None:
        rows["computed as"] = (
            f"a conductor of the route of {record['laid_with']}, which 'models show' tells by that"
            " name; here by itself"
        )
    yield _values(rows)
    where = (
        "between its ends"
        if record["bare_in_soil_m"] is None
        else ("to remote earth from its first end, nothing at the other")
    )
    yield heading("impedance", aside=where)
    yield _impedances(record)


def _textbook(record: Record) -> Iterator[RenderableType]:
    yield _title(record)
    yield _values(
        {
            "length": f"{record['length_m']:g} m",
            "surge impedance": f"{record['impedance_ohm']:g} ohm",
            "velocity": f"{record['velocity_m_per_s'] / 1e6:g} m/us",
            "delay": f"{1e9 * record['delay_s']:.4g} ns",
        }
    )


def _earth(record: Record) -> Iterator[RenderableType]:
    yield _title(record)
    shape = record["from_shape_ohm"]
    yield _values(
        {
            "resistance": f"{record['resistance_ohm']:.4g} ohm, {record['obtained']}",
            "by its shape": "no shape given"
            if shape is None
            else f"{shape:.4g} ohm, {record['shape']}",
            "inductance": record["along"] or f"{1e6 * record['inductance_h']:.4g} uH",
        }
    )
    yield heading("impedance to remote earth", aside="small currents")
    yield _impedances(record)


def _impedances(record: Record) -> RenderableType:
    chosen = range(0, len(record["frequency_hz"]), 20)
    return _table(
        ("at", "ohm"),
        [(_hertz(record["frequency_hz"][k]), _digits(record["impedance_ohm"][k])) for k in chosen],
    )


def _title(record: Record) -> RenderableType:
    aside = f"for {record['surge']!r}, case {record['case']}"
    return heading(f"{record['kind']} {record['name']}", aside=aside)


def _values(rows: Mapping[str, str]) -> RenderableType:
    table = plain_table()
    table.show_header = False
    table.add_column(min_width=24)
    table.add_column(overflow="fold", ratio=1)
    for name, value in rows.items():
        table.add_row(Text(name), Text(value))
    return indented(table, 2)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> RenderableType:
    table = plain_table()
    for k, head in enumerate(heads):
        table.add_column(head, justify="left" if k < 1 else "right", overflow="fold")
    for row in rows:
        table.add_row(*map(Text, row))
    return indented(table, 2)


def _matrix(values: Sequence[Sequence[float]], scale: float) -> RenderableType:
    heads = ["", *(str(k) for k in range(1, len(values) + 1))]
    rows = [[str(k), *(_digits(scale * v) for v in row)] for k, row in enumerate(values, start=1)]
    return _table(heads, rows)


def _us(seconds: float) -> str:
    return f"{1e6 * seconds:.4g} us"


def _digits(value: float) -> str:
    return f"{value:.4g}"


def _hertz(value: float) -> str:
    for scale, unit in ((1e6, "MHz"), (1e3, "kHz")):
        if value >= scale:
            return f"{value / scale:.3g} {unit}"
    return f"{value:.3g} Hz"
