"""Named assumptions: what a file may leave out, what is then assumed, and that it is said.

Nothing electrical is defaulted in silence. Each assumption here writes its value into the
tree, where ``surgesim show`` prints it, and into ``assumed``, which every result lists.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from surgesim.reading.quantities import (
    CURRENT,
    RESISTANCE,
    VOLTAGE,
    Dimension,
    format_quantity,
    parse,
)
from surgesim.reading.tree import Listing, Mapping, Scalar, Tree
from surgesim.scenario import lead_assumptions, modules
from surgesim.scenario.electrodes import FROM_SHAPE, LONG_SHAPES

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Assumption:
    """``where`` lists the values to fill in a tree, as (path, text, thing it is about)."""

    words: str
    where: Callable[[Mapping], Iterator[tuple[Path, str | Tree, str]]]


def with_assumptions(tree: Mapping) -> Mapping:
    """``tree`` with every assumption that applies filled in and listed under ``assumed``."""
    tree = copied(tree)
    added: list[str] = []
    for assumption in ASSUMPTIONS:
        about = []
        for path, text, thing in list(assumption.where(tree)):
            _fill(tree, path, Scalar(text, tree.spot) if isinstance(text, str) else text)
            about.append(thing)
        if about:
            named = [thing for thing in dict.fromkeys(about) if thing]
            added.append(assumption.words + (f" [{', '.join(named)}]" if named else ""))
    return noted(tree, added)


def noted(tree: Mapping, words: list[str]) -> Mapping:
    """A copied tree with more listed under ``assumed``."""
    listed = tree.entries.get("assumed", Listing((), tree.spot))
    # whatever else stands under 'assumed' is left for the schema to refuse
    if words and isinstance(listed, Listing):
        added = (Scalar(line, tree.spot) for line in words)
        _fill(tree, ("assumed",), Listing((*listed.items, *added), listed.spot))
    return tree


def copied(tree: Mapping) -> Mapping:
    """The mappings of ``tree`` anew, so that values can be filled in without touching it."""
    entries = {k: copied(v) if isinstance(v, Mapping) else v for k, v in tree.entries.items()}
    return Mapping(entries, dict(tree.keys), tree.spot)


def _fill(tree: Mapping, path: Path, value: Tree) -> None:
    """Set the value at ``path`` of a copied tree, with the mappings on the way."""
    for step in path[:-1]:
        below = tree.entries.setdefault(step, Mapping({}, {}, tree.spot))
        tree.keys.setdefault(step, tree.spot)
        if not isinstance(below, Mapping):
            raise KeyError(path)
        tree = below
    tree.entries[path[-1]] = value
    tree.keys.setdefault(path[-1], tree.spot)


def things(tree: Mapping, section: str) -> Iterator[tuple[str, Mapping]]:
    """Each thing of a section by its name."""
    found = tree.entries.get(section)
    if isinstance(found, Mapping):
        for name, thing in found.entries.items():
            if isinstance(thing, Mapping):
                yield name, thing


def _top(key: str, text: str) -> Callable[[Mapping], Iterator[tuple[Path, str, str]]]:
    def where(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
        if key not in tree.entries:
            yield (key,), text, ""

    return where


def _in_each(
    section: str, key: str, text: str
) -> Callable[[Mapping], Iterator[tuple[Path, str, str]]]:
    def where(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
        for name, thing in things(tree, section):
            if key not in thing.entries:
                yield (section, name, key), text, name

    return where


def _number(thing: Mapping, key: str, dimension: Dimension) -> float | None:
    """A quantity above zero, None when absent or unusable (which the schema reports)."""
    value = thing.entries.get(key)
    try:
        number = parse(value.text, dimension) if isinstance(value, Scalar) else 0.0
    except ValueError:
        return None
    return number if number > 0 else None


def _duct_width(tree: Mapping) -> Iterator[tuple[Path, str | Tree, str]]:
    for name, cable in things(tree, "cables"):
        laying = cable.entries.get("laying")
        if isinstance(laying, Scalar) and (text := _widened(laying)) is not None:
            yield ("cables", name, "laying"), text, name
        elif isinstance(laying, Listing):
            texts = [_widened(part) if isinstance(part, Scalar) else None for part in laying.items]
            if any(texts):
                parts = (
                    part if text is None else Scalar(text, part.spot)
                    for part, text in zip(laying.items, texts, strict=True)
                )
                yield ("cables", name, "laying"), Listing(tuple(parts), laying.spot), name


def _widened(laying: Scalar) -> str | None:
    """The phrase of a plastic duct with a width; None for any other."""
    words = " ".join(laying.text.split())
    if "plastic duct " not in words or " wide" in words:
        return None
    return words.replace("plastic duct ", "plastic duct 50 mm wide ", 1)


def _strip_joined(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    for name, earth in things(tree, "earths"):
        strip = earth.entries.get("strip")
        if isinstance(strip, Mapping) and "joined" not in strip.entries:
            yield ("earths", name, "strip", "joined"), "end", name


def _earth_inductance(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    for name, earth in things(tree, "earths"):
        if "inductance" not in earth.entries and set(LONG_SHAPES) & set(earth.entries):
            yield ("earths", name, "inductance"), FROM_SHAPE, name


def _array_resistance(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    for name, supply in things(tree, "supply"):
        if "resistance" in supply.entries:
            continue
        voltage = _number(supply, "voltage", VOLTAGE)
        current = _number(supply, "Isc at STC", CURRENT)
        # Without voltage or current the supply is refused for that, not for its resistance.
        ohms = float(f"{0.04 * voltage / current:.3g}") if voltage and current else 1.0
        yield ("supply", name, "resistance"), format_quantity(ohms, RESISTANCE), name


def _return_stroke(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    for name, surge in things(tree, "surges"):
        if "strikes ground at" in surge.entries and "return stroke speed" not in surge.entries:
            yield ("surges", name, "return stroke speed"), "150 m/us", name


def _insulation_level(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    if "insulation level" in tree.entries:
        return
    for _, thing in things(tree, "equipment"):
        for limits in thing.entries.values():
            level = limits.entries.get("flashover") if isinstance(limits, Mapping) else None
            if isinstance(level, Scalar) and ("+" in level.text or "±" in level.text):
                yield ("insulation level",), "nominal", ""
                return


def _flashover(tree: Mapping) -> Iterator[tuple[Path, str, str]]:
    for name, thing in things(tree, "equipment"):
        for pair, limits in thing.entries.items():
            if not isinstance(limits, Mapping) or "flashover" in limits.entries:
                continue
            withstand = _number(limits, "withstand", VOLTAGE)
            if withstand:
                level = format_quantity(2 * withstand, VOLTAGE)
                yield ("equipment", name, pair, "flashover"), level, name


ASSUMPTIONS = (
    Assumption(
        "asked margin 25 %: peak at most 0.8 of withstand (IEC 60364-5-53 cl. 534, from memory)",
        _top("asked margin", "25 %"),
    ),
    Assumption(
        "arresters at their declared level, the highest the card allows",
        _top("arrester tolerance", "declared"),
    ),
    Assumption("surges of positive polarity", _top("polarity", "positive")),
    Assumption("duct 50 mm wide inside (common practice, no source)", _duct_width),
    Assumption("arresters wired as a tee", _in_each("arresters", "wiring", "tee")),
    Assumption(lead_assumptions.LEADS, lead_assumptions.inductance),
    Assumption(lead_assumptions.HALVES, lead_assumptions.coupling),
    Assumption(lead_assumptions.FUSES, lead_assumptions.fuse),
    Assumption("strips in the soil joined at their end", _strip_joined),
    Assumption(
        "inductance along electrodes from their shape, leaking evenly: of a straight wire without"
        " return (Rosa 1908, Sunde 1949), of a rod after Grcev and Popov 2005 (from memory)",
        _earth_inductance,
    ),
    Assumption(modules.BY_COEFFICIENT, modules.by_coefficient),
    Assumption(modules.BY_TABLE, modules.by_table),
    Assumption("array lit, at its open-circuit voltage", _in_each("supply", "state", "lit")),
    Assumption(
        "array conducts beyond 0 V and its open-circuit voltage through 4 % of Voc/Isc (a guess)",
        _array_resistance,
    ),
    Assumption(modules.TO_FRAME, modules.capacitance_to_frame),
    Assumption(modules.WET, modules.surface),
    Assumption(modules.FRAMES, modules.frame_capacitance),
    Assumption(modules.POWER_OF, modules.power),
    Assumption(
        "return stroke climbs its channel at 150 m/us, half the speed of light, the upper end of"
        " what is usual (Rakov and Uman 2003, from memory)",
        _return_stroke,
    ),
    Assumption(
        "insulation fires at its nominal level, the middle of its spread", _insulation_level
    ),
    Assumption(
        "insulation flashes over at twice its withstand where no level is given (a guess)",
        _flashover,
    ),
)
