"""The disclosures of a study as text: what every number stands on, from their data alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from surgesim.report import influence, numbers
from surgesim.report.blocks import Page, bullet, heading, paragraph
from surgesim.report.console import text
from surgesim.report.crosscheck import line as crosschecked
from surgesim.report.numerical import percentage

Record = Mapping[str, Any]
Blocks = Iterator[RenderableType]

_LETTERS = (("p", 1e-12), ("n", 1e-9), ("u", 1e-6), ("m", 1e-3), ("", 1.0), ("k", 1e3), ("M", 1e6))


def render(disclosures: Record) -> RenderableType:
    """All sections of the disclosures of a record or a report."""
    return Page(_parts(disclosures))


def as_text(disclosures: Record) -> str:
    """The disclosures as plain lines of at most 80 columns."""
    return text(render(disclosures))


def _parts(disclosures: Record) -> Blocks:
    yield Text("What the numbers stand on", style="bold")
    for title, key, line in _SECTIONS:
        entries = disclosures[key]
        if entries:
            yield heading(title)
            yield from (bullet(words, lead=name) for name, words in map(line, entries))
    yield from _cards(disclosures["cards"])
    yield from _plain("Assumptions", disclosures["assumptions"])
    yield from _guesses(disclosures["guesses"])
    yield from _plain("Not modelled", disclosures["not_modelled"])
    yield from _engine(disclosures["engine"])
    yield from _errors(disclosures["errors"])
    yield from _crosscheck(disclosures["crosscheck"])
    yield from _plain("Cautions", disclosures["cautions"])


def _plain(title: str, lines: Sequence[str]) -> Blocks:
    if lines:
        yield heading(title)
        yield from (bullet(line) for line in lines)


# --- what the circuit is made of --------------------------------------------------------------


def _surge(entry: Record) -> tuple[str, str]:
    unit = entry["unit"]
    times = [f"T1 {_si(entry['t1_s'], 's')}"]
    times += [f"T2 {_si(entry['t2_s'], 's')}"] if entry["t2_s"] is not None else []
    charge = entry["charge_c"]
    parts = [
        f"{entry['shape']}, {entry['formula']}, {entry['polarity']}",
        f"peak {_si(entry['peak'], unit)}, {', '.join(times)}",
        f"steepest {numbers.steepness(entry['steepest_per_s'], unit)}",
        *([f"charge {_si(charge, 'C')}"] if charge is not None else []),
        *([entry["beside"]] if entry["beside"] else []),
        *([f"from {entry['into']} to {entry['returns']}"] if entry["into"] else []),
        f"impedance {_impedance(entry)}",
    ]
    return entry["name"], _said(parts, entry)


def _impedance(entry: Record) -> str:
    ohms = entry["impedance_ohm"]
    return entry["impedance_is"] if ohms is None else f"{_si(ohms, 'ohm')} {entry['impedance_is']}"


def _arrester(entry: Record) -> tuple[str, str]:
    leads = [f"line lead {_lead(entry, 'line')}"]
    if entry["earth_lead_m"] is not None:
        leads.append(f"earth lead {_lead(entry, 'earth')} to {entry['earth_lead_to']}")
    parts = [
        f"{entry['card']} at {entry['at']}, {' and '.join(entry['across'])}, {entry['wiring']}",
        f"{', '.join(leads)}, {entry['leads_are']}",
        *([entry["in_series"]] if entry["in_series"] else []),
        entry["model"],
        *([_law(entry["law"])] if entry["law"] else []),
        f"rating: {entry['rating_basis']}",
    ]
    return entry["slot"], _said(parts, entry)


def _lead(entry: Record, which: str) -> str:
    return f"{_si(entry[f'{which}_lead_m'], 'm')} ({_si(entry[f'{which}_lead_h'], 'H')})"


def _law(law: Record) -> str:
    named = ", ".join(f"{name.replace('_', ' ')} {value:.6g}" for name, value in law.items())
    return f"fitted, in SI units, at the declared level: {named}"


def _tolerance(entry: Record) -> tuple[str, str]:
    percent = 100.0 * (entry["voltage_over_nominal"] - 1.0)
    level = "at the nominal voltage" if percent == 0.0 else f"{percent:+.3g} % of nominal voltage"
    return entry["level"], _said([f"{level} at every current"], entry)


def _route(entry: Record) -> tuple[str, str]:
    parts = [f"{entry['from']} to {entry['to']}, {_si(entry['length_m'], 'm')}"]
    parts += [entry["laying"]] if entry["laying"] else []
    parts.append(entry["obtained"])
    parts += [f"as {entry['pieces']} equal pieces"] if entry["pieces"] > 1 else []
    parts += [_mode(number, mode) for number, mode in enumerate(entry["modes"], start=1)]
    if entry["constants"]:
        parts += list(_constants(entry["constants"]))
    return ", ".join(entry["cables"]), _said(parts, entry)


def _mode(number: int, mode: Record) -> str:
    # where the metal's resistance stands beside the line, at its ends, the mode itself has none
    ohms = mode["resistance_ohm"]
    metal = f", metal {_si(ohms, 'ohm')}" if ohms else ""
    speed = f"{mode['velocity_m_per_s'] / 1e6:.4g} m/us"
    return f"mode {number}: {_si(mode['impedance_ohm'], 'ohm')}, {speed}{metal}"


def _constants(constants: Record) -> Iterator[str]:
    yield f"conductors in order: {', '.join(constants['conductors'])}"
    front, tail = (_si(constants[key], "Hz") for key in ("front_hz", "tail_hz"))
    yield f"L' in uH/m far above {front}: {_rows(constants, 'inductance_h', 1e6)}"
    yield f"C' in pF/m: {_rows(constants, 'capacitance_f', 1e12)}"
    chain = " + ".join(
        f"{1e3 * part['resistance_ohm_per_m']:.4g} at {_si(part['time_s'], 's')}"
        for part in constants["earth_return"]
    )
    if chain:
        yield (
            f"earth return from {tail} to beyond {front}, in mohm/m, each beside its resistance"
            f" times a time as inductance: {chain}"
        )


def _rows(constants: Record, key: str, factor: float) -> str:
    """A matrix in one line: its rows from the diagonal on, which is all there is to it."""
    matrix = constants[f"{key}_per_m"]
    rows = [" ".join(f"{factor * value:.4g}" for value in row[k:]) for k, row in enumerate(matrix)]
    return " / ".join(rows)


def _earth(entry: Record) -> tuple[str, str]:
    parts = [
        f"at {entry['at']} {entry['bar']}",
        f"{_si(entry['resistance_ohm'], 'ohm')}, {entry['obtained']}",
        *_by_shape(entry),
        entry["along"] or f"inductance {_si(entry['inductance_h'], 'H')}",
    ]
    return entry["name"], _said(parts, entry)


def _by_shape(entry: Record) -> Iterator[str]:
    """What the shape gives, where something else was computed with."""
    if entry["shape"] and not entry["obtained"].startswith(entry["shape"]):
        yield f"its shape would give {_si(entry['from_shape_ohm'], 'ohm')}: {entry['shape']}"


def _bond(entry: Record) -> tuple[str, str]:
    parts = [
        f"{entry['from']} to {entry['to']}, {_si(entry['length_m'], 'm')}",
        f"{_si(entry['inductance_h'], 'H')}, {entry['obtained']}",
    ]
    return entry["name"], _said(parts, entry)


def _supply(entry: Record) -> tuple[str, str]:
    parts = [
        f"at {entry['at']}, {entry['state']}",
        f"{_si(entry['open_circuit_v'], 'V')}, {_si(entry['short_circuit_a'], 'A')}, "
        f"{entry['obtained']}",
        f"{_si(entry['resistance_ohm'], 'ohm')} beyond its range",
    ]
    if entry["to_frame_f"]:
        parts.append(f"cells to frames {_si(entry['to_frame_f'], 'F')}, half at each pole")
    if entry["frames_to_earth_f"]:
        parts.append(f"frames to earth {_si(entry['frames_to_earth_f'], 'F')}")
    return entry["name"], _said([*parts, *_tied(entry)], entry)


def _battery(entry: Record) -> tuple[str, str]:
    parts = [
        f"at {entry['at']}, {_si(entry['voltage_v'], 'V')}",
        f"{_si(entry['resistance_ohm'], 'ohm')} and {_si(entry['inductance_h'], 'H')} in series",
    ]
    return entry["name"], _said([*parts, *_tied(entry)], entry)


def _tied(entry: Record) -> list[str]:
    """How a supply stands to earth."""
    fault = [f"earth fault: {entry['earth_fault']}"] if entry["earth_fault"] else []
    return [f"reference: {entry['reference']}", *fault]


def _join(entry: Record) -> tuple[str, str]:
    parts = [f"{_si(entry['resistance_ohm'], 'ohm')} and {_si(entry['inductance_h'], 'H')}"]
    return f"{entry['equipment']}, {entry['pair']}", _said(parts, entry)


def _terminal(entry: Record) -> tuple[str, str]:
    where = f", {entry['where']}" if entry["where"] else ""
    parts = [
        f"{entry['limit']} {_si(entry['limit_v'], 'V')}, from: {entry['origin']}{where}",
        f"capacitance {_si(entry['capacitance_f'], 'F')}",
    ]
    if entry["flashover_v"] is not None:
        given, level = entry["flashover_given"], _si(entry["flashover_v"], "V")
        of = f" ({given})" if "+-" in given else ""
        parts.append(f"insulation fires at {level}{of}")
    if entry["arc_voltage_v"] is not None:
        parts.append(f"its arc holds {_si(entry['arc_voltage_v'], 'V')}")
    return f"{entry['equipment']}, {entry['pair']}", _said(parts, entry)


def _common(entry: Record) -> tuple[str, str]:
    parts = [
        f"{_si(entry['distance_m'], 'm')} apart, {_si(entry['mutual_ohm'], 'ohm')} in common",
        entry["obtained"],
    ]
    return f"{entry['first']}, {entry['second']}", _said(parts, entry)


def _induced(entry: Record) -> tuple[str, str]:
    parts = [
        f"crest {_si(entry['crest_v'], 'V')} open, {_si(entry['mutual_h'], 'H')} above ground",
        entry["obtained"],
    ]
    return f"{entry['where']} by {entry['surge']}", _said(parts, entry)


def _unassessed(entry: Record) -> tuple[str, str]:
    return f"{entry['equipment']}, at {entry['place']}", entry["reason"]


def _said(parts: Sequence[str], entry: Record) -> str:
    cases = entry["cases"]
    return f"{'; '.join(parts)} ({cases} case{'' if cases == 1 else 's'})"


_Line = Callable[[Record], tuple[str, str]]
_SECTIONS: tuple[tuple[str, str, _Line], ...] = (
    ("Surges", "surges", _surge),
    ("Arresters", "arresters", _arrester),
    ("Tolerance of the arresters", "arrester_tolerances", _tolerance),
    ("Cables", "lines", _route),
    ("Earths", "earths", _earth),
    ("Through the soil", "common_soil", _common),
    ("Induced", "induced", _induced),
    ("Bonds", "bonds", _bond),
    ("Supply", "supplies", _supply),
    ("Batteries", "batteries", _battery),
    ("Joined inside equipment", "joins", _join),
    ("Terminals", "terminals", _terminal),
    ("Not assessed", "not_assessed", _unassessed),
)


def _cards(cards: Sequence[Record]) -> Blocks:
    if not cards:
        return
    yield heading("Cards", aside="every number with its source")
    for card in cards:
        yield bullet(_said([f"{card['kind']}: {card['about']}"], card), lead=card["name"])
        for number in card["numbers"]:
            source = f", {number['source']}" if number["source"] else ""
            yield paragraph(f"{number['field']} {number['value']}{source}", indent=6)


# --- how far to trust it ----------------------------------------------------------------------


def _guesses(guesses: Record) -> Blocks:
    yield heading("Guesses")
    counted = (
        f"{guesses['count']} guessed, {guesses['without_source']} without a source,"
        f" {guesses['from_memory']} from memory (marked so above); {guesses['ranking']}."
    )
    yield paragraph(counted, indent=2)
    for item in guesses["list"]:
        if item["kind"] != "from memory":
            yield bullet(item["what"], lead=item["kind"])
    if guesses["influence"] is not None:
        yield from influence.table(guesses["influence"])
        yield from influence.ranges(guesses["influence"])


def _engine(engine: Record) -> Blocks:
    yield heading("Engine")
    yield bullet(f"{engine['name']} {engine['version']}, by surgesim {engine['surgesim']}")
    for name, window in engine["windows"].items():
        steps = f"longest step {_si(window['shortest_step_s'], 's')}"
        if window["longest_step_s"] != window["shortest_step_s"]:
            steps += f" to {_si(window['longest_step_s'], 's')}, by case"
        options = "; or ".join(f"{words} ({_runs(n)})" for words, n in window["options"].items())
        yield bullet(f"{steps}; options {options}", lead=name)
    for line, number in engine["lumped_on_the_tail"].items():
        yield bullet(f"on the tail as one pi section a mode ({_runs(number)})", lead=line)


def _runs(number: int) -> str:
    return f"{number} run{'' if number == 1 else 's'}"


def _errors(errors: Record) -> Blocks:
    yield heading("Errors")
    for window, worst in errors["energy_closure"].items():
        share, case = worst["share"], worst["case"]
        yield bullet(
            f"at most {100.0 * share:.2g} % of the energy unaccounted for ({case}); more than"
            f" {100.0 * errors['energy_closure_limit']:g} % is refused",
            lead=window,
        )
    for name, held in errors["invariants"].items():
        yield bullet(_invariant(held), lead=name.replace("_", " "))
    for error in errors["numerical_error"]:
        yield bullet(_numerical(error), lead=f"numerical error, {error['how']}")


def _numerical(error: Record) -> str:
    """How errors were got, the largest of them, and how many nobody knows."""
    largest = f"at most {percentage(error['percent'])}"
    if error["case"]:
        largest += f" ({error['where']}, {error['case']})"
    unknown = f"; of {error['unknown']} not known" if error["unknown"] else ""
    return f"{error['is']}; {largest} of {error['values']} values{unknown}"


def _crosscheck(counted: Record | None) -> Blocks:
    yield heading("Cross-check")
    if counted is None:
        yield bullet("not done: no case was run by the second solver")
        return
    yield bullet(crosschecked(counted))
    if counted["knife_edge"]:
        yield bullet(", ".join(counted["knife_edge"]), lead="knife-edge")


def _invariant(held: Record) -> str:
    """The worst of an invariant against its limit, in the unit it is measured in."""
    if held["unit"] == "missing":
        return f"{held['worst']:.0f} of the series are missing, as must be"
    in_percent = held["unit"] == "share"
    size, unit = (100.0, "%") if in_percent else (1.0, held["unit"])
    worst, limit = (f"{size * held[key]:.3g} {unit}" for key in ("worst", "limit"))
    if held["limit"] == 0.0:
        return f"nothing there to measure ({held['case']})"
    place = f"{held['where']}, " if held["where"] else ""
    return f"{worst}, at most {limit} allowed ({place}{held['case']})"


def _si(value: float, unit: str) -> str:
    """A number with a fitting prefix, four digits, as stated."""
    if value == 0.0 or (unit == "m" and abs(value) < 1e3):
        return f"{value:.4g} {unit}"
    fitting = [(letter, size) for letter, size in _LETTERS if abs(value) >= size * 0.99999]
    letter, size = fitting[-1] if fitting else _LETTERS[0]
    return f"{value / size:.4g} {letter}{unit}"
