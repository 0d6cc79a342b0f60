"""From a network to waveforms through ngspice, one process a run."""

from surgesim.engine.check import Check, check_engine
from surgesim.engine.pool import Outcome, map_networks
from surgesim.engine.refinement import Refinement, run_again
from surgesim.engine.simulation import TIMEOUT, deck, run_network, simulate
from surgesim.engine.version import EngineInfo, engine_version

__all__ = [
    "TIMEOUT",
    "Check",
    "EngineInfo",
    "Outcome",
    "Refinement",
    "check_engine",
    "deck",
    "engine_version",
    "map_networks",
    "run_again",
    "run_network",
    "simulate",
]
