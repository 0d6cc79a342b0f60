"""What a file may leave out about an array that is given by its modules, and what follows then."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.errors import InputError
from surgesim.physics.array import voltage_by_coefficient, voltage_by_table
from surgesim.reading.quantities import (
    CURRENT,
    PER_KELVIN,
    POWER,
    TEMPERATURE,
    VOLTAGE,
    Dimension,
    format_quantity,
    parse,
)
from surgesim.reading.tree import Mapping, Scalar

BY_COEFFICIENT = (
    "cells as cold as the lowest air temperature, their voltage by its coefficient"
    " (IEC 62548:2016, from memory)"
)
BY_TABLE = (
    "cells as cold as the lowest air temperature, their voltage by the factors for crystalline"
    " silicon (IEC 62548:2016, from memory)"
)
TO_FRAME = (
    "modules 100 nF per kW to their frames when wet (50 to 150, from memory), a tenth of that"
    " when dry (a guess)"
)
WET = "modules wet: the larger capacitance to their frames"
FRAMES = "frames without capacitance to earth of their own"
POWER_OF = "a module's power 0.8 of its Voc times its Isc (common practice, no source)"

Found = Iterator[tuple[tuple[str, ...], str, str]]


def by_coefficient(tree: Mapping) -> Found:
    """Voltage and current of arrays whose modules have a coefficient."""
    for name, array, modules in _arrays(tree):
        if "Voc coefficient" in modules.entries:
            yield from _figures(tree, name, array, modules)


def by_table(tree: Mapping) -> Found:
    """Voltage and current of arrays whose modules have none."""
    for name, array, modules in _arrays(tree):
        if "Voc coefficient" not in modules.entries:
            yield from _figures(tree, name, array, modules)


def capacitance_to_frame(tree: Mapping) -> Found:
    """The capacitance of the cells to the frames, dry and wet."""
    for name, _, modules in _arrays(tree):
        if "capacitance to frame" not in modules.entries:
            here = ("supply", name, "modules", "capacitance to frame")
            yield (*here, "dry"), "10 nF per kW", name
            yield (*here, "wet"), "100 nF per kW", name


def surface(tree: Mapping) -> Found:
    """Whether the modules are dry or wet."""
    for name, array, _ in _arrays(tree):
        if "surface" not in array.entries:
            yield ("supply", name, "surface"), "wet", name


def frame_capacitance(tree: Mapping) -> Found:
    """The capacitance of the frames to earth."""
    for name, _, modules in _arrays(tree):
        if "frame capacitance to earth" not in modules.entries:
            yield ("supply", name, "modules", "frame capacitance to earth"), "0 F", name


def power(tree: Mapping) -> Found:
    """The power of a module, where a capacitance goes by it."""
    for name, _, modules in _arrays(tree):
        if "power" in modules.entries or not _goes_by_power(modules):
            continue
        volts, amps = _value(modules, "Voc at STC", VOLTAGE), _value(modules, "Isc at STC", CURRENT)
        # Without voltage or current the modules are refused for that.
        watts = 0.8 * volts * amps if volts and amps else 1.0
        text = format_quantity(float(f"{watts:.3g}"), POWER)
        yield ("supply", name, "modules", "power"), text, name


def _figures(tree: Mapping, name: str, array: Mapping, modules: Mapping) -> Found:
    """``voltage`` and ``Isc at STC``, of which a file may give neither, either or both.

    Where they cannot be worked out something else is refused, and any number will do.
    """
    if "voltage" not in array.entries:
        volts = _cold(tree, modules) or 1.0
        text = format_quantity(float(f"{volts:.5g}"), VOLTAGE)
        yield ("supply", name, "voltage"), text, name
    if "Isc at STC" not in array.entries:
        strings, amps = _count(modules, "strings"), _value(modules, "Isc at STC", CURRENT)
        text = format_quantity(float(f"{(strings or 1) * (amps or 1e6):.5g}"), CURRENT)
        yield ("supply", name, "Isc at STC"), text, name


def _cold(tree: Mapping, modules: Mapping) -> float | None:
    site = tree.entries.get("site")
    lowest = _value(site, "lowest air temperature", TEMPERATURE)
    stc, number = _value(modules, "Voc at STC", VOLTAGE), _count(modules, "in series")
    if lowest is None or not stc or not number:
        return None
    if "Voc coefficient" in modules.entries:
        coefficient = _value(modules, "Voc coefficient", PER_KELVIN)
        if coefficient is None or coefficient >= 0:
            return None
        return voltage_by_coefficient(
            at_stc=stc * number, coefficient=coefficient, temperature=lowest
        )
    try:
        return voltage_by_table(at_stc=stc * number, temperature=lowest)
    except InputError:
        return None


def _arrays(tree: Mapping) -> Iterator[tuple[str, Mapping, Mapping]]:
    """Each array that is given by its modules: name, keys, keys of the modules."""
    supply = tree.entries.get("supply")
    for name, array in supply.entries.items() if isinstance(supply, Mapping) else ():
        modules = array.entries.get("modules") if isinstance(array, Mapping) else None
        if isinstance(array, Mapping) and isinstance(modules, Mapping):
            yield name, array, modules


def _goes_by_power(modules: Mapping) -> bool:
    values = [modules.entries.get("frame capacitance to earth")]
    cells = modules.entries.get("capacitance to frame")
    values += cells.entries.values() if isinstance(cells, Mapping) else ()
    return any(isinstance(value, Scalar) and "kW" in value.text for value in values)


def _value(thing: object, key: str, dimension: Dimension) -> float | None:
    """A quantity, None when absent or unusable, which the schema reports."""
    value = thing.entries.get(key) if isinstance(thing, Mapping) else None
    try:
        return parse(value.text, dimension) if isinstance(value, Scalar) else None
    except ValueError:
        return None


def _count(thing: Mapping, key: str) -> int | None:
    value = thing.entries.get(key)
    digits = isinstance(value, Scalar) and value.text.isascii() and value.text.isdigit()
    return int(value.text) if isinstance(value, Scalar) and digits else None
