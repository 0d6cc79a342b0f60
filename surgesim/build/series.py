"""A fuse or breaker in a line lead of an arrester."""

from __future__ import annotations

from surgesim.build.parts import inductance
from surgesim.network.elements import Ammeter, Inductor, Resistor
from surgesim.network.probes import SeriesProbe
from surgesim.scenario.leads import Breaker, Fuse


def in_series(
    label: str, conductor: str, clamp: str, device: Fuse | Breaker
) -> tuple[list[Ammeter | Resistor | Inductor], SeriesProbe]:
    """The device from ``clamp`` on, whose last element ends where the arrester begins.

    It stays whole in the circuit: what it would do is read off its current.
    """
    name, group = f"{label}/{conductor} {device.words}", label.replace("/", " ", 1)
    meter, cold, behind = f"{name}/current", f"{name}/inner", f"{name}/behind"
    hot = f"{name}/hot"
    made: list[Ammeter | Resistor | Inductor] = [
        Ammeter(name=meter, a=clamp, b=hot, group=group),
    ]
    foot = cold if device.inductance > 0 else behind
    made.append(Resistor(name=name, a=hot, b=foot, resistance=device.resistance, group=group))
    if device.inductance > 0:
        choke, damping = inductance(f"{name}/inductance", cold, behind, device.inductance, group)
        assert isinstance(choke, Inductor)
        assert isinstance(damping, Resistor)
        made += [choke, damping]
    probe = SeriesProbe(
        conductor=conductor, what=device.words, ammeter=meter,
        opens_from=device.opens_from, opens_by=device.opens_by,
    )  # fmt: skip
    return made, probe
