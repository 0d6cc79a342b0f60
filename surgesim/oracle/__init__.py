"""The second solver: a network to waveforms by plain nodal analysis.

It exists to disagree. It shares the elements' records with the engine and nothing else.

``solve`` marches a network by the trapezoidal rule in steps of one length, ``fitting_step``
chooses that; ``follow`` marches it in steps that follow what happens. ``peaks`` reads the
extremes of everything probed.
"""

from surgesim.oracle.peaks import Peak, peaks
from surgesim.oracle.solver import Stretch, fitting_step, follow, solve

__all__ = ["Peak", "Stretch", "fitting_step", "follow", "peaks", "solve"]
