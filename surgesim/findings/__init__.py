"""Waveforms and their network to numbers: peaks, margins, arrester duty, energy closure."""
