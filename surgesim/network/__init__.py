"""Engine-neutral circuit: elements, probes and the waveforms that come back."""
