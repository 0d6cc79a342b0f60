"""Terminal voltages over time against their limits, for one case."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from surgesim.report import numbers
from surgesim.report.figures.style import (
    FAINT,
    INK,
    LIMIT,
    LINES,
    broken,
    caption,
    look,
    new_figure,
    wrapped,
)
from surgesim.report.view import Record, Terminal, conductor, fired, group_terminals

_WIDTH = 9.0
_ROW = 1.9
_CAPTIONS = 1.1
_TITLE = 6.0  # inches of a row's title, the panels' width
_LIMIT_ROOM = 1.12
# Below this share of the limit the other polarity's limit line would only squeeze the curve.
_WORTH_A_LINE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Traces:
    """Terminal voltages over one window.

    ``time`` in s, shape (m,), increasing. ``voltages`` maps (equipment, pair) to the voltage
    across the pair, V, shape (m,).
    """

    time: NDArray[np.float64]
    voltages: Mapping[tuple[str, str], NDArray[np.float64]]


def terminal_voltages(
    case: Record, front: Traces, *, tail: Traces | None = None, title: str = "", footer: str = ""
) -> Figure:
    """Voltage over time of every terminal of ``case``, one row an equipment and kind of pair.

    The front and the tail stand beside each other on time axes of their own: they differ by a
    factor of a hundred or more. Where insulation fires the curve goes on thin and grey, because
    what follows is no longer the voltage of a sound pair.
    """
    groups = group_terminals(case["terminals"])
    windows = [("front", front), *([("tail", tail)] if tail is not None else [])]
    with look():
        figure = new_figure(_WIDTH, _CAPTIONS + _ROW * len(groups))
        axes = figure.subplots(len(groups), len(windows), squeeze=False, sharey="row")
        for row, terminal in zip(axes, groups, strict=True):
            records = [record for record in case["terminals"] if terminal.covers(record)]
            for position, (ax, (name, traces)) in enumerate(zip(row, windows, strict=True)):
                shown_before = float(front.time[-1]) if position else 0.0
                _panel(ax, traces, records, case, after_s=shown_before)
                ax.set_xlabel(f"time, {name} ({_time_unit(traces)[0]})")
                if position == 0:
                    font = FontProperties(size=9.5)
                    heading = wrapped(_heading(terminal, records), _TITLE, font)
                    ax.set_title(heading, fontproperties=font)
                    ax.set_ylabel(_voltage_unit(terminal)[0])
            _limits(row, terminal, records, [traces for _, traces in windows])
            _legend(row[-1], terminal, records, case)
        caption(figure, title or f"Case {case['id']}: {case['surge']}", footer)
    return figure


def _heading(terminal: Terminal, records: Sequence[Record]) -> str:
    worst = terminal.worst_in(records)
    return f"{terminal.name}: {worst['verdict']}" if worst else terminal.name


def _panel(
    ax: Axes, traces: Traces, records: Sequence[Record], case: Record, *, after_s: float
) -> None:
    """The curves over one window; failures earlier than ``after_s`` stand in another panel."""
    seconds = _time_unit(traces)[1]
    volts = _scale(records[0]["withstand_v"])[1]
    ax.axhline(0.0, color=INK, linewidth=0.5)
    for record, line in zip(records, LINES * len(records), strict=False):
        voltage = _shown(record, traces)
        at = _fired_at(record)
        sound = traces.time <= at if at is not None else np.ones_like(traces.time, dtype=bool)
        ax.plot(traces.time[sound] / seconds, voltage[sound] / volts, **line)
        if at is not None and at < traces.time[-1]:
            after = traces.time >= at
            ax.plot(traces.time[after] / seconds, voltage[after] / volts, color=FAINT, lw=0.6)
            if at >= after_s:
                fires_at = _fired_voltage(record, voltage[sound])
                ax.plot([at / seconds], [fires_at / volts], "x", color=LIMIT, ms=8, mew=2)
    for at, _ in _failures_elsewhere(records, case):
        if after_s <= at <= traces.time[-1]:
            ax.axvline(at / seconds, color=FAINT, linestyle=":", linewidth=1.2)
    ax.set_xlim(0.0, float(traces.time[-1]) / seconds)


def _limits(
    row: Sequence[Axes], terminal: Terminal, records: Sequence[Record], traces: Sequence[Traces]
) -> None:
    """The limit line on the sides the voltage goes to, and room around it."""
    unit = _scale(terminal.limit_v)[1]
    limit = (terminal.limit_v or 0.0) / unit
    curves = [_shown(record, window) / unit for window in traces for record in records]
    marks = [mark for ax in row for line in ax.get_lines() for mark in _marked(line)]
    highest = max([*marks, *(float(np.nanmax(curve)) for curve in curves)])
    lowest = min([*marks, *(float(np.nanmin(curve)) for curve in curves)])
    up = highest >= -lowest or highest > _WORTH_A_LINE * limit
    down = lowest < -_WORTH_A_LINE * limit or not up
    for ax in row:
        for sign in [1.0] * up + [-1.0] * down:
            ax.axhline(sign * limit, color=LIMIT, linestyle=(0, (8, 2)), linewidth=1.1)
    top = _LIMIT_ROOM * max(highest, limit if up else 0.0)
    bottom = _LIMIT_ROOM * min(lowest, -limit if down else 0.0)
    row[0].set_ylim(bottom - 0.03 * (top - bottom), top)


def _legend(ax: Axes, terminal: Terminal, records: Sequence[Record], case: Record) -> None:
    handles, labels = [], []
    for record, line in zip(records, LINES * len(records), strict=False):
        handles.append(Line2D([], [], **line))
        labels.append(conductor(record) if len(records) > 1 else record["pair"])
    handles.append(Line2D([], [], color=LIMIT, linestyle=(0, (8, 2)), linewidth=1.1))
    labels.append(f"{terminal.limit_kind} {numbers.stated(terminal.limit_v, 'V')}")
    broke = [record for record in records if fired(record)]
    if broke:
        level = numbers.stated(broke[0]["insulation"]["level_v"], "V")
        handles.append(Line2D([], [], color=LIMIT, marker="x", ms=8, mew=2, linestyle=""))
        labels.append(f"insulation fires\nat {level}")
        handles.append(Line2D([], [], color=FAINT, linewidth=0.6))
        labels.append("after that")
    elsewhere = sorted(_failures_elsewhere(records, case))
    if elsewhere:
        at, name = elsewhere[0]
        later = f"; {len(elsewhere) - 1} more later" if len(elsewhere) > 1 else ""
        handles.append(Line2D([], [], color=FAINT, linestyle=":", linewidth=1.2))
        labels.append(f"flashover of\n{broken(name, 24)},\n{numbers.quantity(at, 's')}{later}")
    ax.legend(handles, labels, loc="upper left", bbox_to_anchor=(1.01, 1.03), borderaxespad=0.0)


def _failures_elsewhere(records: Sequence[Record], case: Record) -> list[tuple[float, str]]:
    """When and what other equipment's insulation fired, each equipment once."""
    own = {record["equipment"] for record in records}
    first: dict[str, float] = {}
    for record in case["terminals"]:
        at = _fired_at(record)
        if at is not None and record["equipment"] not in own:
            first[record["equipment"]] = min(at, first.get(record["equipment"], at))
    return [(at, name) for name, at in first.items()]


def _shown(record: Record, traces: Traces) -> NDArray[np.float64]:
    """The pair's voltage, without what exceeds its insulation level once that has fired.

    Such a stretch would be read as a voltage reached; no insulation was left to hold it.
    """
    voltage = traces.voltages[record["equipment"], record["pair"]]
    if not fired(record):
        return voltage
    return np.where(np.abs(voltage) > record["insulation"]["level_v"], np.nan, voltage)


def _marked(line: Line2D) -> list[float]:
    """The heights of a line that is a mark."""
    return [float(y) for y in np.atleast_1d(line.get_ydata())] if line.get_marker() == "x" else []


def _fired_voltage(record: Record, sound: NDArray[np.float64]) -> float:
    """Where the pair's insulation fired, V: its level, on the side the voltage was.

    ``sound`` is the voltage up to then; the level stands in for a sample beyond it.
    """
    level = float(record["insulation"]["level_v"])
    last = sound[np.isfinite(sound)]
    recorded = record["insulation"].get("fired_v")
    side = recorded if recorded is not None else (last[-1] if last.size else 1.0)
    return float(np.copysign(level, side))


def _fired_at(record: Record) -> float | None:
    at = record["insulation"]["fired_at_s"] if fired(record) else None
    return None if at is None else float(at)


def _time_unit(traces: Traces) -> tuple[str, float]:
    return ("ms", 1e-3) if traces.time[-1] >= 2e-3 else ("us", 1e-6)


def _voltage_unit(terminal: Terminal) -> tuple[str, float]:
    return _scale(terminal.limit_v)


def _scale(limit: float | None) -> tuple[str, float]:
    return ("V", 1.0) if limit is not None and limit < 1e3 else ("kV", 1e3)
