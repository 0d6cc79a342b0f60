"""Figures: terminal voltages over time, alternatives side by side, model cards.

Each function returns a matplotlib figure made without pyplot; ``save`` writes it as PNG or SVG,
the same bytes for the same numbers.
"""

from surgesim.report.figures.alternatives import alternatives
from surgesim.report.figures.breakdown import breakdown_chart
from surgesim.report.figures.cards import surge_shape, varistor_curve
from surgesim.report.figures.parts import part
from surgesim.report.figures.style import save
from surgesim.report.figures.terminals import Traces, terminal_voltages

__all__ = [
    "Traces",
    "alternatives",
    "breakdown_chart",
    "part",
    "save",
    "surge_shape",
    "terminal_voltages",
    "varistor_curve",
]
