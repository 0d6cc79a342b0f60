"""The non-linear elements of a network as tables of numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from surgesim.network.circuit import Network
from surgesim.network.elements import (
    Clamp,
    Element,
    Insulation,
    IonisingSoil,
    PhotovoltaicSource,
    SparkGap,
    Varistor,
)
from surgesim.oracle.kernel import SOUND
from surgesim.oracle.layout import Layout, of_kind
from surgesim.oracle.records import (
    Clamps,
    Devices,
    Gaps,
    Insulations,
    Photovoltaics,
    Soils,
    Varistors,
)

Array = NDArray[np.float64]


def non_linear(network: Network) -> list[Element]:
    """The non-linear elements, in the order of :class:`Devices`."""
    return [
        *of_kind(network, Varistor),
        *of_kind(network, Clamp),
        *of_kind(network, PhotovoltaicSource),
        *of_kind(network, IonisingSoil),
        *of_kind(network, Insulation),
        *of_kind(network, SparkGap),
    ]


def devices_of(network: Network, layout: Layout) -> Devices:
    """A network's non-linear elements as tables."""
    ends = [layout.ends(device) for device in non_linear(network)]
    laws = [varistor.law for varistor in of_kind(network, Varistor)]
    clamps = of_kind(network, Clamp)
    arrays = of_kind(network, PhotovoltaicSource)
    soils = of_kind(network, IonisingSoil)
    insulations = of_kind(network, Insulation)
    return Devices(
        a=np.array([a for a, _ in ends], dtype=np.int64),
        b=np.array([b for _, b in ends], dtype=np.int64),
        varistors=Varistors(
            reference_voltage=_column(law.reference_voltage for law in laws),
            reference_current=_column(law.reference_current for law in laws),
            exponent=_column(law.exponent for law in laws),
            upturn=_column(law.upturn for law in laws),
            nominal_current=_column(law.nominal_current for law in laws),
            gamma=_column(law.gamma for law in laws),
            leak=_column(1.0 / law.leakage_resistance for law in laws),
            scale=_column(law.scale for law in laws),
        ),
        clamps=Clamps(
            voltage=_column(clamp.voltage for clamp in clamps),
            resistance=_column(clamp.resistance for clamp in clamps),
        ),
        photovoltaics=Photovoltaics(
            open_circuit_voltage=_column(array.open_circuit_voltage for array in arrays),
            short_circuit_current=_column(array.short_circuit_current for array in arrays),
            resistance=_column(array.resistance for array in arrays),
        ),
        soils=Soils(
            resistance=_column(soil.resistance for soil in soils),
            critical=_column(soil.critical for soil in soils),
        ),
        insulations=Insulations(
            level=_column(insulation.level for insulation in insulations),
            lag=_column(insulation.lag for insulation in insulations),
            growth=_column(-math.log(SOUND * each.resistance) for each in insulations),
            arc=_column(each.arc_voltage for each in insulations),
        ),
        gaps=_gaps(network),
    )


def _gaps(network: Network) -> Gaps:
    laws = [gap.law for gap in of_kind(network, SparkGap)]
    return Gaps(*(_column(getattr(law, name) for law in laws) for name in Gaps._fields))


def _column(values: Iterable[float]) -> Array:
    return np.array(list(values), dtype=np.float64)
