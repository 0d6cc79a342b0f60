"""From the label to the terminal, one chart a terminal: what adds up to its peak, and its limit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from surgesim.report import breakdown, numbers
from surgesim.report.figures.style import INK, LIMIT, broken, caption, look, new_figure
from surgesim.report.view import Record

_WIDTH = 8.5
_ROW = 0.36  # inches
_CAPTIONS = 2.0
_LABEL = 36  # characters in one line
_ADDS: dict[str, Any] = {"facecolor": "#d8a48f", "edgecolor": INK}
_TAKES: dict[str, Any] = {"facecolor": "white", "edgecolor": INK, "hatch": "////"}
_FIRST: dict[str, Any] = {"facecolor": "#c9d6df", "edgecolor": INK}
_PEAK: dict[str, Any] = {"facecolor": "#5f6f7a", "edgecolor": INK}
_IDLE = 0.003
"""Share of the longest bar below which a part gets no row."""


def breakdown_chart(findings: Record) -> Iterator[Figure]:
    """A figure for each terminal whose peak was taken apart.

    Read from the top: the level printed on the arrester, what each thing adds (filled) or takes off
    (hatched), and at the bottom the peak with what the tolerance of arresters makes of it. The red
    line is what the terminal stands, the dashed one what was asked to be kept of it.
    """
    told = findings["breakdown"]
    for terminal in told["terminals"] if told else ():
        if terminal["parts"] is not None:
            yield _figure(findings, terminal)


def _figure(findings: Record, terminal: Record) -> Figure:
    rows = _rows(terminal)
    with look():
        figure = new_figure(_WIDTH, _CAPTIONS + _ROW * len(rows))
        ax = figure.subplots()
        _draw(ax, rows, terminal)
        levels = [level for level in terminal["axes"].values() if level is not None]
        where = ", ".join([f"{terminal['equipment']}, {terminal['pair']}", *levels])
        cautions = findings["cautions"]
        title = f"{findings['scenario']['title']}: {where}. From the label to the terminal"
        caption(figure, title, str(cautions[0]) if cautions else "")
    return figure


def _rows(terminal: Record) -> list[tuple[str, float, float, dict[str, Any]]]:
    """Label, where a bar begins and ends in V, and how it is filled; from the top."""
    longest = max(terminal["withstand_v"], abs(terminal["peak_v"]), terminal["parts"][0]["volts"])
    rows, total = [], 0.0
    for number, part in enumerate(terminal["parts"]):
        begin, total = total, total + part["volts"]
        if number and abs(part["volts"]) < _IDLE * longest:
            continue
        fill = _FIRST if number == 0 else _ADDS if part["volts"] > 0 else _TAKES
        sign = "" if number == 0 else "+ " if part["volts"] > 0 else "- "
        label = breakdown.words(part, terminal) if number else "printed on the arrester (Up)"
        rows.append((sign + label, begin, total, fill))
    rows.append((f"= peak at {terminal['equipment']}", 0.0, abs(terminal["peak_v"]), _PEAK))
    return rows


def _draw(ax: Axes, rows: list[tuple[str, float, float, dict[str, Any]]], terminal: Record) -> None:
    unit = 1e-3
    limit = terminal["withstand_v"]
    for row, (_, begin, end, fill) in enumerate(rows):
        ax.barh(row, unit * (end - begin), left=unit * begin, height=0.62, **fill)
        text = numbers.quantity(end if row in (0, len(rows) - 1) else abs(end - begin), "V")
        ax.annotate(
            text, (unit * max(begin, end), row), xytext=(4, 0), textcoords="offset points",
            va="center", fontsize=8.0,
        )  # fmt: skip
    low, high = sorted((terminal["low_v"], terminal["declared_v"]))
    last = len(rows) - 1
    ax.plot([unit * low, unit * high], [last + 0.4] * 2, color=INK, marker="|", linewidth=1.2)
    ax.axvline(unit * limit, color=LIMIT, linewidth=1.6)
    reach = max(limit, high, *(max(begin, end) for _, begin, end, _ in rows))
    if terminal["asked_percent"]:
        kept = limit / (1.0 + terminal["asked_percent"] / 100.0)
        ax.axvline(unit * kept, color=LIMIT, linewidth=1.2, linestyle=(0, (2, 1)))
    ax.annotate(
        f"stands {numbers.stated(limit, 'V')}", (unit * limit, -0.75), ha="right", va="bottom",
        xytext=(-3, 0), textcoords="offset points", color=LIMIT, fontsize=8.0,
        annotation_clip=False,
    )  # fmt: skip
    ax.set_xlim(0.0, unit * 1.14 * reach)
    ax.set_ylim(last + 0.8, -0.8)
    ax.set_yticks(range(len(rows)), [broken(label, _LABEL) for label, *_ in rows])
    ax.tick_params(axis="y", length=0.0)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(_foot(terminal), fontsize=8.0)


def _foot(terminal: Record) -> str:
    """What the lines mean, below the axis."""
    lines = ["kV. Filled adds, hatched takes off; short line: the peak by the arresters' tolerance"]
    if terminal["asked_percent"]:
        asked = numbers.percentage(terminal["asked_percent"])
        lines.append(f"red: what the terminal stands; dashed: with the margin of {asked} asked")
    return "\n".join(lines)
