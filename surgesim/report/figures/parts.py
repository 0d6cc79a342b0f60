"""Plots of a cable's modes and soil, and of an earth's impedance over frequency."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from surgesim.errors import InputError
from surgesim.report.figures.style import FAINT, INK, LIMIT, caption, look, new_figure

_SIZE = (9.0, 3.8)
_EARTH_SIZE = (7.0, 4.0)


def part(record: Mapping[str, Any]) -> Figure:
    """A cable, an earth or a bond as :mod:`surgesim.studies.worked_out` records it.

    Raises InputError for a textbook line, which has one number and nothing to draw.
    """
    if record["kind"] == "earth":
        return _earth(record)
    if record["kind"] == "bond":
        return _bond(record)
    if record["kind"] == "cable":
        return _cable(record)
    raise InputError.of(f"a {record['kind']} has nothing to draw")


def _earth(record: Mapping[str, Any]) -> Figure:
    hertz, ohm = np.array(record["frequency_hz"]), np.array(record["impedance_ohm"])
    with look():
        figure = new_figure(*_EARTH_SIZE)
        ax = figure.subplots()
        ax.loglog(hertz, ohm, color=INK)
        ax.axhline(record["resistance_ohm"], color=FAINT, linestyle="--", linewidth=1.0)
        _front(ax, record["front_hz"])
        _decades(ax)
        ax.set_xlabel("frequency")
        ax.set_ylabel("impedance to remote earth (ohm)")
        ax.set_ylim(10 ** np.floor(np.log10(ohm.min())), 10 ** np.ceil(np.log10(1.1 * ohm.max())))
        footer = f"Dashed: {record['resistance_ohm']:.4g} ohm, {record['obtained']}"
        caption(figure, f"Earth {record['name']}", f"{footer}. Small currents.")
    return figure


def _bond(record: Mapping[str, Any]) -> Figure:
    hertz, ohm = np.array(record["frequency_hz"]), np.array(record["impedance_ohm"])
    bare = record["bare_in_soil_m"] is not None
    with look():
        figure = new_figure(*_EARTH_SIZE)
        ax = figure.subplots()
        ax.loglog(hertz, ohm, color=INK)
        _front(ax, record["front_hz"])
        _decades(ax)
        ax.set_xlabel("frequency")
        ax.set_ylabel("impedance (ohm)")
        where = "To remote earth from its first end" if bare else "Between its ends"
        caption(figure, f"Bond {record['name']}", f"{where}.")
    return figure


def _cable(record: Mapping[str, Any]) -> Figure:
    names, modes = record["conductors"], record["modes"]
    spots = np.arange(len(names))
    width = 0.8 / len(modes)
    with look():
        figure = new_figure(*_SIZE)
        left, right = figure.subplots(1, 2)
        for k, mode in enumerate(modes):
            shade = str(0.15 + 0.6 * k / max(len(modes) - 1, 1))
            speed = mode["velocity_m_per_s"] / 1e6
            label = f"{mode['impedance_ohm']:.3g} ohm, {speed:.3g} m/us"
            shift = (k - 0.5 * (len(modes) - 1)) * width
            left.bar(spots + shift, mode["voltages"], width=width, color=shade, label=label)
        left.axhline(0.0, color=INK, linewidth=0.8)
        left.set_xticks(spots, names)
        left.set_ylim(-1.15, 1.6)
        left.set_ylabel("voltages of each mode")
        left.legend(loc="upper left")
        soil = record["curve"]
        right.loglog(soil["frequency_hz"], 1e3 * np.array(soil["resistance_ohm_per_m"]), color=INK)
        _front(right, record["soil"][-1]["frequency_hz"])
        _decades(right)
        right.set_xlabel("frequency")
        right.set_ylabel("soil's resistance (mohm/m)")
        caption(figure, f"Cable {record['name']}, {record['length_m']:g} m", "")
    return figure


def _front(ax: Axes, hertz: float) -> None:
    ax.axvline(hertz, color=LIMIT, linestyle=":", linewidth=1.2)
    ax.annotate(
        "the surge's front",
        (hertz, 0.98),
        xycoords=("data", "axes fraction"),
        xytext=(-4.0, 0.0),
        textcoords="offset points",
        ha="right",
        va="top",
        color=LIMIT,
        fontsize=8.0,
    )


def _decades(ax: Axes) -> None:
    ax.xaxis.set_major_formatter(FuncFormatter(_hertz))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_minor_formatter(NullFormatter())


def _hertz(value: float, _position: int) -> str:
    for scale, unit in ((1e6, "MHz"), (1e3, "kHz")):
        if value >= scale:
            return f"{value / scale:g} {unit}"
    return f"{value:g} Hz"
