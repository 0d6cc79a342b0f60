"""What all figures share: the look, the caption lines, and how they are saved."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from matplotlib import style
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from surgesim.report.numbers import glued, unglued

INK = "#1a1a1a"
FAINT = "#8a8a8a"
LIMIT = "#a02020"

# Told apart in print without colour: by dash pattern and by darkness together.
LINES = (
    {"color": "#101010", "linestyle": "-"},
    {"color": "#2f6f9f", "linestyle": (0, (5, 2))},
    {"color": "#8a6d1d", "linestyle": (0, (1, 1.5))},
    {"color": "#7a7a7a", "linestyle": (0, (6, 2, 1, 2))},
)

_LOOK = {
    "figure.dpi": 150.0,
    "font.size": 9.0,
    "font.family": ["DejaVu Sans"],
    "axes.titlesize": 9.5,
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#e2e2e2",
    "grid.linewidth": 0.6,
    "lines.linewidth": 1.4,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "hatch.linewidth": 0.7,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "svg.hashsalt": "surgesim",  # else the ids in an SVG differ from run to run
    "savefig.dpi": 150.0,
}
_POINTS = 72.0


@contextmanager
def look() -> Iterator[None]:
    """Our own settings, whatever the user's matplotlib is configured to."""
    with style.context(["default", _LOOK]):
        yield


def new_figure(width: float, height: float) -> Figure:
    """An empty figure, size in inches, that keeps room for its labels."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def caption(figure: Figure, title: str, footer: str) -> None:
    """A title over the figure and a small line under it, both broken to its width."""
    # Letters fitted to pixels come out up to 6 % wider than their outlines measure.
    width = 0.92 * float(figure.get_figwidth())
    if title:
        bold = FontProperties(size=10.5, weight="bold")
        figure.suptitle(wrapped(title, width, bold), x=0.01, ha="left", fontproperties=bold)
    if footer:
        small = FontProperties(size=7.5)
        figure.supxlabel(
            wrapped(footer, width, small), x=0.01, ha="left", fontproperties=small, color="#444444"
        )


def wrapped(text: str, width: float, font: FontProperties) -> str:
    """Text broken into lines that fit ``width`` inches in ``font``, as measured."""
    lines = [""]
    for word in glued(text).split():
        for piece in _pieces(word, width, font):
            longer = f"{lines[-1]} {piece}" if lines[-1] else piece
            if _width(longer, font) <= width:
                lines[-1] = longer
            else:
                lines.append(piece)
    return unglued("\n".join(lines))


def _pieces(word: str, width: float, font: FontProperties) -> list[str]:
    """A word, cut where it alone is wider than a line."""
    if _width(word, font) <= width:
        return [word]
    pieces = [""]
    for letter in word:
        if pieces[-1] and _width(pieces[-1] + letter, font) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def _width(text: str, font: FontProperties) -> float:
    """Width of one line of text in inches."""
    path = text_to_path.get_text_width_height_descent(unglued(text), font, False)  # noqa: FBT003
    return float(path[0]) / _POINTS


def broken(text: str, characters: int) -> str:
    """Text broken into lines of at most so many characters."""
    return unglued("\n".join(textwrap.wrap(glued(text), characters))) or text


def save(figure: Figure, path: Path) -> None:
    """Write a figure to ``path`` (.png or .svg); whole or not at all, and no date in it."""
    kind = path.suffix.lower().lstrip(".")
    metadata = {"png": {"Software": None}, "svg": {"Date": None, "Creator": None}}
    if kind not in metadata:
        raise ValueError(f"expected a path ending in .png or .svg, got {path.name}")
    part = path.with_name(f".{path.name}.part")
    try:
        with look():
            figure.savefig(part, format=kind, metadata=metadata[kind])
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
