"""The second solver: a network to waveforms by plain nodal analysis in fixed steps.

It exists to disagree. It shares the elements' records with the engine and nothing else.

``solve`` marches a network by the trapezoidal rule, ``fitting_step`` chooses the step,
``peaks`` reads the extremes of everything probed.
"""

from surgesim.oracle.peaks import Peak, peaks
from surgesim.oracle.solver import fitting_step, solve

__all__ = ["Peak", "fitting_step", "peaks", "solve"]
