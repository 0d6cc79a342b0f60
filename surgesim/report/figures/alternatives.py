"""Alternatives side by side: the worst peak of each against its limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from surgesim.report import sentences
from surgesim.report.figures.style import INK, LIMIT, broken, caption, look, new_figure
from surgesim.report.folding import fold
from surgesim.report.view import Record, Terminal, View, fired

_WIDTH = 10.5
_LINE = 0.165  # inches a line of label text takes
_BAR_GAP = 0.12
_CAPTIONS = 1.9
_TEXT = 44  # characters of a name, or of what happened, in one line
_SHORTEST_AXIS = 130.0  # percent of the limit
_LONGEST_AXIS = 260.0  # a bar beyond this ends in an arrowhead

_THICK = 0.2  # inches, a bar
_ASKED: dict[str, Any] = {"color": LIMIT, "linewidth": 1.6, "linestyle": (0, (2, 1))}

_FIRED = "insulation exceeded"
_FILLS: dict[str, dict[str, Any]] = {
    "holds": {"facecolor": "#a9c9b0", "edgecolor": INK},
    "thin": {"facecolor": "#f3e3a6", "edgecolor": INK, "hatch": ".."},
    "void": {"facecolor": "white", "edgecolor": "#555555", "hatch": "xxx"},
    "exceeded": {"facecolor": "#8c3a3a", "edgecolor": INK},
    _FIRED: {"facecolor": "white", "edgecolor": "#8c3a3a", "hatch": "////"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """What is drawn of an alternative: words, and lengths in percent of the terminal's limit.

    ``percent`` is None when there is no result to draw, ``allowed`` the longest bar that keeps
    the margin asked.
    """

    what: str
    percent: float | None
    allowed: float
    fill: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bar:
    label: str
    outcome: _Outcome


def alternatives(findings: Record, *, terminal: Terminal | None = None) -> Figure:
    """Horizontal bars, one an alternative: its worst peak in percent of that terminal's limit.

    The worst over all terminals, or at ``terminal`` alone (one of ``View(findings).terminals``).
    A pair whose insulation fires is drawn hatched to its insulation level, not to a peak; a void
    voltage is cross-hatched.
    """
    view = View(findings)
    bars = _bars(view, terminal)
    with look():
        figure = new_figure(_WIDTH, _CAPTIONS + sum(_height(bar) for bar in bars))
        ax = figure.subplots()
        _draw(ax, bars)
        where = terminal.name if terminal else "worst terminal"
        title = f"{findings['scenario']['title']}: {where}, each alternative"
        cautions = findings["cautions"]
        caption(figure, title, str(cautions[0]) if cautions else "")
    return figure


def _bars(view: View, terminal: Terminal | None) -> list[_Bar]:
    """The bars from the top; alternatives with the same outcome share one."""
    outcomes = [(view.levels(entry), _outcome(entry, view, terminal)) for entry in view.entries]
    return [
        _Bar(label=_lines(view.parts_of(row.cells) or ["as described"]), outcome=row.outcome)
        for row in fold(outcomes)
    ]


def _outcome(entry: Record, view: View, terminal: Terminal | None) -> _Outcome:
    record = terminal.worst_in(entry["terminals"]) if terminal else entry.get("worst")
    if not record or sentences.rank(entry) == sentences.UNKNOWN:
        missing = sentences.cases_without_result(entry)
        what = "\n".join(part for part in (sentences.UNKNOWN, missing) if part)
        return _Outcome(what=what, percent=None, allowed=100.0, fill="")
    where = "" if terminal else f": {record['equipment']}, {record['pair']}"
    pole = terminal.pole(record, entry["terminals"]) if terminal else ""
    words = [f"{record['verdict']}{where}", sentences.outcome(record, view, pole=pole)]
    broke = fired(record)
    volts = record["insulation"]["level_v"] if broke else abs(record["peak_v"])
    return _Outcome(
        what="\n".join(broken(line, _TEXT) for line in words),
        percent=100.0 * volts / record["withstand_v"],
        allowed=100.0 / (1.0 + view.asked_of(record) / 100.0),
        fill=_FIRED if broke else str(record["verdict"]),
    )


def _lines(parts: Sequence[str]) -> str:
    """Parts joined by commas, lines broken between parts where they can be."""
    lines = [parts[0]]
    for part in parts[1:]:
        if len(lines[-1]) + len(part) + 2 <= _TEXT:
            lines[-1] += f", {part}"
        else:
            lines[-1] += ","
            lines.append(part)
    return "\n".join(broken(line, _TEXT) for line in lines)


def _height(bar: _Bar) -> float:
    lines = max(text.count("\n") + 1 for text in (bar.label, bar.outcome.what))
    return lines * _LINE + _BAR_GAP


def _draw(ax: Axes, bars: Sequence[_Bar]) -> None:
    places = _places(bars)
    lengths = [bar.outcome.percent or 0.0 for bar in bars]
    end = min(max(1.08 * max(lengths, default=0.0), _SHORTEST_AXIS), _LONGEST_AXIS)
    for bar, place in zip(bars, places, strict=True):
        if bar.outcome.percent is not None:
            _one(ax, bar.outcome, bar.outcome.percent, place, end)
    ax.axvline(100.0, color=LIMIT, linewidth=1.4)
    ax.set_xlim(0.0, end)
    ax.set_ylim(sum(_height(bar) for bar in bars), 0.0)
    ax.set_xlabel("worst peak, percent of the terminal's limit (withstand or highest voltage)")
    ax.set_yticks(places, [bar.label for bar in bars], fontsize=8.0)
    ax.tick_params(axis="y", length=0.0)
    ax.grid(axis="y", visible=False)
    right = ax.twinx()
    right.set_ylim(ax.get_ylim())
    right.set_yticks(places, [bar.outcome.what for bar in bars], fontsize=8.0)
    right.tick_params(axis="y", length=0.0)
    right.grid(visible=False)
    right.spines["right"].set_visible(False)
    _legend(ax, bars)


def _places(bars: Sequence[_Bar]) -> list[float]:
    """The middle of each bar from the top, in inches: long labels get more room."""
    places, top = [], 0.0
    for bar in bars:
        places.append(top + _height(bar) / 2.0)
        top += _height(bar)
    return places


def _one(ax: Axes, outcome: _Outcome, percent: float, place: float, end: float) -> None:
    """A bar, and across it the mark it must not reach for the margin asked."""
    ax.barh(place, min(percent, end), height=_THICK, linewidth=0.8, **_FILLS[outcome.fill])
    if percent > end:
        ax.plot([0.99 * end], [place], ">", color=INK, markersize=6)
    if outcome.fill == _FIRED:
        box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
        ax.text(3.0, place, _FIRED, va="center", fontsize=7.5, bbox=box)
    if outcome.allowed < 100.0:
        across = [place - 0.75 * _THICK, place + 0.75 * _THICK]
        ax.plot([outcome.allowed, outcome.allowed], across, **_ASKED)


def _legend(ax: Axes, bars: Sequence[_Bar]) -> None:
    drawn = [fill for fill in _FILLS if any(bar.outcome.fill == fill for bar in bars)]
    handles: list[Patch | Line2D] = [Patch(**_FILLS[fill]) for fill in drawn]
    handles.append(Line2D([], [], color=LIMIT, linewidth=1.4))
    named = [*drawn, "limit"]
    if any(bar.outcome.allowed < 100.0 for bar in bars):
        handles.append(Line2D([], [], **_ASKED))
        named.append("margin asked")
    ax.legend(
        handles,
        named,
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=len(named),
        handlelength=1.6,
        columnspacing=1.2,
        borderaxespad=0.3,
    )
