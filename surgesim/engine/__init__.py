"""From a network to waveforms through ngspice, one process a run."""

from surgesim.engine.check import Check, check_engine
from surgesim.engine.pool import Outcome, map_networks
from surgesim.engine.simulation import deck, run_network, simulate
from surgesim.engine.version import EngineInfo, engine_version

__all__ = [
    "Check",
    "EngineInfo",
    "Outcome",
    "check_engine",
    "deck",
    "engine_version",
    "map_networks",
    "run_network",
    "simulate",
]
